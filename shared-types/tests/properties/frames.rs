//! Frames: what is written comes out, and noise does no harm.

use glueday_types::frame::{Collector, FRAME_END, FrameError};
use glueday_types::wire::{
    CHUNK_LEN, Message, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX, Reply, Request, read,
};
use proptest::collection::vec;
use proptest::prelude::*;

/// What a collector gives for these bytes.
fn collected<const N: usize>(bytes: &[u8]) -> Vec<Result<Vec<u8>, FrameError>> {
    let mut collector = Collector::<N>::new();
    let mut found = Vec::new();
    for byte in bytes {
        if let Some(frame) = collector.push(*byte) {
            found.push(frame.map(<[u8]>::to_vec));
        }
    }
    found
}

/// COBS taken apart as the paper of Cheshire and Baker says: a code, and code - 1 bytes; then a zero,
/// unless the code was FF or the data end.
fn uncobs(mut bytes: &[u8]) -> Option<Vec<u8>> {
    let mut data = Vec::new();
    while let Some((code, rest)) = bytes.split_first() {
        let (run, rest) = rest.split_at_checked(usize::from(*code).checked_sub(1)?)?;
        data.extend_from_slice(run);
        if *code != 0xFF && !rest.is_empty() {
            data.push(0);
        }
        bytes = rest;
    }
    Some(data)
}

fn chunk(number: u16, bytes: &[u8]) -> Vec<u8> {
    let reply = Reply::Chunk { block: 5, offset: 64, bytes };
    Message::new(number, reply).write(&mut [0; REPLY_FRAME_LEN_MAX]).unwrap().to_vec()
}

/// Bytes with runs without a zero around the lengths at which COBS changes its code.
fn chunk_bytes() -> impl Strategy<Value = Vec<u8>> {
    let run = (prop_oneof![0..8_usize, 240..260_usize], 0..3_usize)
        .prop_map(|(run, zeros)| [vec![0x55; run], vec![0; zeros]].concat());
    prop_oneof![vec(any::<u8>(), 0..=CHUNK_LEN), vec(run, 0..4).prop_map(|runs| runs.concat()),]
}

proptest! {
    #[test]
    fn chunks_come_out_of_their_frames(bytes in chunk_bytes(), number: u16) {
        let frame = chunk(number, &bytes);
        prop_assert_eq!(frame.iter().position(|byte| *byte == FRAME_END), Some(frame.len() - 1));
        let found = collected::<REPLY_FRAME_LEN_MAX>(&frame);
        prop_assert_eq!(found.len(), 1);
        let payload = found[0].as_ref().unwrap();
        let message = read::<Reply<'_>>(payload).unwrap();
        prop_assert_eq!(message.number, number);
        prop_assert_eq!(message.body, Reply::Chunk { block: 5, offset: 64, bytes: &bytes });

        let data = uncobs(&frame[..frame.len() - 1]).unwrap();
        prop_assert_eq!(&data[..data.len() - 4], &payload[..]);
        let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(payload);
        prop_assert_eq!(&data[data.len() - 4..], crc.to_le_bytes());
    }

    #[test]
    fn frames_come_out_behind_noise_and_an_end(
        noise in vec(any::<u8>(), 0..100),
        bytes in vec(any::<u8>(), 0..30),
    ) {
        let stream = [&noise[..], &[FRAME_END], &chunk(1, &bytes), &chunk(2, &bytes)].concat();
        let found = collected::<REPLY_FRAME_LEN_MAX>(&stream);
        let numbers: Vec<u16> = found[found.len() - 2..]
            .iter()
            .map(|frame| read::<Reply<'_>>(frame.as_ref().unwrap()).unwrap().number)
            .collect();
        prop_assert_eq!(numbers, [1, 2]);
    }

    #[test]
    fn any_bytes_give_at_most_one_frame_for_each_end(bytes in vec(any::<u8>(), 0..3000)) {
        let ends = bytes.iter().filter(|byte| **byte == FRAME_END).count();
        for found in [
            collected::<REPLY_FRAME_LEN_MAX>(&bytes),
            collected::<REQUEST_FRAME_LEN_MAX>(&bytes),
            collected::<1>(&bytes),
        ] {
            prop_assert!(found.len() <= ends);
        }
    }

    #[test]
    fn short_bytes_between_ends_are_taken_as_the_paper_says(bytes in vec(1..12_u8, 1..20)) {
        let stream = [&bytes[..], &[FRAME_END]].concat();
        let found = collected::<64>(&stream);
        prop_assert_eq!(found.len(), 1);
        match (&found[0], uncobs(&bytes)) {
            (Ok(payload), Some(data)) => prop_assert!(data.starts_with(payload)),
            (Err(FrameError::BadChecksum), Some(_)) | (Err(FrameError::NotCobs), None) => {}
            (found, data) => prop_assert!(false, "{:?} but {:?}", found, data),
        }
    }

    #[test]
    fn any_payload_is_a_message_or_none(payload in vec(any::<u8>(), 0..80), first in 0..4_u8) {
        for payload in [payload.clone(), [&[first], &payload[..]].concat()] {
            if let Ok(message) = read::<Request>(&payload) {
                prop_assert_eq!(message.version, 1);
            }
            if let Ok(message) = read::<Reply<'_>>(&payload) {
                prop_assert_eq!(message.version, 1);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn no_flipped_bit_alters_a_frame(bytes in vec(any::<u8>(), 0..60)) {
        let frame = chunk(9, &bytes);
        let payload = collected::<REPLY_FRAME_LEN_MAX>(&frame).remove(0).unwrap();
        for bit in 0..frame.len() * 8 {
            let mut flipped = frame.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            flipped.push(FRAME_END);
            for found in collected::<REPLY_FRAME_LEN_MAX>(&flipped).into_iter().flatten() {
                prop_assert_eq!(found, &payload[..], "bit {}", bit);
            }
        }
    }
}

#[test]
fn each_byte_of_the_checksum_counts() {
    let data = [1, 1, 1, 0x5A, 0x5A, 0x5A, 0x5A];
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&data[..3]).to_le_bytes();
    for wrong in 0..=crc.len() {
        let mut data = data;
        data[3..].copy_from_slice(&crc);
        if let Some(byte) = data.get_mut(3 + wrong) {
            *byte ^= 0x10;
        }
        // No zero is in these data: one code, and the end.
        assert!(!data.contains(&0));
        let frame = [&[8], &data[..], &[FRAME_END]].concat();
        let expected =
            if wrong == crc.len() { Ok(vec![1, 1, 1]) } else { Err(FrameError::BadChecksum) };
        assert_eq!(collected::<16>(&frame), [expected]);
    }
    // Fewer bytes than a checksum has.
    assert_eq!(collected::<16>(&[4, 1, 2, 3, 0]), [Err(FrameError::BadChecksum)]);
    assert_eq!(collected::<16>(&[9, 1, 2, 3, 0]), [Err(FrameError::NotCobs)]);
}

#[test]
fn a_frame_that_is_too_long_is_told_and_the_next_one_taken() {
    let request = Message::new(3, Request::Hello);
    let frame = request.write(&mut [0; REQUEST_FRAME_LEN_MAX]).unwrap().to_vec();
    let long = [vec![0x11; REQUEST_FRAME_LEN_MAX + 1], vec![FRAME_END], frame].concat();
    let found = collected::<REQUEST_FRAME_LEN_MAX>(&long);
    assert_eq!(found[0], Err(FrameError::TooLong));
    assert_eq!(read::<Request>(found[1].as_ref().unwrap()), Ok(request));
    assert_eq!(found.len(), 2);
    // Ends alone are nothing.
    assert_eq!(collected::<8>(&[0, 0, 0]), []);
}
