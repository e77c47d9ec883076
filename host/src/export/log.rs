//! The entries of a log in the order in which they were written, each with its time.
//!
//! A [`crate::history::History`] keeps what a verdict needs; here every entry comes with the boot and the
//! seconds since boot that the logger wrote, dated or not.

use std::collections::BTreeMap;

use crate::history::{Anchor, BootClock};
use glueday_types::Entry;
use glueday_types::block::{Item, Reader};

/// A log to be read entry by entry.
#[derive(Clone, Debug)]
pub struct Log<'a> {
    blocks: Vec<&'a [u8]>,
    clocks: BTreeMap<u32, BootClock>,
}

/// An entry of the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Logged {
    /// Number of the boot in which it was written.
    pub boot: u32,
    /// Seconds since that boot.
    pub at_s: u32,
    /// Nominal sampling interval behind the entry, in seconds.
    pub interval_s: u16,
    /// The entry.
    pub entry: Entry,
    /// UTC in seconds since 1970-01-01; `None` when no clock sync dates the boot.
    pub time_s: Option<i64>,
    /// How far that may be off, in seconds.
    pub uncertainty_s: Option<f64>,
}

impl<'a> Log<'a> {
    /// Finds the clock syncs of a log. `blocks` are in the order of their numbers.
    ///
    /// Never fails: what cannot be read is passed over here, and listed by [`crate::history::build`].
    #[must_use]
    pub fn new(blocks: impl IntoIterator<Item = &'a [u8]>) -> Self {
        let blocks: Vec<&[u8]> = blocks.into_iter().collect();
        let mut syncs: BTreeMap<u32, Vec<Anchor>> = BTreeMap::new();
        for (boot, _, entry) in raw(&blocks) {
            if let Entry::ClockSet { at_s, utc_s } = entry {
                syncs.entry(boot).or_default().push(Anchor { at_s, utc_s });
            }
        }
        let clocks = syncs.iter().map(|(boot, syncs)| (*boot, BootClock::new(*boot, syncs).0));
        Self { clocks: clocks.collect(), blocks }
    }

    /// The entries.
    pub fn entries(&self) -> impl Iterator<Item = Logged> {
        raw(&self.blocks).map(|(boot, interval_s, entry)| {
            let (clock, at_s) = (self.clocks.get(&boot), entry.at_s());
            Logged {
                boot,
                at_s,
                interval_s,
                entry,
                time_s: clock.and_then(|clock| clock.utc_s(at_s)),
                uncertainty_s: clock.and_then(|clock| clock.uncertainty_s(at_s)),
            }
        })
    }

    /// Time of the last dated sample, in seconds of UTC.
    #[must_use]
    pub fn last_s(&self) -> Option<i64> {
        let samples = self.entries().filter(|logged| matches!(logged.entry, Entry::Sample(_)));
        samples.filter_map(|logged| logged.time_s).max()
    }
}

/// Boot, interval and entry, from one block after the other.
fn raw(blocks: &[&[u8]]) -> impl Iterator<Item = (u32, u16, Entry)> {
    blocks.iter().filter_map(|bytes| Reader::new(bytes).ok()).flat_map(|mut reader| {
        std::iter::from_fn(move || {
            loop {
                match reader.next()? {
                    Item::Entry { boot, entry, .. } => {
                        return Some((boot, reader.cursor().interval_s(), entry));
                    }
                    Item::Unknown { .. } | Item::Damaged { .. } => {}
                }
            }
        })
    })
}
