//! From blocks to a [`History`].

use super::clock::{Anchor, BootClock};
use super::decode::{Block, Raw, Run, decode};
use super::{Damage, Damaged, Event, EventKind, History, Undated};
use glueday_types::{Entry, Header};
use std::ops::Range;

/// Decodes the blocks of one logger. `blocks` are in the order of their numbers; the last may be
/// shorter than a block, because entries are still being added to it.
///
/// Never fails: whatever cannot be read or dated is listed in the history.
#[must_use]
pub fn build<'a>(blocks: impl IntoIterator<Item = &'a [u8]>) -> History {
    let blocks: Vec<&[u8]> = blocks.into_iter().collect();
    let mut raw = decode(&blocks);
    let mut history = History { damaged: damaged(&mut raw), ..History::default() };
    let runs = dated(&mut history, &mut raw);
    history.take_samples(raw, &runs);
    history.sort();
    history
}

/// What is wrong with the blocks and with their chain, in their order.
fn damaged(raw: &mut Raw) -> Vec<Damaged> {
    let mut damaged = Vec::new();
    let mut before: Option<(Header, Option<[u8; 32]>)> = None;
    for block in &mut raw.blocks {
        let Block { header, digest, damaged: within } = block;
        match header {
            Ok(header) => {
                if let Some((before, digest)) = &before {
                    damaged.extend(broken_link(before, *digest, header));
                }
                damaged.append(within);
                before = Some((*header, *digest));
            }
            Err(error) => {
                let block = before.map_or(0, |(before, _)| before.block.wrapping_add(1));
                damaged.push(Damaged { block, what: Damage::Header(*error) });
                before = None;
            }
        }
    }
    damaged
}

/// What is wrong between a block and the next one; `digest` is `None` when the block was not whole yet.
fn broken_link(before: &Header, digest: Option<[u8; 32]>, next: &Header) -> Option<Damaged> {
    let missing = next.block.wrapping_sub(before.block).wrapping_sub(1);
    if missing > 0 {
        let first = before.block.wrapping_add(1);
        return Some(Damaged { block: first, what: Damage::Missing { blocks: missing } });
    }
    (digest != Some(next.previous))
        .then_some(Damaged { block: before.block, what: Damage::ChainBroken })
}

/// Samples in a row, and the clock that dates them.
struct Dated {
    samples: Range<usize>,
    clock: BootClock,
}

impl Dated {
    fn samples(&self) -> Range<usize> {
        self.samples.clone()
    }
}

/// The runs of samples with the clocks that date them, boot by boot. What is not a sample is dated
/// here.
fn dated(history: &mut History, raw: &mut Raw) -> Vec<Dated> {
    // Runs of one boot stay in the order of the log.
    raw.runs.sort_by_key(|run| run.boot);
    let mut dated = Vec::with_capacity(raw.runs.len());
    for runs in raw.runs.chunk_by(|a, b| a.boot == b.boot) {
        let entries = || runs.iter().flat_map(|run| &run.others);
        let syncs: Vec<Anchor> = entries()
            .filter_map(|entry| match *entry {
                Entry::ClockSet { at_s, utc_s } => Some(Anchor { at_s, utc_s }),
                _ => None,
            })
            .collect();
        let boot = runs.first().map_or(0, |run| run.boot);
        let (clock, notes) = BootClock::new(boot, &syncs);
        history.clock_notes.extend(notes);
        if syncs.is_empty() {
            history.undated.push(undated(boot, runs, &raw.at_s));
            continue;
        }
        for entry in entries() {
            history.events.extend(clock.utc_s(entry.at_s()).and_then(|s| event(s, entry)));
        }
        dated.extend(
            runs.iter().map(|run| Dated { samples: run.samples.clone(), clock: clock.clone() }),
        );
    }
    dated
}

fn undated(boot: u32, runs: &[Run], at_s: &[u32]) -> Undated {
    let of_samples =
        runs.iter().flat_map(|run| at_s.get(run.samples.clone()).unwrap_or_default()).copied();
    let of_others = runs.iter().flat_map(|run| &run.others).map(Entry::at_s);
    Undated {
        boot,
        samples: runs.iter().map(|run| run.samples.len()).sum(),
        last_at_s: of_samples.chain(of_others).max().unwrap_or(0),
    }
}

fn event(time_s: i64, entry: &Entry) -> Option<Event> {
    let kind = match *entry {
        Entry::Sample(_) => return None,
        Entry::Boot { boot, reason, .. } => EventKind::Boot { boot, reason },
        Entry::ClockSet { .. } => EventKind::ClockSet,
        Entry::Mark { kind, .. } => EventKind::Mark(kind),
        Entry::SettingsChanged { interval_s, .. } => EventKind::IntervalChanged(interval_s),
        Entry::ProbeChanged { probe, state, .. } => EventKind::ProbeChanged { probe, state },
        Entry::PowerLow { supply_mv, .. } => EventKind::PowerLow(supply_mv),
    };
    Some(Event { time_s, kind })
}

impl History {
    /// Takes the samples of the runs, in their order, each with its time; those that cannot be dated
    /// are left out.
    fn take_samples(&mut self, raw: Raw, runs: &[Dated]) {
        fn utc<'s>(raw: &'s Raw, run: &'s Dated) -> impl Iterator<Item = Option<i64>> + 's {
            run.clock.utc_of(raw.at_s.get(run.samples.clone()).unwrap_or_default())
        }
        // Nearly always every sample is dated, and in its place.
        let mut time_s = Vec::with_capacity(raw.at_s.len());
        let placed = runs.iter().all(|run| {
            let at_s = raw.at_s.get(run.samples()).unwrap_or_default();
            run.samples.start == time_s.len() && run.clock.date(at_s, &mut time_s).is_some()
        });
        if placed && time_s.len() == raw.at_s.len() {
            let Raw { interval_s, slab, air, air_rh, supply, .. } = raw;
            *self = Self {
                time_s: time_s.into(),
                interval_s: interval_s.into(),
                slab: slab.into(),
                air: air.into(),
                air_rh: air_rh.into(),
                supply: supply.into(),
                ..std::mem::take(self)
            };
            return;
        }
        let of_run =
            |run| Dated::samples(run).zip(utc(&raw, run)).filter_map(|(i, s)| Some((i, s?)));
        let (order, time_s): (Vec<usize>, Vec<i64>) = runs.iter().flat_map(of_run).unzip();
        *self = Self {
            time_s: time_s.into(),
            interval_s: super::pick(&raw.interval_s, &order),
            slab: super::pick(&raw.slab, &order),
            air: super::pick(&raw.air, &order),
            air_rh: super::pick(&raw.air_rh, &order),
            supply: super::pick(&raw.supply, &order),
            ..std::mem::take(self)
        };
    }
}
