//! Readings from the CSV file of any logger.
//!
//! [`read`] takes the bytes of a file and a [`Mapping`], in which the user says what they know about
//! it, and gives rows in UTC. What the mapping leaves open is found out from the file where it is
//! unambiguous and reported in a [`Note`]; where it is not, an error asks for it and names the option
//! that answers. A file is taken whole or not at all: a cell that cannot be understood is an error
//! with line, column and fix, never a row left out. Blank lines, and lines of empty cells, hold
//! nothing and are passed over.
//!
//! The way of the data, a module each: bytes to `text`, text to the records of a `table`, the
//! `layout` of header and data, which of the `columns` is what, how `times` are written, then each
//! row's `cells`, and last all rows in `order`.

#[cfg(test)]
mod any_table;
mod cells;
mod channel;
mod columns;
mod dialect;
mod error;
mod layout;
mod mapping;
pub mod names;
mod note;
mod number;
mod order;
mod problem;
mod stamp;
mod table;
mod text;
mod times;
mod zone;

use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};

pub use channel::{Channel, Unit};
pub use dialect::{DecimalMark, Delimiter, TimeFormat};
pub use error::{ColumnAt, IntakeError, IntakeErrors, Problem, SHOWN_MAX};
pub use mapping::{ColumnRef, Mapping, MappingError, Pick, option};
pub use note::{Note, UnitFrom};
pub use zone::Zone;

use cells::{ChannelReader, Mark, MissingCodes};
use columns::{Columns, TimeColumns};
use error::Faults;
use layout::Layout;
use order::TwiceRow;
use table::Records;
use times::{RowTime, TimeReader};

/// The readings of one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// Seconds since 1970-01-01 UTC.
    pub utc_s: i64,
    /// Slab surface temperature.
    pub slab: Reading<CentiCelsius>,
    /// Air temperature.
    pub air: Reading<CentiCelsius>,
    /// Relative humidity of the air.
    pub air_rh: Reading<CentiPercent>,
    /// Radiant supply temperature.
    pub supply: Reading<CentiCelsius>,
    /// Line of the file that the row is from, counted from 1.
    pub line: u64,
}

type Readings =
    (Reading<CentiCelsius>, Reading<CentiCelsius>, Reading<CentiPercent>, Reading<CentiCelsius>);

impl Row {
    fn readings(&self) -> Readings {
        (self.slab, self.air, self.air_rh, self.supply)
    }
}

/// What was read from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Intake {
    /// In the order of time, no time twice.
    pub rows: Vec<Row>,
    /// What was found out, assumed or left out.
    pub notes: Vec<Note>,
    /// The mapping with everything decided: the same file with it gives the same rows.
    pub mapping_used: Mapping,
}

/// Reads the bytes of a CSV file; `file` is its name for messages.
///
/// # Errors
/// Everything that is wrong with the file as far as it can be told in one go, each with line, column
/// and fix.
pub fn read(bytes: &[u8], file: &str, mapping: &Mapping) -> Result<Intake, IntakeErrors> {
    read_or_faults(bytes, mapping).map_err(|faults| faults.into_errors(file))
}

fn read_or_faults(bytes: &[u8], mapping: &Mapping) -> Result<Intake, Faults> {
    let mut notes = Vec::new();
    let text = text::decode(bytes)?;
    notes.extend(text.encoding.map(|encoding| Note::Encoding { encoding }));
    let text = text.text.as_ref();

    let layout = Layout::find(text, mapping)?;
    if layout.preamble > 0 {
        let before = layout.header.as_ref().map_or(layout.first_line, |h| h.line);
        notes.push(Note::Preamble { lines: layout.preamble, before });
    }
    let columns = Columns::find(&layout, mapping, &mut notes)?;
    let format = match &mapping.time_format {
        Some(format) => format.clone(),
        None => times::find_format(text, &layout, columns.time, &mut notes)?,
    };

    let mut pass = Pass {
        times: TimeReader::new(columns.time, &format, mapping, &layout),
        channels: columns.sources.iter().cloned().map(ChannelReader::new).collect(),
        mark: Mark::new(mapping.decimal),
        codes: MissingCodes::new(&mapping.missing),
        layout: &layout,
        rows: Vec::with_capacity(text.len() / 32),
        twice: Vec::new(),
        faults: Faults::default(),
    };
    pass.run(text);
    let Pass { times, channels, mark, mut rows, mut twice, mut faults, .. } = pass;

    times.notes(mapping, &layout, &mut notes);
    notes.extend(channels.iter().flat_map(ChannelReader::notes));
    for reader in &channels {
        if let Some(problem) = reader.doubt() {
            faults.add(|| problem.at(None, layout.column(reader.source.index)));
        }
    }
    if faults.is_empty() && rows.is_empty() {
        return Err(Problem::NoRows.in_file().into());
    }
    // With rows missing for their errors, the order of the others says little.
    if faults.is_empty() {
        order::turn(&mut rows, &mut twice, &mut notes);
        let column = layout.column(columns.time.first());
        order::settle(&mut rows, &twice, times.zone_used(), &column, &mut faults, &mut notes);
    }
    if faults.is_empty() {
        order::arrange(&mut rows, &mut faults, &mut notes);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let zone = times.zone_used().cloned();
    let mapping_used = decided(mapping, &layout, &columns, mark, zone, format);
    Ok(Intake { rows, notes, mapping_used })
}

/// One pass over the data rows.
struct Pass<'a> {
    times: TimeReader<'a>,
    channels: Vec<ChannelReader>,
    mark: Mark,
    codes: MissingCodes,
    layout: &'a Layout,
    rows: Vec<Row>,
    twice: Vec<TwiceRow>,
    faults: Faults,
}

impl Pass<'_> {
    fn run(&mut self, text: &str) {
        let mut records = Records::new(text, self.layout.delimiter.byte());
        while records.advance() {
            if records.line() >= self.layout.first_line && !records.is_blank() {
                self.row(&records);
            }
        }
    }

    fn row(&mut self, record: &Records<'_>) {
        let (line, layout) = (record.line(), self.layout);
        let width = layout.width;
        if record.len() != width && (record.len() < width || !record.is_blank_from(width)) {
            self.faults.add(|| field_count(record, layout).on_line(line));
            return;
        }
        let time = self.times.read(record).unwrap_or_else(|(index, problem)| {
            self.faults.add(|| problem.at(Some(line), layout.column(index)));
            None
        });
        let utc_s = match time {
            Some(RowTime::At(utc_s)) => utc_s,
            Some(RowTime::Twice { first, second, local_s }) => {
                self.twice.push(TwiceRow { row: self.rows.len(), first, second, local_s });
                first
            }
            // An error has been told, so that no row will be used.
            None => 0,
        };
        // Filled in place: a copy right after the writes would wait for them.
        let row = self.rows.push_mut(Row {
            utc_s,
            slab: Err(Absent::NotFitted),
            air: Err(Absent::NotFitted),
            air_rh: Err(Absent::NotFitted),
            supply: Err(Absent::NotFitted),
            line,
        });
        for reader in &mut self.channels {
            let index = reader.source.index;
            let cell = record.field(index).unwrap_or_default();
            if let Err(problem) = reader.read(cell, &mut self.mark, &self.codes, row) {
                self.faults.add(|| problem.at(Some(line), layout.column(index)));
            }
        }
    }
}

fn field_count(record: &Records<'_>, layout: &Layout) -> Problem {
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

fn decided(
    given: &Mapping,
    layout: &Layout,
    columns: &Columns,
    mark: Mark,
    zone: Option<Zone>,
    format: TimeFormat,
) -> Mapping {
    let number = |index: usize| ColumnRef::Number(index + 1);
    let (date, time) = match columns.time {
        TimeColumns::One(time) => (None, time),
        TimeColumns::DateAndTime { date, time } => (Some(number(date)), time),
    };
    let mut out = Mapping {
        date,
        time: Some(number(time)),
        time_format: Some(format),
        zone,
        delimiter: Some(layout.delimiter),
        decimal: mark.mark,
        first_row: Some(layout.first_line),
        missing: given.missing.clone(),
        slab: Pick::NotFitted,
        air: Pick::NotFitted,
        rh: Pick::NotFitted,
        supply: Pick::NotFitted,
    };
    for source in &columns.sources {
        let pick = Pick::From { column: number(source.index), unit: Some(source.unit) };
        out.set_pick(source.channel, pick);
    }
    out
}
