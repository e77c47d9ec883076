//! One pass over the data rows of a file, or of a piece of it.

use glueday_types::Absent;

use super::Row;
use super::cells::{ChannelReader, Mark, MissingCodes};
use super::columns::Columns;
use super::dialect::TimeFormat;
use super::error::{Faults, Problem};
use super::layout::Layout;
use super::mapping::Mapping;
use super::order::TwiceRow;
use super::table::{Record, Records};
use super::times::{RowTime, TimeReader};

/// What is known of a file before its rows are read.
pub(super) struct Plan<'a> {
    pub(super) layout: &'a Layout,
    pub(super) columns: &'a Columns,
    pub(super) format: &'a TimeFormat,
    pub(super) mapping: &'a Mapping,
    pub(super) codes: MissingCodes,
}

impl<'a> Plan<'a> {
    pub(super) fn new(
        layout: &'a Layout,
        columns: &'a Columns,
        format: &'a TimeFormat,
        mapping: &'a Mapping,
    ) -> Self {
        let codes = MissingCodes::new(&mapping.missing);
        Self { layout, columns, format, mapping, codes }
    }

    pub(super) fn delimiter(&self) -> u8 {
        self.layout.delimiter.byte()
    }
}

/// What comes of the rows.
pub(super) struct Pass<'a> {
    pub(super) plan: &'a Plan<'a>,
    pub(super) times: TimeReader<'a>,
    pub(super) channels: Vec<ChannelReader>,
    pub(super) mark: Mark,
    pub(super) rows: Vec<Row>,
    pub(super) twice: Vec<TwiceRow>,
    pub(super) faults: Faults,
    /// Each row is later than the one before.
    pub(super) is_rising: bool,
}

impl<'a> Pass<'a> {
    pub(super) fn new(plan: &'a Plan<'a>, rows: usize) -> Self {
        Self {
            plan,
            times: TimeReader::new(plan.columns.time, plan.format, plan.mapping, plan.layout),
            channels: plan.columns.sources.iter().cloned().map(ChannelReader::new).collect(),
            mark: Mark::new(plan.mapping.decimal),
            rows: Vec::with_capacity(rows),
            twice: Vec::new(),
            faults: Faults::default(),
            is_rising: true,
        }
    }

    /// Reads a whole file, record by record: the way that all files can be read in.
    pub(super) fn run(&mut self, text: &str) {
        let mut records = Records::new(text, self.plan.delimiter());
        while records.advance() {
            if records.line() >= self.plan.layout.first_line && !records.is_blank() {
                self.row(&records);
            }
        }
    }

    /// Reads a record that holds something.
    pub(super) fn row(&mut self, record: &impl Record) {
        let (line, layout) = (record.line(), self.plan.layout);
        let width = layout.width;
        if record.len() != width && (record.len() < width || !record.is_blank_from(width)) {
            self.faults.add(|| field_count(record, layout).on_line(line));
            return;
        }
        let time = self.times.read(record).unwrap_or_else(|(index, problem)| {
            self.faults.add(|| problem.at(Some(line), layout.column(index)));
            None
        });
        self.push(time, line);
        let Some(row) = self.rows.last_mut() else { return };
        for reader in &mut self.channels {
            let index = reader.source.index;
            let cell = record.field(index).unwrap_or_default();
            if let Err(problem) = reader.read(cell, &mut self.mark, &self.plan.codes, row) {
                self.faults.add(|| problem.at(Some(line), layout.column(index)));
            }
        }
    }

    /// Begins a row, whose readings are still to be filled in.
    #[inline]
    pub(super) fn push(&mut self, time: Option<RowTime>, line: u64) {
        let utc_s = match time {
            Some(RowTime::At(utc_s)) => utc_s,
            Some(RowTime::Twice { first, second, local_s }) => {
                self.twice.push(TwiceRow { row: self.rows.len(), first, second, local_s });
                first
            }
            // An error has been told, so that no row will be used.
            None => 0,
        };
        self.is_rising &= self.rows.last().is_none_or(|before| before.utc_s < utc_s);
        // Filled in place: a copy right after the writes would wait for them.
        self.rows.push(Row {
            utc_s,
            slab: Err(Absent::NotFitted),
            air: Err(Absent::NotFitted),
            air_rh: Err(Absent::NotFitted),
            supply: Err(Absent::NotFitted),
            line,
        });
    }

    /// Adds what came of the piece of the file that follows. False if the two do not go together.
    pub(super) fn append(&mut self, later: Self) -> bool {
        let rows = self.rows.len();
        self.is_rising &= later.is_rising
            && match (self.rows.last(), later.rows.first()) {
                (Some(last), Some(first)) => last.utc_s < first.utc_s,
                _ => true,
            };
        self.rows.extend_from_slice(&later.rows);
        self.twice.extend(later.twice.iter().map(|one| TwiceRow { row: one.row + rows, ..*one }));
        self.times.append(&later.times);
        for (channel, later) in self.channels.iter_mut().zip(later.channels) {
            channel.append(later);
        }
        self.mark.append(later.mark)
    }
}

fn field_count(record: &impl Record, layout: &Layout) -> Problem {
    let last_line = record.last_line();
    let hint = if last_line > record.line() {
        format!(" A quotation mark on this line is closed only on line {last_line}, or never.")
    } else if let Some(header) = &layout.header {
        format!(" The header on line {} has {}.", header.line, layout.width)
    } else {
        String::new()
    };
    Problem::FieldCount { found: record.len(), expected: layout.width, hint }
}
