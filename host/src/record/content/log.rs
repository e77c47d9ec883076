//! What is wrong with the logs: holes, undated spans, damage, restarts, clocks, other copies.

use super::verdict::first_upper;
use super::{Block, Row, Section, Table, Telling, count, row, text, wide};
use crate::assess::absent;
use crate::history::{Event, EventKind, History};
use crate::limits::LimitId;
use glueday_types::{BootReason, Probe};

/// How many rows of one kind are listed.
const ROWS_MAX: usize = 30;

impl Telling<'_> {
    pub(super) fn logs(&self) -> Section {
        let mut blocks = Vec::new();
        let mut seen = Vec::new();
        for (index, (zone, history)) in self.case.rooms.iter().enumerate() {
            let log = zone.logger.as_ref().and_then(|reference| self.evidence.log(reference));
            // One log may serve several rooms.
            if log.is_some_and(|log| seen.contains(&log.logger)) {
                continue;
            }
            seen.extend(log.map(|log| log.logger));
            blocks.push(Block::Heading(match log {
                Some(log) => format!("Log of {}", log.label()),
                None => format!("Room {}: no log", zone.name),
            }));
            let notes = self.assessment.zones.get(index).map_or(&[][..], |z| &z.log_notes);
            let mut notes: Vec<String> =
                notes.iter().map(|note| first_upper(&self.prose(note)) + ".").collect();
            if log.is_none() {
                notes.push("Without a log nothing that needs one can be met.".to_owned());
            }
            for copy in log.iter().flat_map(|log| &log.other_copies) {
                notes.push(format!(
                    "Block {} was seen in another version on {}. The first is used; both are in \
                     this file.",
                    copy.number,
                    self.both_clocks(copy.seen_s)
                ));
            }
            if let Some(original) = log.and_then(|log| log.original.as_ref()) {
                notes.push(format!(
                    "Imported from the file {}, which is in this record as it was.",
                    original.file_name
                ));
            }
            self.gaps(history, &mut blocks);
            // What an imported file has of these was made when it was read.
            if log.is_none_or(|log| log.original.is_none()) {
                self.events(history, &mut blocks);
            }
            if notes.is_empty() {
                let text = "Nothing else: every block can be read, follows on the one before, and \
                            is dated; there is one version of each.";
                blocks.push(Block::Text(text.to_owned()));
            } else {
                blocks.push(Block::List(notes));
            }
        }
        Section { heading: "The state of the logs".to_owned(), blocks }
    }

    /// Holes of the log up to the time asked about, the longest ones in order of time.
    fn gaps(&self, history: &History, blocks: &mut Vec<Block>) {
        let gap_max_h = self.case.limits.value(LimitId::GapMax).unwrap_or(0.0);
        #[allow(clippy::cast_possible_truncation)] // Saturates.
        let gap_max_s = (gap_max_h * 3600.0).ceil() as i64;
        let until = history.range(i64::MIN, self.case.at_s);
        let times = history.time_s.get(until).unwrap_or_default();
        let pairs = times.windows(2).filter_map(|pair| {
            let [from_s, to_s] = pair else { return None };
            Some((*from_s, *to_s))
        });
        let tail = times.last().map(|last_s| (*last_s, self.case.at_s));
        let is_gap = |(from_s, to_s): &(i64, i64)| to_s - from_s > gap_max_s;
        let mut gaps: Vec<(i64, i64)> = pairs.chain(tail).filter(is_gap).collect();
        let all = gaps.len();
        let limit = self.show(crate::limits::LimitUnit::Hours, gap_max_h);
        if all == 0 {
            if !times.is_empty() {
                blocks.push(Block::Text(format!("No gap is longer than {limit}.")));
            }
            return;
        }
        gaps.sort_by_key(|(from_s, to_s)| from_s - to_s);
        gaps.truncate(ROWS_MAX);
        gaps.sort_unstable();
        let rows: Vec<Row> = gaps
            .iter()
            .map(|(from_s, to_s)| {
                #[allow(clippy::cast_precision_loss)] // Far below an hour.
                let hours = (to_s - from_s) as f64 / 3600.0;
                let long = self.show(crate::limits::LimitUnit::Hours, hours);
                row([self.local(*from_s), self.local(*to_s), long])
            })
            .collect();
        let mut head = format!("{} longer than {limit}", count(all, "gap"));
        if all > rows.len() {
            head.push_str(&format!("; the longest {} are", rows.len()));
        }
        blocks.push(Block::Text(head + ":"));
        let columns = vec![text("Last reading before"), text("Next reading"), wide("Long")];
        blocks.push(Block::Table(Table { columns, rows }));
    }

    /// Starts, faults, clock syncs and what else the logger noted.
    fn events(&self, history: &History, blocks: &mut Vec<Block>) {
        let rows: Vec<Row> = history
            .events
            .iter()
            .filter(|event| event.time_s <= self.case.at_s)
            .map(|event| row([self.local(event.time_s), happened(event)]))
            .collect();
        if rows.is_empty() {
            return;
        }
        let all = rows.len();
        let mut rows = rows;
        let mut head = "What the logger noted beside its readings:".to_owned();
        if all > ROWS_MAX {
            rows.drain(..all - ROWS_MAX);
            head =
                format!("What the logger noted beside its readings, the last {ROWS_MAX} of {all}:");
        }
        blocks.push(Block::Text(head));
        blocks.push(Block::Table(Table { columns: vec![text("When"), wide("What")], rows }));
    }
}

/// An event in words.
fn happened(event: &Event) -> String {
    match event.kind {
        EventKind::Boot { boot, reason } => {
            let reason = match reason {
                BootReason::PowerOn => "power came on",
                BootReason::Watchdog => "the watchdog ended a hang",
                BootReason::BrownOut => "the supply voltage had fallen too low",
                BootReason::Restart => "it restarted itself",
                BootReason::ResetPin => "its reset pin was pulled",
                BootReason::Unknown => "the board cannot tell why",
            };
            format!("start {boot}: {reason}")
        }
        EventKind::ClockSet => "its clock was set by a computer".to_owned(),
        EventKind::Mark(kind) => {
            let kind = match kind {
                glueday_types::MarkKind::Button => "button pressed",
                glueday_types::MarkKind::Delivered => "wood delivered",
                glueday_types::MarkKind::BarrierRolled => "moisture barrier rolled",
                glueday_types::MarkKind::GlueStarted => "gluing starts",
                glueday_types::MarkKind::GlueFinished => "last board laid",
                glueday_types::MarkKind::Sanded => "sanded",
                glueday_types::MarkKind::HeatOn => "heat turned back up",
            };
            format!("marked: {kind}")
        }
        EventKind::IntervalChanged(interval_s) => {
            format!("reads every {interval_s} s from now on")
        }
        EventKind::ProbeChanged { probe, state } => {
            let probe = match probe {
                Probe::Slab => "slab",
                Probe::Air => "air",
                Probe::Supply => "supply",
            };
            match state {
                Ok(()) => format!("{probe} probe came back"),
                Err(reason) => format!("{probe} probe failed: {}", absent(reason)),
            }
        }
        EventKind::PowerLow(supply_mv) => {
            format!("its supply fell to {:.2} V", f64::from(supply_mv) / 1000.0)
        }
    }
}
