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
//! row's `cells` in a `pass`, and last all rows in `order`. What most files are made of takes a quick
//! way: `pieces` of a text, on all cores, line by `usual` line.

#[cfg(test)]
mod any_table;
#[cfg(test)]
mod any_way;
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
mod pass;
mod pieces;
mod problem;
mod stamp;
mod table;
mod text;
mod times;
mod usual;
mod zone;

use glueday_types::{CentiCelsius, CentiPercent, Reading};

pub use channel::{Channel, Unit};
pub use dialect::{DecimalMark, Delimiter, TimeFormat};
pub use error::{ColumnAt, IntakeError, IntakeErrors, Problem, SHOWN_MAX};
pub use mapping::{ColumnRef, Mapping, MappingError, Pick, option};
pub use note::{Note, UnitFrom};
pub use zone::Zone;

use cells::{ChannelReader, Mark};
use columns::{Columns, TimeColumns};
use error::Faults;
use layout::Layout;
use pass::{Pass, Plan};

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
    read_in(bytes, mapping, &Way::Quick).map_err(|faults| faults.into_errors(file))
}

/// How the rows of a file are read. All that comes of it is the same.
enum Way {
    /// In the quick way where that can be, else in the other.
    Quick,
    /// Record by record.
    #[cfg(test)]
    Slow,
    /// As [`Way::Quick`], in pieces that begin behind the lines in which these bytes of the text lie.
    #[cfg(test)]
    Cut(Vec<usize>),
}

fn read_in(bytes: &[u8], mapping: &Mapping, way: &Way) -> Result<Intake, Faults> {
    let mut notes = Vec::new();
    let text = text::decode(bytes)?;
    notes.extend(text.encoding.map(|encoding| Note::Encoding { encoding }));
    let (text, has) = (text.text.as_ref(), text.has);

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

    let plan = Plan::new(&layout, &columns, &format, mapping);
    let quick = match way {
        Way::Quick => pieces::read(&plan, text, has),
        #[cfg(test)]
        Way::Slow => None,
        #[cfg(test)]
        Way::Cut(cuts) => pieces::read_cut(&plan, text, has, cuts),
    };
    let pass = quick.unwrap_or_else(|| {
        let mut pass = Pass::new(&plan, text.len() / 32);
        pass.run(text);
        pass
    });
    let Pass { times, channels, mark, mut rows, mut twice, mut faults, is_rising, .. } = pass;

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
    if faults.is_empty() && !is_rising {
        order::turn(&mut rows, &mut twice, &mut notes);
    }
    if faults.is_empty() && !twice.is_empty() {
        let column = layout.column(columns.time.first());
        order::settle(&mut rows, &twice, times.zone_used(), &column, &mut faults, &mut notes);
    }
    if faults.is_empty() && !(is_rising && twice.is_empty()) {
        order::arrange(&mut rows, &mut faults, &mut notes);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let zone = times.zone_used().cloned();
    let mapping_used = decided(mapping, &layout, &columns, mark, zone, format);
    Ok(Intake { rows, notes, mapping_used })
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
