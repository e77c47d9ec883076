//! The blocks of a log: headers, order, chain, entries.

use super::{Fault, Open, Proof, Report};
use crate::history::{Anchor, BootClock};
use crate::record::case::Case;
use crate::record::evidence::{Evidence, Log};
use glueday_types::block::{Item, Reader};
use glueday_types::{BLOCK_LEN, Entry, Header, digest};
use std::collections::BTreeMap;

/// An entry and where it stands.
pub(super) struct Placed {
    pub(super) block: u32,
    /// Offset of its first byte in the block.
    pub(super) from: u16,
    pub(super) boot: u32,
    pub(super) at_s: u32,
}

/// What was read of a log.
#[derive(Default)]
pub(super) struct Walk {
    /// The entries in their order.
    pub(super) entries: Vec<Placed>,
    syncs: BTreeMap<u32, Vec<Anchor>>,
}

impl Walk {
    /// UTC at so many seconds of a boot; none when it was never dated.
    pub(super) fn utc_s(&self, boot: u32, at_s: u32) -> Option<i64> {
        let (clock, _) = BootClock::new(boot, self.syncs.get(&boot)?);
        clock.utc_s(at_s)
    }
}

/// What the next block has to follow on.
struct Before {
    header: Header,
    /// `None` when the block is not whole.
    digest: Option<[u8; 32]>,
    /// Number of the entry that would be next; `None` when some could not be read.
    next_entry: Option<u32>,
}

/// Goes through the blocks.
pub(super) fn check(log: &Log, report: &mut Report) -> Walk {
    let told = report.contradicted.len();
    let label = log.label();
    let mut walk = Walk::default();
    let mut before: Option<Before> = None;
    let mut first = None;
    for (index, bytes) in log.blocks.iter().enumerate() {
        let place = index + 1;
        let reader = match Reader::new(bytes) {
            Ok(reader) => reader,
            Err(error) => {
                report.contradicted.push(Fault::Header { log: label.clone(), place, error });
                before = None;
                continue;
            }
        };
        let header = *reader.header();
        if header.logger != log.logger {
            let fault = Fault::OtherLogger { log: label.clone(), place, other: header.logger };
            report.contradicted.push(fault);
            before = None;
            continue;
        }
        let _ = first.get_or_insert(header);
        report.contradicted.extend(link(&label, before.as_ref(), &header));
        let next_entry = entries(&label, reader, &mut walk, report);
        let digest = (bytes.len() >= BLOCK_LEN).then(|| digest(bytes));
        before = Some(Before { header, digest, next_entry });
    }
    for copy in &log.other_copies {
        report.open.push(Open::OtherCopy { log: label.clone(), block: copy.number });
    }
    undated(&label, &walk, report);
    if let (Some(first), Some(last)) = (first, before) {
        if first.block > 0 {
            report.open.push(Open::BlocksBefore { log: label.clone(), first: first.block });
        }
        if report.contradicted.len() == told {
            report.proven.push(Proof::Chain {
                log: label,
                first: first.block,
                last: last.header.block,
                entries: walk.entries.len(),
            });
        }
    }
    walk
}

/// What is wrong between a block and the one before it.
fn link(label: &str, before: Option<&Before>, next: &Header) -> Option<Fault> {
    let log = label.to_owned();
    let Some(before) = before else {
        let follows = next.block == 0 && next.previous != [0; 32];
        return follows.then_some(Fault::Before { log });
    };
    let block = before.header.block;
    if next.block <= block {
        return Some(Fault::Order { log, block: next.block, before: block });
    }
    let blocks = next.block - block - 1;
    if blocks > 0 {
        return Some(Fault::BlocksMissing { log, first: block + 1, blocks });
    }
    if before.digest != Some(next.previous) {
        return Some(Fault::Chain { log, block });
    }
    let found = before.next_entry.filter(|found| *found != next.first_entry)?;
    Some(Fault::EntryNumber { log, block: next.block, said: next.first_entry, found })
}

/// Reads the entries of a block, and gives the number of the next one.
fn entries(
    label: &str,
    mut reader: Reader<'_>,
    walk: &mut Walk,
    report: &mut Report,
) -> Option<u32> {
    let block = reader.header().block;
    let log = || label.to_owned();
    let (mut unknown, mut whole) = (0, true);
    loop {
        let from = reader.cursor().offset();
        match reader.next() {
            Some(Item::Entry { boot, entry, .. }) => {
                if let Entry::ClockSet { at_s, utc_s } = entry {
                    walk.syncs.entry(boot).or_default().push(Anchor { at_s, utc_s });
                }
                walk.entries.push(Placed { block, from, boot, at_s: entry.at_s() });
            }
            Some(Item::Unknown { .. }) => unknown += 1,
            Some(Item::Damaged { from, to }) => {
                whole = false;
                report.open.push(Open::Damaged { log: log(), block, from, to });
            }
            None => break,
        }
    }
    if unknown > 0 {
        report.open.push(Open::UnknownEntries { log: log(), block, entries: unknown });
    }
    whole.then(|| reader.cursor().number())
}

/// Boots that nothing dates.
fn undated(label: &str, walk: &Walk, report: &mut Report) {
    let mut boots = BTreeMap::<u32, usize>::new();
    for entry in walk.entries.iter().filter(|entry| !walk.syncs.contains_key(&entry.boot)) {
        *boots.entry(entry.boot).or_default() += 1;
    }
    let open = |(boot, entries)| Open::Undated { log: label.to_owned(), boot, entries };
    report.open.extend(boots.into_iter().map(open));
}

/// Rooms without a log, and logs without a room.
pub(super) fn rooms(evidence: &Evidence, case: &Case, report: &mut Report) {
    let mut used = Vec::new();
    for (room, _) in &case.rooms {
        match room.logger.as_ref().and_then(|reference| evidence.log(reference)) {
            Some(log) => used.push(log.logger),
            None => report.open.push(Open::NoLog { room: room.name.clone() }),
        }
    }
    for log in evidence.logs.iter().filter(|log| !used.contains(&log.logger)) {
        report.open.push(Open::LogUnused { log: log.label() });
    }
}
