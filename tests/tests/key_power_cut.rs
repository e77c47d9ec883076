//! The key of a logger: made once, kept, and never replaced behind anybody's back, wherever the power
//! fails while it is made and whatever becomes of its sector later.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::print_stdout)]

use embedded_storage::nor_flash::{NorFlash, ReadNorFlash};
use glueday_firmware::key::{Key, NoKey, SEED_LEN, take_up};
use glueday_firmware::part::{Part, PartError};
use glueday_firmware::ring::{Boot, RingLog};
use glueday_tests::flash::{Cut, Failure, Outcome, Random, SECTOR_LEN, SimError, SimFlash};
use glueday_types::{BootReason, LoggerId};
use std::cell::Cell;

const ID: LoggerId = LoggerId(*b"keyTests");
const SECTOR: u32 = SECTOR_LEN as u32;
/// Sectors of the log; the key's is the one behind them.
const LOG_SECTORS: u32 = 3;
/// Bytes of the record in the sector, from the module's page.
const CHECKED: std::ops::Range<usize> = 0..44;

/// A board whose random source gives another seed each time it is asked.
struct Board<const W: usize> {
    flash: SimFlash<W>,
    draws: Cell<u8>,
}

type Start = Result<(Key, RingLogUp), Failed>;

/// Whether the log came up too.
type RingLogUp = bool;

#[derive(Debug, PartialEq)]
enum Failed {
    /// Without a key the log begins all the same.
    NoKey(NoKey, RingLogUp),
}

impl<const W: usize> Board<W> {
    fn new(flash: SimFlash<W>) -> Self {
        Self { flash, draws: Cell::new(0) }
    }

    fn log(&self) -> Part<SimFlash<W>> {
        Part::new(self.flash.handle(), 0, LOG_SECTORS * SECTOR)
    }

    fn sector(&self) -> Part<SimFlash<W>> {
        Part::new(self.flash.handle(), LOG_SECTORS * SECTOR, SECTOR)
    }

    fn seed(&self) -> [u8; SEED_LEN] {
        self.draws.set(self.draws.get() + 1);
        seed(self.draws.get())
    }

    /// What every board does when it starts.
    fn start(&self) -> Start {
        let begun = RingLog::is_begun(self.log(), ID);
        let key = take_up(&mut self.sector(), begun, || Some(self.seed()));
        let boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };
        let up = RingLog::mount(self.log(), ID, 600, boot).is_ok();
        key.map(|key| (key, up)).map_err(|why| Failed::NoKey(why, up))
    }
}

fn seed(draw: u8) -> [u8; SEED_LEN] {
    core::array::from_fn(|i| draw.wrapping_mul(37).wrapping_add((i as u8).wrapping_mul(11)))
}

fn public(draw: u8) -> [u8; 32] {
    Key::from_seed(&seed(draw)).unwrap().public()
}

fn new<const W: usize>() -> SimFlash<W> {
    SimFlash::new(LOG_SECTORS as usize + 1)
}

#[test]
fn a_key_is_made_once_and_kept() {
    fn check<const W: usize>() {
        let board = Board::new(new::<W>());
        let (key, up) = board.start().unwrap();
        assert_eq!((key.public(), up), (public(1), true));
        for _ in 0..3 {
            assert_eq!(board.start().unwrap().0.public(), public(1));
        }
        assert_eq!(board.draws.get(), 1);
        let counters = board.flash.counters();
        assert_eq!(counters.violations, 0);
    }
    check::<1>();
    check::<4>();
    check::<8>();
    check::<32>();
}

/// What is at all possible to be left of a step.
fn outcomes(unit: usize) -> Vec<Outcome> {
    let parts = [1, unit / 2, unit.saturating_sub(1), 2048, 4095];
    let firsts = parts.iter().map(|bytes| Outcome::First(*bytes));
    let lasts = parts.iter().map(|bytes| Outcome::Last(*bytes));
    let bits =
        (0..8).map(|seed| Outcome::Bits { seed, share: [40, 128, 215, 250][seed as usize % 4] });
    [Outcome::Nothing, Outcome::Done].into_iter().chain(firsts).chain(lasts).chain(bits).collect()
}

/// The power fails at every step of the first start, with every outcome, on an erased flash and on one
/// full of rubbish. Whoever saw a key before (because the log was up) finds the same one ever after;
/// and the start after the cut has a key in any case.
#[test]
fn the_power_may_fail_at_every_step_of_making_it() {
    fn check<const W: usize>(rubbish: bool) -> [u32; 3] {
        let fresh = || {
            let flash = if rubbish {
                let mut random = Random(W as u64);
                SimFlash::<W>::from_bytes((0..4 * SECTOR_LEN).map(|_| random.byte()).collect())
            } else {
                new::<W>()
            };
            Board::new(flash)
        };
        let whole = fresh();
        whole.flash.record();
        whole.start().unwrap();
        let steps = whole.flash.recorded().len() as u64;
        let (mut cuts, mut made_anew, mut kept) = (0, 0, 0);
        for after in 0..steps {
            for outcome in outcomes(W) {
                let board = fresh();
                board.flash.cut(Cut { after, outcome, failure: Failure::Power });
                let first = board.start();
                let shown = matches!(first, Ok((_, true)));
                assert!(!shown, "step {after} {outcome:?}: the power did not fail");
                board.flash.power_on();
                let context = format!("W {W}, step {after} of {steps}, {outcome:?}");
                let (key, up) = board.start().unwrap_or_else(|why| panic!("{context}: {why:?}"));
                assert!(up, "{context}");
                let draws = board.draws.get();
                // Whole after all, or of a second draw.
                assert!(key.public() == public(1) || key.public() == public(2), "{context}");
                assert_eq!(key.public() == public(1), draws == 1, "{context}");
                assert_eq!(board.start().unwrap().0.public(), key.public(), "{context}");
                assert_eq!(board.draws.get(), draws, "{context}");
                assert_eq!(board.flash.counters().violations, 0, "{context}");
                cuts += 1;
                if draws == 1 { kept += 1 } else { made_anew += 1 }
            }
        }
        [cuts, made_anew, kept]
    }
    for [cuts, made_anew, kept] in
        [check::<1>(false), check::<1>(true), check::<8>(false), check::<32>(true)]
    {
        println!("{cuts} cuts: {made_anew} keys made anew, {kept} kept");
        assert!(made_anew > 0 && kept > 0, "the cuts do not reach both sides");
    }
}

/// Each bit of the record, the sector erased, and the sector overwritten: no key, nothing written, and
/// the log goes on. Put back, it is the old key again.
#[test]
fn a_damaged_sector_is_never_replaced() {
    let whole = Board::new(new::<4>());
    whole.start().unwrap();
    let good = whole.flash.bytes();
    let at = (LOG_SECTORS * SECTOR) as usize;
    let mut wrecks: Vec<Vec<u8>> = Vec::new();
    for bit in CHECKED.start * 8..CHECKED.end * 8 {
        let mut bytes = good.clone();
        bytes[at + bit / 8] ^= 1 << (bit % 8);
        wrecks.push(bytes);
    }
    for fill in [0xFF, 0x00, 0x5A] {
        let mut bytes = good.clone();
        bytes[at..].fill(fill);
        wrecks.push(bytes);
    }
    for bytes in wrecks {
        let board = Board::new(SimFlash::<4>::from_bytes(bytes.clone()));
        assert_eq!(board.start().unwrap_err(), Failed::NoKey(NoKey::NotWhole, true));
        assert_eq!(board.draws.get(), 0);
        assert_eq!(board.flash.bytes()[at..], bytes[at..], "the sector was touched");
        let mut mended = board.flash.bytes();
        mended[at..].copy_from_slice(&good[at..]);
        let board = Board::new(SimFlash::<4>::from_bytes(mended));
        assert_eq!(board.start().unwrap().0.public(), public(1));
    }
}

/// A record of another version with a right check is somebody else's: left alone even without a log.
#[test]
fn a_newer_record_is_left_alone() {
    let board = Board::new(new::<1>());
    let mut record = [0; 44];
    record[..5].copy_from_slice(b"GlKy\x02");
    let check = glueday_types::crc32(&record[..40]).to_le_bytes();
    record[40..].copy_from_slice(&check);
    board.sector().write(0, &record).unwrap();
    let before = board.flash.bytes();
    let key = take_up(&mut board.sector(), false, || Some(seed(1)));
    assert_eq!(key.unwrap_err(), NoKey::Newer { version: 2 });
    assert_eq!(board.flash.bytes(), before);
}

/// An emptied flash is a new logger with a new key; a log that is emptied alone keeps the key.
#[test]
fn what_emptying_the_flash_does() {
    let board = Board::new(new::<1>());
    board.start().unwrap();
    board.log().erase(0, LOG_SECTORS * SECTOR).unwrap();
    assert_eq!(board.start().unwrap().0.public(), public(1));
    board.flash.handle().erase(0, (LOG_SECTORS + 1) * SECTOR).unwrap();
    assert_eq!(board.start().unwrap().0.public(), public(2));
}

/// A flash that fails, or lies, at the sector: no key, and another one is not tried once the log stands.
#[test]
fn a_flash_that_fails_gives_no_key() {
    for (after, outcome, failure) in [
        (0, Outcome::Nothing, Failure::Reported),
        (1, Outcome::Nothing, Failure::Reported),
        (9, Outcome::First(2), Failure::Reported),
        (9, Outcome::Nothing, Failure::Silent),
        (9, Outcome::Bits { seed: 3, share: 90 }, Failure::Silent),
    ] {
        let board = Board::new(new::<4>());
        board.flash.cut(Cut { after, outcome, failure });
        assert_eq!(board.start().unwrap_err(), Failed::NoKey(NoKey::Flash, true), "{after}");
        assert_eq!(board.start().unwrap_err(), Failed::NoKey(NoKey::NotWhole, true), "{after}");
    }
}

/// Without entropy nothing is written, so that the next start may do better as long as there is no log.
#[test]
fn no_entropy_no_key() {
    for nothing in [None, Some([0; SEED_LEN])] {
        let board = Board::new(new::<1>());
        let before = board.flash.bytes();
        let key = take_up(&mut board.sector(), false, || nothing);
        assert_eq!(key.unwrap_err(), NoKey::NoEntropy);
        assert_eq!(board.flash.bytes(), before);
        assert_eq!(
            take_up(&mut board.sector(), false, || Some(seed(9))).unwrap().public(),
            public(9)
        );
    }
}

/// What a log line or a panic message could show of it.
#[test]
fn nothing_shows_the_seed() {
    let key = Key::from_seed(&seed(1)).unwrap();
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    assert_eq!(format!("{key:?}"), format!("Key(public {})", hex(&public(1))));
    assert_eq!(format!("{key:#?}"), format!("{key:?}"));
    for why in [NoKey::NotWhole, NoKey::Newer { version: 2 }, NoKey::Flash, NoKey::NoEntropy] {
        assert!(!why.to_string().is_empty());
    }
}

/// A part of a flash keeps to itself.
#[test]
fn a_part_ends_where_it_ends() {
    let board = Board::new(new::<4>());
    let mut part = board.sector();
    assert_eq!(part.capacity(), SECTOR_LEN);
    assert_eq!(part.write(SECTOR - 4, &[0; 8]), Err(PartError::Outside));
    assert_eq!(part.read(SECTOR, &mut [0]), Err(PartError::Outside));
    assert_eq!(part.read(u32::MAX, &mut [0, 0]), Err(PartError::Outside));
    assert_eq!(part.erase(0, 2 * SECTOR), Err(PartError::Outside));
    assert_eq!(part.erase(SECTOR, 0), Err(PartError::Outside));
    part.write(SECTOR - 4, &[1, 2, 3, 4]).unwrap();
    assert_eq!(
        part.write(SECTOR - 4, &[0; 4]),
        Err(PartError::Flash(SimError::NotErased(4 * SECTOR_LEN - 4)))
    );
    let bytes = board.flash.bytes();
    assert_eq!(bytes[..4 * SECTOR_LEN - 4], [0xFF; 4 * SECTOR_LEN - 4]);
    assert_eq!(bytes[4 * SECTOR_LEN - 4..], [1, 2, 3, 4]);
}
