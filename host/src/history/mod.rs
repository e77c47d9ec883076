//! The log as columns over UTC: what the rest of the program looks at.
//!
//! Nothing here is stored: blocks are decoded each time, so that every verdict comes from the bytes
//! that the logger wrote.

mod build;
mod clock;
mod column;
mod decode;
mod stretch;

pub use build::build;
pub use clock::{Anchor, BootClock, ClockNote, DRIFT_PPM};
pub use column::{Cell, Column};
pub use stretch::Readings;
pub(crate) use stretch::{STRETCH, Stretch, Whole};

use glueday_types::{Absent, BootReason, CentiCelsius, CentiPercent, MarkKind, Probe, Reading};

/// By how much a log may be ahead of the computer that asks: eight weeks of drift are four minutes.
const FUTURE_TOLERANCE_S: i64 = 900;

/// All that the blocks of one logger say, in order of time.
///
/// The columns are equally long, and `time_s` never falls.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct History {
    /// UTC of each sample, in seconds since 1970-01-01.
    pub time_s: Column<i64>,
    /// Nominal sampling interval in force at each sample, in seconds.
    pub interval_s: Column<u16>,
    /// Slab surface temperature.
    pub slab: Column<Reading<CentiCelsius>>,
    /// Air temperature.
    pub air: Column<Reading<CentiCelsius>>,
    /// Air relative humidity.
    pub air_rh: Column<Reading<CentiPercent>>,
    /// Supply temperature of the heating.
    pub supply: Column<Reading<CentiCelsius>>,
    /// What else happened, in order of time.
    pub events: Vec<Event>,
    /// Spans of the log that no clock sync dates: shown, never evidence.
    pub undated: Vec<Undated>,
    /// Bytes that could not be read.
    pub damaged: Vec<Damaged>,
    /// Clock syncs that contradict each other.
    pub clock_notes: Vec<ClockNote>,
}

/// A channel of the history.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Channel {
    /// Slab surface temperature, °C.
    Slab,
    /// Air temperature, °C.
    Air,
    /// Air relative humidity, %.
    AirRh,
    /// Supply temperature, °C.
    Supply,
}

impl Channel {
    /// All channels, in the order in which they are shown.
    pub const ALL: [Self; 4] = [Self::Slab, Self::Air, Self::AirRh, Self::Supply];

    /// What the channel measures, in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Slab => "slab surface",
            Self::Air => "air",
            Self::AirRh => "air RH",
            Self::Supply => "supply",
        }
    }
}

/// Something that happened, apart from samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Event {
    /// UTC in seconds since 1970-01-01.
    pub time_s: i64,
    /// What happened.
    pub kind: EventKind,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EventKind {
    /// The logger started.
    Boot {
        /// Number of the boot.
        boot: u32,
        /// Why.
        reason: BootReason,
    },
    /// The host told the logger the time.
    ClockSet,
    /// Somebody marked the moment.
    Mark(MarkKind),
    /// The sampling interval changed to so many seconds.
    IntervalChanged(u16),
    /// A probe failed, or came back.
    ProbeChanged {
        /// Which one.
        probe: Probe,
        /// Why it has no readings, or `Ok` when it came back.
        state: Result<(), Absent>,
    },
    /// The logger's supply fell to so many millivolts.
    PowerLow(u16),
}

/// A boot without a clock sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Undated {
    /// Number of the boot.
    pub boot: u32,
    /// Samples taken in it.
    pub samples: usize,
    /// Seconds since boot of the last of its entries.
    pub last_at_s: u32,
}

/// Bytes of the log that could not be read, or blocks that are not there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damaged {
    /// Number of the block.
    pub block: u32,
    /// What is wrong with it.
    pub what: Damage,
}

/// What is wrong with a block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Damage {
    /// Bytes from one offset to another are no entries. One entry was being written when the power
    /// failed, or the bytes were changed since.
    Bytes {
        /// First byte.
        from: u16,
        /// Behind the last byte.
        to: u16,
    },
    /// The header cannot be read.
    Header(glueday_types::HeaderError),
    /// This block and those up to the next one held are missing.
    Missing {
        /// How many blocks.
        blocks: u32,
    },
    /// The digest of this block is not the one that the next block was chained to.
    ChainBroken,
    /// So many entries of a kind that this version does not know.
    UnknownEntries(u32),
}

impl History {
    /// Number of samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no dated sample.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// The value of a channel at sample `i` in °C or %, or why there is none.
    ///
    /// Beyond the end there is no sample, and so [`Absent::NoAnswer`].
    #[inline]
    pub fn value(&self, channel: Channel, i: usize) -> Result<f64, Absent> {
        let celsius = |column: &[Reading<CentiCelsius>]| {
            column.get(i).copied().unwrap_or(Err(Absent::NoAnswer)).map(CentiCelsius::celsius)
        };
        match channel {
            Channel::Slab => celsius(&self.slab),
            Channel::Air => celsius(&self.air),
            Channel::AirRh => self
                .air_rh
                .get(i)
                .copied()
                .unwrap_or(Err(Absent::NoAnswer))
                .map(CentiPercent::percent),
            Channel::Supply => celsius(&self.supply),
        }
    }

    /// The samples from `from_s` to `to_s`, both included.
    #[must_use]
    pub fn range(&self, from_s: i64, to_s: i64) -> std::ops::Range<usize> {
        let start = self.time_s.partition_point(|t| *t < from_s);
        let end = self.time_s.partition_point(|t| *t <= to_s);
        start..end.max(start)
    }

    /// First and last time, when there is any sample.
    #[must_use]
    pub fn span(&self) -> Option<(i64, i64)> {
        Some((*self.time_s.first()?, *self.time_s.last()?))
    }

    /// Takes the log for undated when it has samples from after `now_s`: whoever set the clock had a
    /// wrong one, and what it hides from the time that counts is not known. Returns the time of its
    /// last sample then. A quarter of an hour is left to clocks that drift.
    pub fn distrust_future(&mut self, now_s: i64) -> Option<i64> {
        let last_s = self.span()?.1;
        if last_s <= now_s.saturating_add(FUTURE_TOLERANCE_S) {
            return None;
        }
        *self = Self {
            undated: std::mem::take(&mut self.undated),
            damaged: std::mem::take(&mut self.damaged),
            clock_notes: std::mem::take(&mut self.clock_notes),
            ..Self::default()
        };
        Some(last_s)
    }

    pub(crate) fn push(&mut self, time_s: i64, interval_s: u16, sample: &glueday_types::Sample) {
        self.time_s.push(time_s);
        self.interval_s.push(interval_s);
        self.slab.push(sample.slab);
        self.air.push(sample.air);
        self.air_rh.push(sample.air_rh);
        self.supply.push(sample.supply);
    }

    /// Puts samples and events in order of time. Those at the same time stay in the order of the log.
    pub(crate) fn sort(&mut self) {
        self.events.sort_by_key(|event| event.time_s);
        if self.time_s.is_sorted() {
            return;
        }
        let mut order: Vec<usize> = (0..self.len()).collect();
        order.sort_by_key(|&i| self.time_s.get(i).copied());
        self.time_s = pick(&self.time_s, &order);
        self.interval_s = pick(&self.interval_s, &order);
        self.slab = pick(&self.slab, &order);
        self.air = pick(&self.air, &order);
        self.air_rh = pick(&self.air_rh, &order);
        self.supply = pick(&self.supply, &order);
    }
}

/// A column in another order.
fn pick<T: Cell>(column: &[T], order: &[usize]) -> Column<T> {
    order.iter().filter_map(|&i| column.get(i).copied()).collect::<Vec<T>>().into()
}
