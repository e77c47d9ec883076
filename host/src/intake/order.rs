//! Rows in the order of time.

use super::Row;
use super::error::{ColumnAt, Faults, Problem};
use super::note::Note;
use super::zone::{Zone, civil, offset_text};

/// A row whose local time comes twice, with both meanings in seconds UTC.
#[derive(Clone, Copy, Debug)]
pub(super) struct TwiceRow {
    pub(super) row: usize,
    pub(super) first: i64,
    pub(super) second: i64,
    pub(super) local_s: i64,
}

/// A few rows out of order are put in order; more mean that the file is not one log.
const LATE_MIN: usize = 20;
const LATE_SHARE: usize = 100;

/// Turns a file that has its newest row first.
pub(super) fn turn(rows: &mut [Row], twice: &mut [TwiceRow], notes: &mut Vec<Note>) {
    if is_strictly_rising(rows) {
        return;
    }
    let falling = rows.windows(2).filter(|w| matches!(w, [a, b] if b.utc_s < a.utc_s)).count();
    let rising = rows.windows(2).filter(|w| matches!(w, [a, b] if b.utc_s > a.utc_s)).count();
    // The night when the clock is put back is one step against the stream at most.
    if falling <= 1 || falling <= rising * 2 {
        return;
    }
    rows.reverse();
    twice.reverse();
    for one in twice {
        one.row = rows.len() - 1 - one.row;
    }
    notes.push(Note::NewestFirst);
}

/// The usual case, and worth a pass of its own.
fn is_strictly_rising(rows: &[Row]) -> bool {
    rows.is_sorted_by(|a, b| a.utc_s < b.utc_s)
}

/// Decides which of two meanings a time has, by the one step back that the rows make when the clock
/// is put back. Rows that make none or more than one are left as an error.
pub(super) fn settle(
    rows: &mut [Row],
    twice: &[TwiceRow],
    zone: Option<&Zone>,
    column: &ColumnAt,
    faults: &mut Faults,
    notes: &mut Vec<Note>,
) {
    let (mut count, mut first_line) = (0, 0);
    // One night: rows next to each other.
    for night in twice.chunk_by(|a, b| b.row == a.row + 1) {
        let back: Vec<usize> = night
            .windows(2)
            .enumerate()
            .filter(|(_, w)| matches!(w, [a, b] if b.local_s <= a.local_s))
            .map(|(i, _)| i + 1)
            .collect();
        let &[step] = back.as_slice() else {
            if let Some(one) = night.first() {
                let line = rows.get(one.row).map(|r| r.line);
                let offset = i32::try_from(one.local_s - one.second).unwrap_or(0);
                let problem = || Problem::TwoMeanings {
                    local: local_text(one.local_s),
                    zone: zone.map(ToString::to_string).unwrap_or_default(),
                    offset: offset_text(offset),
                };
                faults.add(|| problem().at(line, column.clone()));
            }
            continue;
        };
        for (i, one) in night.iter().enumerate() {
            if let Some(row) = rows.get_mut(one.row) {
                row.utc_s = if i < step { one.first } else { one.second };
                first_line = if count == 0 { row.line } else { first_line };
                count += 1;
            }
        }
    }
    if count > 0 {
        notes.push(Note::HourTwice { count, first_line });
    }
}

/// Sorts a few late rows, drops repeated ones, refuses the rest.
pub(super) fn arrange(rows: &mut Vec<Row>, faults: &mut Faults, notes: &mut Vec<Note>) {
    if is_strictly_rising(rows) {
        return;
    }
    let (mut late, mut first_line, mut worst_s) = (0, 0, 0);
    let mut newest = i64::MIN;
    for row in rows.iter() {
        if row.utc_s < newest {
            first_line = if late == 0 { row.line } else { first_line };
            late += 1;
            worst_s = worst_s.max(newest - row.utc_s);
        }
        newest = newest.max(row.utc_s);
    }
    if late > 0 {
        // Half the rows is never a few.
        if late > LATE_MIN.max(rows.len() / LATE_SHARE).min(rows.len() / 2) {
            let problem = Problem::OutOfOrder { count: late, rows: rows.len(), worst_s };
            faults.add(|| problem.on_line(first_line));
            return;
        }
        rows.sort_by_key(|r| r.utc_s);
        notes.push(Note::Sorted { count: late, first_line, worst_s });
    }
    let (mut dropped, mut first_line) = (0, u64::MAX);
    rows.dedup_by(|next, kept| {
        if next.utc_s != kept.utc_s {
            return false;
        }
        if next.readings() != kept.readings() {
            let utc = local_text(next.utc_s);
            let (line, other_line) = (next.line.max(kept.line), next.line.min(kept.line));
            faults.add(|| Problem::Conflict { other_line, utc }.on_line(line));
            return false;
        }
        dropped += 1;
        first_line = first_line.min(next.line);
        true
    });
    if dropped > 0 {
        notes.push(Note::Duplicates { count: dropped, first_line });
    }
}

/// A local time as a message shows it.
pub(super) fn local_text(local_s: i64) -> String {
    civil(local_s)
        .map_or_else(|| local_s.to_string(), |t| t.strftime("%Y-%m-%d %H:%M:%S").to_string())
}
