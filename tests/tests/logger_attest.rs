//! The firmware's own link server signs the head of its log: what it signs is what stands on flash, at
//! any length of the open block, over torn entries, restarts and the end of a block.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use glueday::attest::{compare, verify};
use glueday_firmware::{Key, Link, Logger, Probes, Readings, Settings};
use glueday_tests::flash::{Cut, Failure, Outcome, SECTOR_LEN, SimFlash};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, Attestation, Identity, Message, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request,
};
use glueday_types::{Absent, BootReason, LoggerId, MarkKind};

const ID: LoggerId = LoggerId(*b"linkSign");
const SLOTS: usize = 4;

/// No probes: the log has boots and marks only.
struct Bare;

impl Probes for Bare {
    fn read(&mut self) -> Readings {
        let none = Absent::NotFitted;
        Readings { slab: Err(none), air: Err(none), air_rh: Err(none), supply: Err(none) }
    }
}

struct Board<const W: usize> {
    flash: SimFlash<W>,
    logger: Logger<SimFlash<W>, Bare>,
    link: Link,
    number: u16,
    now_s: u32,
}

impl<const W: usize> Board<W> {
    fn start(flash: SimFlash<W>, key: Option<Key>) -> Self {
        let settings = Settings { logger: ID, interval_s: 600, power_low_mv: None };
        let started = Logger::start(flash.handle(), Bare, &settings, 0, BootReason::PowerOn);
        let mut logger = started.unwrap();
        logger.set_key(key);
        Self { flash, logger, link: Link::new(), number: 0, now_s: 0 }
    }

    fn ask<T>(&mut self, request: Request, take: impl Fn(Reply<'_>) -> T) -> T {
        self.number += 1;
        let mut bytes = [0; 64];
        for byte in Message::new(self.number, request).write(&mut bytes).unwrap() {
            self.link.receive(*byte);
        }
        let mut out = [0; REPLY_FRAME_LEN_MAX];
        let len = self.link.next_reply(self.now_s, &mut self.logger, &mut out).unwrap();
        assert!(!self.link.has_reply());
        let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
        let (end, before) = out[..len].split_last().unwrap();
        assert!(before.iter().all(|byte| collector.push(*byte).is_none()));
        let payload = collector.push(*end).unwrap().unwrap().to_vec();
        let message: Message<Reply<'_>> = wire::read(&payload).unwrap();
        assert_eq!(message.number, self.number);
        take(message.body)
    }

    fn attest(&mut self, nonce: [u8; 16]) -> Result<Attestation, Refusal> {
        self.ask(Request::Attest { nonce }, |reply| match reply {
            Reply::Attested(attestation) => Ok(attestation),
            Reply::Refused(why) => Err(why),
            other => panic!("{other:?}"),
        })
    }

    fn hello(&mut self) -> Identity {
        self.ask(Request::Hello, |reply| match reply {
            Reply::Hello(identity) => identity,
            other => panic!("{other:?}"),
        })
    }

    /// Signed by the key that it shows, and over the bytes on flash.
    fn is_true(&mut self, nonce: [u8; 16]) -> Attestation {
        let attestation = self.attest(nonce).unwrap();
        let public = self.hello().public_key.unwrap();
        assert_eq!(verify(&public, ID, &nonce, &attestation), Ok(()));
        let slot = usize::try_from(attestation.open_block).unwrap() % SLOTS;
        let bytes = self.flash.bytes();
        assert_eq!(compare(&attestation, &bytes[slot * SECTOR_LEN..][..SECTOR_LEN]), Ok(()));
        assert_eq!(attestation.uptime_s, self.now_s);
        let status = self.logger.status(self.now_s);
        assert_eq!(
            (attestation.open_block, attestation.open_len, attestation.boot),
            (status.open_block, status.open_len, status.boot)
        );
        attestation
    }
}

fn key() -> Option<Key> {
    Key::from_seed(&[5; 32])
}

#[test]
fn what_is_signed_is_what_stands_on_flash() {
    fn check<const W: usize>() {
        let mut board = Board::start(SimFlash::<W>::new(SLOTS), key());
        let (mut lens, mut blocks) = (Vec::new(), Vec::new());
        for i in 0..3500_u32 {
            board.now_s += 7;
            board.logger.mark(board.now_s, MarkKind::Button).unwrap();
            // Around the end of a block each time.
            let near = board.logger.ring().open_len() > 4060 || board.logger.ring().open_len() < 90;
            if near || i % 40 == 0 {
                let nonce = core::array::from_fn(|at| i.to_le_bytes()[at % 4]);
                let signed = board.is_true(nonce);
                lens.push(signed.open_len);
                blocks.push(signed.open_block);
            }
        }
        assert!(lens.iter().any(|len| *len > 4080) && lens.iter().any(|len| *len < 90), "{lens:?}");
        assert!(blocks.last() > Some(&4), "{blocks:?}: the ring did not go round");
        assert_eq!(board.flash.counters().violations, 0);
    }
    check::<1>();
    check::<8>();
}

/// The log is neither changed by signing nor is more of it read than there is.
#[test]
fn signing_changes_nothing() {
    let mut board = Board::start(SimFlash::<1>::new(SLOTS), key());
    let (before, counters) = (board.flash.bytes(), board.flash.counters());
    let (a, b) = (board.attest([1; 16]).unwrap(), board.attest([1; 16]).unwrap());
    assert_eq!(a, b, "the same question at the same time");
    assert!(board.attest([2; 16]).unwrap().signature_r != a.signature_r);
    assert!(board.flash.bytes() == before);
    let after = board.flash.counters();
    assert_eq!((after.programs, after.erases), (counters.programs, counters.erases));
    assert_eq!(after.read_bytes - counters.read_bytes, 3 * u64::from(a.open_len));
}

/// A torn entry and the resume mark behind it are among the signed bytes.
#[test]
fn torn_entries_are_signed_as_they_stand() {
    let flash = SimFlash::<1>::new(SLOTS);
    let mut board = Board::start(flash.handle(), key());
    board.logger.mark(1, MarkKind::Delivered).unwrap();
    flash.cut(Cut { after: 2, outcome: Outcome::First(0), failure: Failure::Power });
    assert!(board.logger.mark(2, MarkKind::Sanded).is_err());
    flash.power_on();
    let mut board = Board::start(flash, key());
    let signed = board.is_true([3; 16]);
    assert_eq!((board.logger.ring().resumed(), signed.boot), (1, 2));
}

#[test]
fn without_key_it_refuses_and_with_a_failing_flash_too() {
    let mut board = Board::start(SimFlash::<1>::new(SLOTS), None);
    assert_eq!(board.hello().public_key, None);
    assert_eq!(board.attest([0; 16]), Err(Refusal::NoKey));
    let mut board = Board::start(SimFlash::<1>::new(SLOTS), key());
    board.is_true([1; 16]);
    // Dark: not a byte can be read.
    board.flash.cut(Cut { after: 0, outcome: Outcome::Nothing, failure: Failure::Power });
    assert!(board.logger.mark(1, MarkKind::Button).is_err());
    assert_eq!(board.attest([1; 16]), Err(Refusal::FlashFailed));
    board.flash.power_on();
    board.is_true([1; 16]);
}
