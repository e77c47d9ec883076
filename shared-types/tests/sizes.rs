//! The worst cases stay within the budgets that `lib.rs` and the logger's RAM hold to.
#![cfg(test)]

use glueday_types::cursor::PACKED_LEN_MAX;
use glueday_types::wire::{
    Attestation, CHUNK_LEN, Identity, Message, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX, Refusal,
    Reply, Request, Status,
};
use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Header, LoggerId, MarkKind,
    Probe, Sample,
};
use serde::Serialize;

const SAMPLE: Sample = Sample {
    at_s: u32::MAX,
    slab: Ok(CentiCelsius(i16::MIN)),
    air: Ok(CentiCelsius(i16::MIN)),
    air_rh: Ok(CentiPercent(u16::MAX)),
    supply: Ok(CentiCelsius(i16::MIN)),
};

fn longest_entries() -> [Entry; 7] {
    [
        Entry::Sample(SAMPLE),
        Entry::Boot {
            boot: u32::MAX,
            at_s: u32::MAX,
            reason: BootReason::Unknown,
            firmware: (255, 255, 255),
        },
        Entry::ClockSet { at_s: u32::MAX, utc_s: i64::MIN },
        Entry::Mark { at_s: u32::MAX, kind: MarkKind::HeatOn },
        Entry::SettingsChanged { at_s: u32::MAX, interval_s: u16::MAX },
        Entry::ProbeChanged { at_s: u32::MAX, probe: Probe::Supply, state: Err(Absent::EmptyCell) },
        Entry::PowerLow { at_s: u32::MAX, supply_mv: u16::MAX },
    ]
}

fn header(write_unit: u8) -> Header {
    Header {
        write_unit,
        interval_s: 600,
        logger: LoggerId([0; 8]),
        block: 0,
        boot: 1,
        first_entry: 0,
        previous: [0; 32],
    }
}

#[test]
fn no_entry_is_longer_than_a_packed_entry_may_be() {
    let lengths = longest_entries().map(|entry| {
        let packed = Cursor::start(&header(1)).pack(&entry).unwrap();
        assert!(packed.len() <= PACKED_LEN_MAX, "{entry:?}");
        packed.len()
    });
    // `check.rs` proves what the check notices up to this many bits of kind and body.
    assert_eq!(lengths.iter().max(), Some(&(184 / 8 + 2)));
    // Kind, number, varints of 5, 3 and 10 bytes, numbers of variants, CRC-16.
    assert_eq!(
        lengths,
        [
            1 + 1 + 5 + 4 * (1 + 3) + 2,
            1 + 1 + 5 + 5 + 1 + 3 + 2,
            1 + 1 + 5 + 10 + 2,
            1 + 1 + 5 + 1 + 2,
            1 + 1 + 5 + 3 + 2,
            1 + 1 + 5 + 1 + 2 + 2,
            1 + 1 + 5 + 3 + 2,
        ]
    );
}

#[test]
fn the_longest_step_is_shorter_than_a_full_sample() {
    let mut cursor = Cursor::start(&header(1));
    let first = Entry::Sample(Sample {
        at_s: 0,
        slab: Ok(CentiCelsius(0)),
        air: Ok(CentiCelsius(0)),
        air_rh: Ok(CentiPercent(32_768)),
        supply: Ok(CentiCelsius(0)),
    });
    let packed = cursor.pack(&first).unwrap();
    cursor.advance(&first, &packed);
    let farthest = Entry::Sample(Sample {
        at_s: 600,
        slab: Ok(CentiCelsius(i16::MIN)),
        air: Ok(CentiCelsius(i16::MIN)),
        air_rh: Ok(CentiPercent(0)),
        supply: Ok(CentiCelsius(i16::MAX)),
    });
    let packed = cursor.pack(&farthest).unwrap();
    assert_eq!(packed.len(), 1 + 4 * 3 + 2);
    assert!(packed[0] < 0x40);
    assert!(packed.len() < 184 / 8 + 2);
}

fn framed<B: Serialize>(body: B) -> usize {
    Message::new(u16::MAX, body).write(&mut [0; 4096]).unwrap().len()
}

#[test]
fn the_longest_request_fits_its_buffer() {
    let lengths = [
        framed(Request::Hello),
        framed(Request::Status),
        framed(Request::Blocks { first: u32::MAX, offset: u16::MAX, count: u16::MAX }),
        framed(Request::SetClock { utc_s: i64::MIN }),
        framed(Request::SetInterval { interval_s: u16::MAX }),
        framed(Request::Mark { kind: MarkKind::HeatOn }),
        framed(Request::Latest),
        framed(Request::Attest { nonce: [0xFF; 16] }),
    ];
    let longest = *lengths.iter().max().unwrap();
    // Version, number, variant, nonce, CRC-32, COBS and end. SPEC.md says 27.
    assert_eq!(longest, 1 + 3 + 1 + 16 + 4 + 2);
    assert!(longest <= REQUEST_FRAME_LEN_MAX);
}

#[test]
fn the_longest_reply_fits_its_buffer() {
    let chunk = framed(Reply::Chunk {
        block: u32::MAX,
        offset: u16::MAX,
        // No zero: the most that COBS can add.
        bytes: &[0x55; CHUNK_LEN],
    });
    let absent = Err(Absent::EmptyCell);
    let rest = [
        framed(Reply::Hello(Identity {
            wire_version_min: 255,
            wire_version: 255,
            format_version: 255,
            logger: LoggerId([0xFF; 8]),
            firmware: (255, 255, 255),
            blocks: u32::MAX,
            public_key: Some([0xFF; 32]),
        })),
        framed(Reply::Status(Status {
            boot: u32::MAX,
            uptime_s: u32::MAX,
            interval_s: u16::MAX,
            oldest_block: u32::MAX,
            open_block: u32::MAX,
            open_len: u16::MAX,
            entries: u32::MAX,
            lost_entries: u32::MAX,
            resumed: u32::MAX,
            supply_mv: Some(u16::MAX),
            slab: absent,
            air: absent,
            supply: absent,
        })),
        framed(Reply::BlocksEnd { next: u32::MAX, offset: u16::MAX, more: true }),
        framed(Reply::Done { boot: u32::MAX, at_s: u32::MAX }),
        framed(Reply::Latest { boot: u32::MAX, uptime_s: u32::MAX, sample: Some(SAMPLE) }),
        framed(Reply::Attested(Attestation {
            open_block: u32::MAX,
            open_len: u16::MAX,
            boot: u32::MAX,
            uptime_s: u32::MAX,
            digest: [0xFF; 32],
            signature_r: [0xFF; 32],
            signature_s: [0xFF; 32],
        })),
        framed(Reply::Refused(Refusal::NoSuchBlock { oldest: u32::MAX, newest: u32::MAX })),
    ];
    assert!(rest.iter().all(|len| *len < chunk), "{rest:?}");
    // Version, number, variant, block, offset, length, bytes, CRC-32; a COBS code for each 254 bytes
    // begun; the end. SPEC.md says 1049.
    let data: usize = 1 + 3 + 1 + 5 + 3 + 2 + 1024 + 4;
    assert_eq!(chunk, data + data.div_ceil(254) + 1);
    assert!(chunk <= REPLY_FRAME_LEN_MAX);
}

#[test]
fn a_buffer_that_is_too_short_is_refused_at_every_length() {
    let message = Message::new(7, Request::Attest { nonce: [0; 16] });
    let whole = message.write(&mut [0; 64]).unwrap().len();
    for len in 0..whole {
        assert_eq!(message.write(&mut vec![0; len]), None, "{len}");
    }
    assert!(message.write(&mut vec![0; whole]).is_some());
}
