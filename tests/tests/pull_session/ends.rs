//! The two loggers that the campaigns have at the far end of the line: the real one, whose ring went
//! round and whose log the power broke, and the toy.

use glueday_firmware::ring::Error;
use glueday_tests::faulty_link::{FarEnd, REAL_ID, RealLogger, ToyLogger};
use glueday_tests::flash::{Cut, Failure, Outcome, SimFlash};
use glueday_types::block::{Item, Reader};
use glueday_types::{BootReason, Entry, LoggerId};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A far end whose log is known.
pub(crate) trait End: FarEnd + Sized {
    const NAME: &'static str;
    const ID: LoggerId;
    /// The number of the last frame of a pull.
    const LAST_CHUNK: usize;

    /// The same at each call, switched on just now.
    fn fresh() -> Self;

    /// What it has, the open block as far as it is written.
    fn log(&self) -> BTreeMap<u32, Vec<u8>>;

    /// When a boot began on the clock of the line; `None` when its own clock stands.
    fn began_s(&self, boot: u32) -> Option<u32>;

    /// Its entries with their boots.
    fn entries(&self) -> Vec<(u32, Entry)> {
        let log = self.log();
        let items = log.values().flat_map(|bytes| Reader::new(bytes).unwrap());
        items
            .filter_map(|item| match item {
                Item::Entry { boot, entry, .. } => Some((boot, entry)),
                _ => None,
            })
            .collect()
    }
}

const SLOTS: usize = 2;

/// Two blocks: the ring went round twice, and the power failed in the middle of an entry in
/// the block before the open one and in the open one.
fn image() -> Vec<u8> {
    let flash = SimFlash::<4>::new(SLOTS);
    let mut real = RealLogger::start(flash.handle(), 0, BootReason::PowerOn);
    let mut at_s = 0;
    let mut torn = 0;
    loop {
        at_s += 600;
        let ring = real.logger_mut().ring();
        let (block, len) = (ring.open_block(), ring.open_len());
        if (block == 3 && len > 2000 && torn == 0) || (block == 4 && len > 300 && torn == 1) {
            torn += 1;
            flash.cut(Cut { after: 1, outcome: Outcome::First(2), failure: Failure::Power });
            let failed = real.logger_mut().tick(at_s);
            assert!(matches!(failed, Err(Error::Flash { .. })), "{failed:?}");
            flash.power_on();
            real.restart(0);
            assert_eq!(real.logger_mut().ring().resumed(), 1, "the span is torn");
            at_s = 0;
        } else if block == 4 && len > 450 {
            return flash.bytes();
        } else {
            real.logger_mut().tick(at_s).unwrap();
        }
    }
}

impl End for RealLogger {
    const NAME: &'static str = "real";
    const ID: LoggerId = REAL_ID;
    const LAST_CHUNK: usize = 10;

    fn fresh() -> Self {
        static IMAGE: OnceLock<Vec<u8>> = OnceLock::new();
        let image = IMAGE.get_or_init(image).clone();
        Self::start(SimFlash::from_bytes(image), 0, BootReason::PowerOn)
    }

    fn log(&self) -> BTreeMap<u32, Vec<u8>> {
        self.blocks()
    }

    fn began_s(&self, boot: u32) -> Option<u32> {
        Self::began_s(self, boot)
    }
}

impl End for ToyLogger {
    const NAME: &'static str = "toy";
    const ID: LoggerId = LoggerId(*b"toy-0001");
    const LAST_CHUNK: usize = 14;

    fn fresh() -> Self {
        static TOY: OnceLock<ToyLogger> = OnceLock::new();
        let toy = TOY.get_or_init(|| {
            let mut toy = Self::new(Self::ID.0, 3, 4);
            toy.sample(1890, 5);
            toy
        });
        toy.clone()
    }

    fn log(&self) -> BTreeMap<u32, Vec<u8>> {
        self.blocks.clone()
    }

    fn began_s(&self, _: u32) -> Option<u32> {
        None
    }
}

#[test]
fn the_logs_are_what_the_campaigns_want() {
    let real = RealLogger::fresh();
    let log = real.log();
    assert_eq!(log.keys().copied().collect::<Vec<_>>(), [3, 4], "the ring went round");
    let torn = |block: u32| {
        let items = Reader::new(&log[&block]).unwrap();
        items.filter(|item| matches!(item, Item::Damaged { .. })).count()
    };
    assert_eq!((torn(3), torn(4)), (1, 1));
    let toy = ToyLogger::fresh().log();
    assert_eq!(toy.len(), 3);
    assert!(*toy.first_key_value().unwrap().0 > 0, "the ring went round");
    let (real_open, toy_open) = (log[&4].len(), toy.last_key_value().unwrap().1.len());
    println!("open blocks: real {real_open} B, toy {toy_open} B");
    assert!((100..1000).contains(&real_open) && (100..1000).contains(&toy_open));
}
