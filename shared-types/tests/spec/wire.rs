//! Section 4: each frame, from the values that the text gives.

use crate::examples::{assert_bytes, bytes};
use crate::log::{LOGGER, header, sample};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    Attestation, Identity, Message, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request, Status, read,
};
use glueday_types::{Absent, MarkKind, digest};

const START: [u8; 16] = *b"GlDy\x01\x04\x58\x02exampleA";

/// Name, message number and request of each example.
pub(crate) fn requests() -> impl Iterator<Item = (&'static str, u16, Request)> {
    [
        ("request-hello", 1, Request::Hello),
        ("request-status", 2, Request::Status),
        ("request-blocks", 3, Request::Blocks { first: 7, offset: 1024, count: 16 }),
        ("request-set-clock", 4, Request::SetClock { utc_s: 1_772_461_800 }),
        ("request-set-interval", 5, Request::SetInterval { interval_s: 300 }),
        ("request-mark", 300, Request::Mark { kind: MarkKind::GlueStarted }),
        ("request-latest", 301, Request::Latest),
        (
            "request-attest",
            302,
            Request::Attest { nonce: core::array::from_fn(|i| 0xA0 + u8::try_from(i).unwrap()) },
        ),
    ]
    .into_iter()
}

/// Name, message number and reply of each example.
pub(crate) fn replies() -> impl Iterator<Item = (&'static str, u16, Reply<'static>)> {
    let identity = Identity {
        wire_version_min: 1,
        wire_version: 1,
        format_version: 1,
        logger: LOGGER,
        firmware: (0, 1, 0),
        blocks: 1024,
        public_key: Some(core::array::from_fn(|i| u8::try_from(i).unwrap())),
    };
    let status = Status {
        boot: 5,
        uptime_s: 86_400,
        interval_s: 300,
        oldest_block: 0,
        open_block: 7,
        open_len: 284,
        entries: 2322,
        lost_entries: 0,
        resumed: 1,
        supply_mv: Some(3310),
        slab: Ok(()),
        air: Ok(()),
        supply: Err(Absent::NoAnswer),
    };
    let attestation = Attestation {
        open_block: 7,
        open_len: 284,
        boot: 5,
        uptime_s: 86_400,
        digest: digest(&[0xFF; 4096]),
        signature_r: [0x11; 32],
        signature_s: [0x22; 32],
    };
    let latest = Some(sample(300, 2134, 2087, 4520, Ok(3415)));
    let gone = Refusal::NoSuchBlock { oldest: 12, newest: 1035 };
    [
        ("reply-hello", 1, Reply::Hello(identity)),
        ("reply-status", 2, Reply::Status(status)),
        ("reply-chunk", 3, Reply::Chunk { block: 7, offset: 0, bytes: &START }),
        ("reply-blocks-end", 3, Reply::BlocksEnd { next: 7, offset: 284, more: false }),
        ("reply-done", 4, Reply::Done { boot: 5, at_s: 95 }),
        ("reply-latest", 301, Reply::Latest { boot: 5, uptime_s: 412, sample: latest }),
        ("reply-latest-none", 301, Reply::Latest { boot: 5, uptime_s: 1, sample: None }),
        ("reply-attested", 302, Reply::Attested(attestation)),
        ("reply-refused", 3, Reply::Refused(gone)),
        ("reply-refused-version", 303, Reply::Refused(Refusal::Version { min: 1, max: 1 })),
    ]
    .into_iter()
}

/// The payload of the frame in an example.
fn payload(name: &str) -> Vec<u8> {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let frame = bytes(name);
    let (end, before) = frame.split_last().unwrap();
    for byte in before {
        assert_eq!(collector.push(*byte), None, "{name}");
    }
    collector.push(*end).expect("the end of a frame").expect("a whole frame").to_vec()
}

#[test]
fn each_request_is_written_and_read_as_shown() {
    for (name, number, body) in requests() {
        let message = Message::new(number, body);
        assert_bytes(name, message.write(&mut [0; REPLY_FRAME_LEN_MAX]).unwrap());
        assert_eq!(read::<Request>(&payload(name)), Ok(message), "{name}");
    }
}

#[test]
fn each_reply_is_written_and_read_as_shown() {
    assert_eq!(header().to_bytes()[..16], START);
    for (name, number, body) in replies() {
        let message = Message::new(number, body);
        assert_bytes(name, message.write(&mut [0; REPLY_FRAME_LEN_MAX]).unwrap());
        assert_eq!(read::<Reply<'_>>(&payload(name)), Ok(message), "{name}");
    }
}
