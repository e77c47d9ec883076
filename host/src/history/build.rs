//! From blocks to a [`History`].

use super::clock::{Anchor, BootClock};
use super::{Damage, Damaged, Event, EventKind, History, Undated};
use glueday_types::block::{Item, Reader};
use glueday_types::{BLOCK_LEN, Entry, digest};
use std::collections::BTreeMap;

/// Decodes the blocks of one logger. `blocks` are in the order of their numbers; the last may be
/// shorter than a block, because entries are still being added to it.
///
/// Never fails: whatever cannot be read or dated is listed in the history.
#[must_use]
pub fn build<'a>(blocks: impl IntoIterator<Item = &'a [u8]>) -> History {
    let mut history = History::default();
    let mut boots: BTreeMap<u32, Boot> = BTreeMap::new();
    let mut before: Option<Before> = None;
    for bytes in blocks {
        let reader = match Reader::new(bytes) {
            Ok(reader) => reader,
            Err(error) => {
                let block = before.as_ref().map_or(0, |before| before.block.wrapping_add(1));
                history.damaged.push(Damaged { block, what: Damage::Header(error) });
                before = None;
                continue;
            }
        };
        let header = *reader.header();
        if let Some(before) = before.take() {
            check_link(&mut history, &before, &header);
        }
        read_entries(&mut history, &mut boots, reader);
        before = Some(Before {
            block: header.block,
            digest: (bytes.len() >= BLOCK_LEN).then(|| digest(bytes)),
        });
    }
    date(&mut history, boots);
    history.sort();
    history
}

/// What the next block has to follow on.
struct Before {
    block: u32,
    /// `None` when the block was not whole yet.
    digest: Option<[u8; 32]>,
}

/// What was written in one boot.
#[derive(Default)]
struct Boot {
    entries: Vec<(Entry, u16)>,
    syncs: Vec<Anchor>,
}

fn check_link(history: &mut History, before: &Before, next: &glueday_types::Header) {
    let missing = next.block.wrapping_sub(before.block).wrapping_sub(1);
    if missing > 0 {
        let first = before.block.wrapping_add(1);
        history.damaged.push(Damaged { block: first, what: Damage::Missing { blocks: missing } });
    } else if before.digest != Some(next.previous) {
        history.damaged.push(Damaged { block: before.block, what: Damage::ChainBroken });
    }
}

fn read_entries(history: &mut History, boots: &mut BTreeMap<u32, Boot>, mut reader: Reader<'_>) {
    let block = reader.header().block;
    let mut unknown = 0_u32;
    while let Some(item) = reader.next() {
        match item {
            Item::Entry { boot, entry, .. } => {
                let boot = boots.entry(boot).or_default();
                if let Entry::ClockSet { at_s, utc_s } = entry {
                    boot.syncs.push(Anchor { at_s, utc_s });
                }
                boot.entries.push((entry, reader.cursor().interval_s()));
            }
            Item::Unknown { .. } => unknown = unknown.saturating_add(1),
            Item::Damaged { from, to } => {
                history.damaged.push(Damaged { block, what: Damage::Bytes { from, to } });
            }
        }
    }
    if unknown > 0 {
        history.damaged.push(Damaged { block, what: Damage::UnknownEntries(unknown) });
    }
}

/// Gives every entry its time, boot by boot.
fn date(history: &mut History, boots: BTreeMap<u32, Boot>) {
    for (number, boot) in boots {
        let (clock, notes) = BootClock::new(number, &boot.syncs);
        history.clock_notes.extend(notes);
        let mut undated = Undated { boot: number, samples: 0, last_at_s: 0 };
        for (entry, interval_s) in &boot.entries {
            match clock.utc_s(entry.at_s()) {
                Some(time_s) => place(history, time_s, *interval_s, entry),
                None => {
                    undated.samples += usize::from(matches!(entry, Entry::Sample(_)));
                    undated.last_at_s = undated.last_at_s.max(entry.at_s());
                }
            }
        }
        if boot.syncs.is_empty() {
            history.undated.push(undated);
        }
    }
}

fn place(history: &mut History, time_s: i64, interval_s: u16, entry: &Entry) {
    let kind = match *entry {
        Entry::Sample(sample) => return history.push(time_s, interval_s, &sample),
        Entry::Boot { boot, reason, .. } => EventKind::Boot { boot, reason },
        Entry::ClockSet { .. } => EventKind::ClockSet,
        Entry::Mark { kind, .. } => EventKind::Mark(kind),
        Entry::SettingsChanged { interval_s, .. } => EventKind::IntervalChanged(interval_s),
        Entry::ProbeChanged { probe, state, .. } => EventKind::ProbeChanged { probe, state },
        Entry::PowerLow { supply_mv, .. } => EventKind::PowerLow(supply_mv),
    };
    history.events.push(Event { time_s, kind });
}
