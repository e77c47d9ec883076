//! Wire version 1, as hosts and loggers in the field speak it.
//!
//! If a test here fails, the code is wrong, never the test. The payloads were worked out by hand from
//! the published wire format of postcard, the frames from the paper on COBS.

use crate::checks::frame;
use crate::v01_numbers::MARKS;
use core::fmt::Debug;
use glueday_types::frame::Collector;
use glueday_types::wire::{
    Attestation, Identity, Message, MessageError, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request,
    Status, read,
};
use glueday_types::{Absent, CentiCelsius, CentiPercent, LoggerId, MarkKind, Sample};
use serde::Serialize;

fn written<B: Serialize>(number: u16, body: B) -> Vec<u8> {
    Message::new(number, body).write(&mut [0; REPLY_FRAME_LEN_MAX]).unwrap().to_vec()
}

fn unframed(frame: &[u8]) -> Vec<u8> {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let mut found = Vec::new();
    for byte in frame {
        if let Some(payload) = collector.push(*byte) {
            found.push(payload.expect("a whole frame").to_vec());
        }
    }
    assert_eq!(found.len(), 1);
    found.remove(0)
}

/// Message 300 (AC 02) with this body.
fn payload(body: &[u8]) -> Vec<u8> {
    [&[1, 0xAC, 0x02], body].concat()
}

fn check<B: Debug + PartialEq>(
    body: B,
    bytes: &[u8],
    written: Vec<u8>,
    read: Result<Message<B>, MessageError>,
) {
    assert_eq!(written, frame(&payload(bytes)), "{body:?}");
    assert_eq!(read, Ok(Message { version: 1, number: 300, body }));
}

fn request(body: Request, bytes: &[u8]) {
    // A variant that is added fails to compile here: freeze its bytes, then let it in.
    match body {
        Request::Hello
        | Request::Status
        | Request::Blocks { .. }
        | Request::SetClock { .. }
        | Request::SetInterval { .. }
        | Request::Mark { .. }
        | Request::Latest
        | Request::Attest { .. } => {}
    }
    let received = unframed(&frame(&payload(bytes)));
    check(body, bytes, written(300, body), read(&received));
}

fn reply(body: Reply<'_>, bytes: &[u8]) {
    match body {
        Reply::Hello(_)
        | Reply::Status(_)
        | Reply::Chunk { .. }
        | Reply::BlocksEnd { .. }
        | Reply::Done { .. }
        | Reply::Latest { .. }
        | Reply::Attested(_) => {}
        Reply::Refused(refusal) => match refusal {
            Refusal::Version { .. }
            | Refusal::NotUnderstood
            | Refusal::NoSuchBlock { .. }
            | Refusal::BadValue
            | Refusal::FlashFailed
            | Refusal::NoKey => {}
        },
    }
    let received = unframed(&frame(&payload(bytes)));
    check(body, bytes, written(300, body), read(&received));
}

#[rustfmt::skip]
#[test]
fn requests() {
    request(Request::Hello, &[0]);
    request(Request::Status, &[1]);
    request(Request::Blocks { first: 70_000, offset: 4095, count: 1 }, &[
        2, // Blocks
        0xF0, 0xA2, 0x04, // first 70000
        0xFF, 0x1F, // offset 4095
        1, // count
    ]);
    request(Request::SetClock { utc_s: i64::MIN }, &[
        3, // SetClock
        0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x01, // -2^63 -> zigzag 2^64 - 1
    ]);
    request(Request::SetClock { utc_s: 1_772_461_800 }, &[
        3, // SetClock
        0xD0, 0xFB, 0xAC, 0x9A, 0x0D, // zigzag 3544923600
    ]);
    request(Request::SetInterval { interval_s: 600 }, &[
        4, // SetInterval
        0xD8, 0x04, // 600 = 4 * 128 + 0x58
    ]);
    for (kind, number) in MARKS {
        request(Request::Mark { kind }, &[5, number]);
    }
    request(Request::Latest, &[6]);
    request(Request::Attest { nonce: *b"0123456789abcdef" }, &[
        7, // Attest
        0x30, 0x31, 0x32, 0x33, 0x34, 0x35, 0x36, 0x37, // nonce, plain bytes, no length
        0x38, 0x39, 0x61, 0x62, 0x63, 0x64, 0x65, 0x66,
    ]);
}

#[rustfmt::skip]
#[test]
fn replies_of_identity_and_state() {
    let identity = Identity {
        wire_version_min: 1,
        wire_version: 2,
        format_version: 3,
        logger: LoggerId([0xA1, 0xB2, 0xC3, 0xD4, 0xE5, 0xF6, 0x07, 0x18]),
        firmware: (1, 200, 255),
        blocks: 512,
        public_key: None,
    };
    let mut bytes = vec![
        0, // Hello
        1, // oldest message version
        2, // message version
        3, // format version
        0xA1, 0xB2, 0xC3, 0xD4, 0xE5, 0xF6, 0x07, 0x18, // logger id
        1, 0xC8, 0xFF, // firmware 1.200.255
        0x80, 0x04, // 512 blocks
        0, // no key
    ];
    reply(Reply::Hello(identity), &bytes);
    bytes.pop();
    bytes.push(1); // a key
    bytes.extend([0x5A; 32]);
    reply(Reply::Hello(Identity { public_key: Some([0x5A; 32]), ..identity }), &bytes);

    let status = Status {
        boot: 5,
        uptime_s: 86_400,
        interval_s: 600,
        oldest_block: 6,
        open_block: 128,
        open_len: 4096,
        entries: 300,
        lost_entries: 7,
        resumed: 8,
        supply_mv: Some(3310),
        slab: Ok(()),
        air: Err(Absent::BusFault),
        supply: Err(Absent::NotFitted),
    };
    let bytes = [
        1, // Status
        5, // boot
        0x80, 0xA3, 0x05, // uptime 86400 = 5 * 16384 + 35 * 128
        0xD8, 0x04, // interval 600
        6, // oldest block
        0x80, 0x01, // open block 128
        0x80, 0x20, // open length 4096
        0xAC, 0x02, // entries 300
        7, // lost entries
        8, // resumed
        1, 0xEE, 0x19, // 3310 mV
        0, // slab well
        1, 4, // air BusFault
        1, 0, // supply NotFitted
    ];
    reply(Reply::Status(status), &bytes);
    reply(
        Reply::Status(Status { supply_mv: None, supply: Ok(()), ..status }),
        &[&bytes[..16], &[0, 0, 1, 4, 0]].concat(),
    );
}

#[rustfmt::skip]
#[test]
fn replies_of_the_log() {
    reply(Reply::Chunk { block: 1, offset: 64, bytes: &[0x00, 0xFF, 0x00, 0x10] }, &[
        2, // Chunk
        1, // block
        0x40, // offset 64
        4, // length
        0x00, 0xFF, 0x00, 0x10, // the bytes
    ]);
    reply(Reply::Chunk { block: 1, offset: 4096, bytes: &[] }, &[2, 1, 0x80, 0x20, 0]);
    reply(Reply::BlocksEnd { next: 128, offset: 65, more: true }, &[3, 0x80, 0x01, 0x41, 1]);
    reply(Reply::BlocksEnd { next: 0, offset: 0, more: false }, &[3, 0, 0, 0]);
    reply(Reply::Done { boot: 128, at_s: 127 }, &[4, 0x80, 0x01, 0x7F]);
    let sample = Sample {
        at_s: 300,
        slab: Ok(CentiCelsius(2134)),
        air: Err(Absent::OutOfRange),
        air_rh: Ok(CentiPercent(4520)),
        supply: Ok(CentiCelsius(-1)),
    };
    reply(Reply::Latest { boot: 2, uptime_s: 412, sample: Some(sample) }, &[
        5, // Latest
        2, // boot
        0x9C, 0x03, // uptime 412 = 3 * 128 + 0x1C
        1, // a sample
        0xAC, 0x02, // at_s 300
        0, 0xAC, 0x21, // slab 21.34
        1, 3, // air OutOfRange
        0, 0xA8, 0x23, // humidity 45.20
        0, 1, // supply -0.01
    ]);
    reply(Reply::Latest { boot: 2, uptime_s: 0, sample: None }, &[5, 2, 0, 0]);
    let attestation = Attestation {
        open_block: 1,
        open_len: 128,
        boot: 2,
        uptime_s: 3,
        digest: [0xD1; 32],
        signature_r: [0x52; 32],
        signature_s: [0x53; 32],
    };
    let head = [
        6, // Attested
        1, // open block
        0x80, 0x01, // open length 128
        2, // boot
        3, // uptime
    ];
    reply(
        Reply::Attested(attestation),
        &[&head[..], &[0xD1; 32], &[0x52; 32], &[0x53; 32]].concat(),
    );
}

#[test]
fn refusals() {
    reply(Reply::Refused(Refusal::Version { min: 1, max: 200 }), &[7, 0, 1, 200]);
    reply(Reply::Refused(Refusal::NotUnderstood), &[7, 1]);
    let gone = Refusal::NoSuchBlock { oldest: 5, newest: 128 };
    reply(Reply::Refused(gone), &[7, 2, 5, 0x80, 0x01]);
    reply(Reply::Refused(Refusal::BadValue), &[7, 3]);
    reply(Reply::Refused(Refusal::FlashFailed), &[7, 4]);
    reply(Reply::Refused(Refusal::NoKey), &[7, 5]);
}

#[rustfmt::skip]
#[test]
fn whole_frames() {
    // Code 3: two bytes and a zero. Version 1, message 1; Hello (0) is the zero.
    // Code 5: four bytes of CRC-32 up to the end.
    let hello = [0x03, 0x01, 0x01, 0x05, 0x64, 0x82, 0x98, 0xE7, 0x00];
    assert_eq!(written(1, Request::Hello), hello);
    assert_eq!(unframed(&hello), [1, 1, 0]);

    // Code 0A: no zero in version 1, message 300, Mark (5), HeatOn (6) and the CRC-32.
    let mark = [0x0A, 0x01, 0xAC, 0x02, 0x05, 0x06, 0x0E, 0xFD, 0x6F, 0x6B, 0x00];
    assert_eq!(written(300, Request::Mark { kind: MarkKind::HeatOn }), mark);
    assert_eq!(unframed(&mark), [1, 0xAC, 0x02, 5, 6]);

    // Version 1, message 2, Chunk (2), block 1, offset 64, four bytes of which the first and the
    // third are zeros, CRC-32.
    let chunk = [
        0x07, 0x01, 0x02, 0x02, 0x01, 0x40, 0x04, // up to the first zero
        0x02, 0xFF, // up to the second
        0x06, 0x10, 0x22, 0xAF, 0x1B, 0x9F, // up to the end
        0x00,
    ];
    assert_eq!(written(2, Reply::Chunk { block: 1, offset: 64, bytes: &[0, 0xFF, 0, 0x10] }), chunk);
}

#[test]
fn other_versions_and_bytes_that_do_not_fit() {
    let version = |version, number| Err(MessageError::Version { version, number });
    assert_eq!(read::<Request>(&[2, 0xAC, 0x02, 99, 1, 2]), version(2, 300));
    assert_eq!(read::<Request>(&[0, 5, 0]), version(0, 5));
    assert_eq!(read::<Request>(&[2]), version(2, 0));
    let not_understood = |number| Err(MessageError::NotUnderstood { number });
    assert_eq!(read::<Request>(&[1, 7, 8]), not_understood(7));
    assert_eq!(read::<Request>(&[1, 7, 0, 0]), not_understood(7));
    assert_eq!(read::<Request>(&[1, 7]), not_understood(7));
    assert_eq!(read::<Request>(&[]), not_understood(0));
    assert_eq!(read::<Reply<'_>>(&[1, 7, 8]).err(), not_understood(7).err());
    assert_eq!(read::<Reply<'_>>(&[1, 7, 7, 6]).err(), not_understood(7).err());
}
