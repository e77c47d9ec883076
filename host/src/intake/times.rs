//! From the time cells of a file to UTC.

use super::cells::shown;
use super::columns::TimeColumns;
use super::dialect::TimeFormat;
use super::error::{IntakeError, Problem};
use super::layout::Layout;
use super::mapping::Mapping;
use super::names::offset_in;
use super::note::Note;
use super::order::local_text;
use super::stamp::{Order, Shape, Stamp, StampError, StampReader, order, shape};
use super::table::{Record, Records};
use super::zone::{Converter, Utc, Zone, offset_text};

/// How the times of the file are written, found out from as many rows as it takes.
pub(super) fn find_format(
    text: &str,
    layout: &Layout,
    columns: TimeColumns,
    notes: &mut Vec<Note>,
) -> Result<TimeFormat, IntakeError> {
    let at = columns.first();
    let mut records = Records::new(text, layout.delimiter.byte());
    let mut unclear: Option<(u64, String)> = None;
    let mut other: Option<(u64, String)> = None;
    while records.advance() {
        let Some(cell) = records.field(at).filter(|f| !f.is_empty()) else { continue };
        if records.line() < layout.first_line {
            continue;
        }
        let format = match order(cell) {
            Order::YearFirst => TimeFormat::YearFirst,
            Order::DayFirst => TimeFormat::DayFirst,
            Order::MonthFirst => TimeFormat::MonthFirst,
            Order::Unclear | Order::ShortYear => {
                unclear.get_or_insert_with(|| (records.line(), shown(cell)));
                continue;
            }
            Order::NoDate => match shape(cell, None) {
                Some(Shape::UnixSeconds) => TimeFormat::UnixSeconds,
                Some(Shape::UnixMillis) => TimeFormat::UnixMillis,
                _ => {
                    other.get_or_insert_with(|| (records.line(), shown(cell)));
                    continue;
                }
            },
        };
        if format == TimeFormat::MonthFirst || unclear.is_some() {
            notes.push(Note::DateOrder { format: format.clone(), line: records.line() });
        }
        return Ok(format);
    }
    let column = layout.column(at);
    Err(match (unclear, other) {
        (Some((line, cell)), _) => Problem::DateOrderUnclear { cell }.at(Some(line), column),
        (None, Some((line, cell))) => {
            let format = "in any way known here".to_owned();
            let problem = match shape(cell.as_bytes(), None) {
                Some(Shape::TimeOnly) => Problem::NoDate { cell },
                _ => Problem::NotATime { cell, format },
            };
            problem.at(Some(line), column)
        }
        (None, None) => Problem::TimeMissing.at(Some(layout.first_line), column),
    })
}

/// A row's time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RowTime {
    At(i64),
    Twice { first: i64, second: i64, local_s: i64 },
}

/// Reads the time of each row.
pub(super) struct TimeReader<'m> {
    columns: TimeColumns,
    format: &'m TimeFormat,
    stamps: StampReader<'m>,
    zone: Option<Zone>,
    converter: Option<Converter>,
    needed: bool,
    told_no_zone: bool,
    cut: u64,
    cut_line: u64,
}

impl<'m> TimeReader<'m> {
    pub(super) fn new(
        columns: TimeColumns,
        format: &'m TimeFormat,
        mapping: &Mapping,
        layout: &Layout,
    ) -> Self {
        let header = header_offset(columns, layout).and_then(|(_, offset_s)| Zone::fixed(offset_s));
        let zone = mapping.zone.clone().or(header);
        Self {
            columns,
            format,
            stamps: StampReader::new(format),
            converter: zone.as_ref().map(Converter::new),
            zone,
            needed: false,
            told_no_zone: false,
            cut: 0,
            cut_line: 0,
        }
    }

    /// The zone that times without an offset were read in, if there were any.
    pub(super) fn zone_used(&self) -> Option<&Zone> {
        self.zone.as_ref().filter(|_| self.needed)
    }

    /// What stands at the front of `text` if it is a time like the one before, on the same date, and how
    /// long it is.
    #[inline]
    pub(super) fn usual(&self, text: &[u8], delimiter: u8) -> Option<(Stamp, usize)> {
        self.stamps.usual(text, delimiter)
    }

    /// What the time columns hold; `None` if that is no time.
    pub(super) fn stamp(&mut self, first: &[u8], time: &[u8]) -> Option<Stamp> {
        let is_one = matches!(self.columns, TimeColumns::One(_));
        if first.is_empty() || (time.is_empty() && !is_one) {
            return None;
        }
        if is_one { self.stamps.read(first) } else { self.stamps.read_two(first, time) }.ok()
    }

    /// The record's time; `None` if it cannot be told because no zone is known, which is told once.
    pub(super) fn read(
        &mut self,
        record: &impl Record,
    ) -> Result<Option<RowTime>, (usize, Box<Problem>)> {
        let empty = |index: usize| record.field(index).is_none_or(<[u8]>::is_empty);
        let at = self.columns.first();
        if let Some(index) = self.columns.first_empty(empty) {
            return Err((index, Problem::TimeMissing.into()));
        }
        let cell = record.field(at).unwrap_or_default();
        let stamp = match self.columns {
            TimeColumns::One(_) => self.stamps.read(cell),
            TimeColumns::DateAndTime { time, .. } => {
                self.stamps.read_two(cell, record.field(time).unwrap_or_default())
            }
        };
        let stamp = stamp.map_err(|error| (at, self.problem(error, record)))?;
        self.settle(stamp, record.line(), |times| times.shown(record))
            .map_err(|problem| (at, problem))
    }

    /// The moment that was read on a line; `shown` says what stands there.
    #[inline]
    pub(super) fn settle(
        &mut self,
        stamp: Stamp,
        line: u64,
        shown: impl FnOnce(&Self) -> String,
    ) -> Result<Option<RowTime>, Box<Problem>> {
        if stamp.cut {
            self.cut_line = if self.cut == 0 { line } else { self.cut_line };
            self.cut += 1;
        }
        let local_s = stamp.clock_s;
        if let Some(offset_s) = stamp.offset_s {
            return Ok(Some(RowTime::At(local_s - i64::from(offset_s))));
        }
        self.needed = true;
        let Some(converter) = &mut self.converter else {
            if self.told_no_zone {
                return Ok(None);
            }
            self.told_no_zone = true;
            return Err(Problem::NoZone { cell: shown(self) }.into());
        };
        match converter.utc(local_s) {
            Some(Utc::At(utc_s)) => Ok(Some(RowTime::At(utc_s))),
            Some(Utc::Twice { first, second }) => {
                Ok(Some(RowTime::Twice { first, second, local_s }))
            }
            Some(Utc::Never { before_s }) => Err(Problem::Skipped {
                local: local_text(local_s),
                zone: self.zone.as_ref().map(ToString::to_string).unwrap_or_default(),
                offset: offset_text(before_s),
            }
            .into()),
            None => Err(Problem::ClockNotSet { cell: shown(self) }.into()),
        }
    }

    /// Adds what was counted in later lines.
    pub(super) fn append(&mut self, later: &Self) {
        self.needed |= later.needed;
        if self.cut == 0 {
            self.cut_line = later.cut_line;
        }
        self.cut += later.cut;
    }

    fn shown(&self, record: &impl Record) -> String {
        let cells: Vec<&str> = self.columns.all().into_iter().map(|i| record.text(i)).collect();
        shown(cells.join(" ").as_bytes())
    }

    #[cold]
    fn problem(&self, error: StampError, record: &impl Record) -> Box<Problem> {
        let cell = self.shown(record);
        let problem = match error {
            StampError::NotATime if shape(cell.as_bytes(), None) == Some(Shape::TimeOnly) => {
                Problem::NoDate { cell }
            }
            StampError::NotATime => {
                Problem::NotATime { cell, format: format!("as {}", described(self.format)) }
            }
            StampError::NoTimeOfDay => Problem::NoTimeOfDay { cell },
            StampError::NoSuchDate => Problem::NoSuchDate { cell, format: described(self.format) },
            StampError::NoSuchTime => Problem::NoSuchTime { cell },
            StampError::ClockNotSet => Problem::ClockNotSet { cell },
        };
        problem.into()
    }

    pub(super) fn notes(&self, mapping: &Mapping, layout: &Layout, notes: &mut Vec<Note>) {
        let header = header_offset(self.columns, layout);
        match (&mapping.zone, self.needed, header) {
            (None, true, Some((index, offset_s))) => {
                notes.push(Note::ZoneFromHeader { column: layout.column(index), offset_s });
            }
            (Some(_), false, _) => notes.push(Note::ZoneNotUsed),
            (Some(zone), true, Some((index, offset_s)))
                if Zone::fixed(offset_s).as_ref() != Some(zone) =>
            {
                notes.push(Note::ZoneOverHeader {
                    column: layout.column(index),
                    zone: zone.to_string(),
                });
            }
            _ => {}
        }
        if self.cut > 0 {
            notes.push(Note::CutToSeconds { count: self.cut, first_line: self.cut_line });
        }
    }
}

impl TimeColumns {
    /// The first column that `empty` holds for.
    #[inline]
    fn first_empty(self, empty: impl Fn(usize) -> bool) -> Option<usize> {
        match self {
            Self::One(index) => Some(index).filter(|i| empty(*i)),
            Self::DateAndTime { date, time } => [date, time].into_iter().find(|i| empty(*i)),
        }
    }
}

/// The offset that a time column's header states, and the column.
fn header_offset(columns: TimeColumns, layout: &Layout) -> Option<(usize, i32)> {
    columns
        .all()
        .into_iter()
        .rev()
        .find_map(|i| offset_in(layout.name(i)).map(|offset| (i, offset)))
}

fn described(format: &TimeFormat) -> String {
    let example = match format {
        TimeFormat::YearFirst => "2020-12-18 15:15",
        TimeFormat::DayFirst => "18.12.2020 15:15",
        TimeFormat::MonthFirst => "12/18/2020 3:15 PM",
        TimeFormat::UnixSeconds => "1608304500",
        TimeFormat::UnixMillis => "1608304500000",
        TimeFormat::Pattern(pattern) => return format!("\"{pattern}\""),
    };
    format!("{format}, such as {example}")
}
