//! What was found out, assumed or left out while reading: nothing of it is silent.

use std::fmt;

use super::channel::{Channel, Unit};
use super::dialect::TimeFormat;
use super::error::{ColumnAt, Cut, list};
use super::mapping::option::{COLUMN, ZONE};
use super::zone::offset_text;

/// How a unit came to be known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnitFrom {
    /// The user said so.
    User,
    /// It is written in the header.
    Header,
    /// It is written in the row under the header.
    UnitsRow,
    /// It is written after the number in the cells.
    Cells,
    /// It is written nowhere: °C or % is assumed.
    Assumed,
}

/// One thing worth telling about how a file was read.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// The text is not UTF-8.
    Encoding {
        /// Name of the encoding.
        encoding: &'static str,
    },
    /// Lines above the data, besides the header, were passed over.
    Preamble {
        /// How many lines with text.
        lines: usize,
        /// Line of the header, or of the first data row if there is none.
        before: u64,
    },
    /// A column was taken for a channel.
    Channel {
        /// The channel.
        channel: Channel,
        /// The column.
        column: ColumnAt,
        /// Its unit.
        unit: Unit,
        /// How the unit came to be known.
        unit_from: UnitFrom,
        /// The column was guessed from its name.
        guessed: bool,
        /// The user named another unit than the header does.
        header_unit: Option<Unit>,
    },
    /// The column of the times was found out.
    TimeColumn {
        /// One column, or the date and the time column.
        columns: Vec<ColumnAt>,
    },
    /// The order of day and month was settled by one date of the file.
    DateOrder {
        /// The order.
        format: TimeFormat,
        /// Line that settles it.
        line: u64,
    },
    /// The zone is what the header of the time column says.
    ZoneFromHeader {
        /// The column.
        column: ColumnAt,
        /// Seconds east of UTC.
        offset_s: i32,
    },
    /// The header of the time column states an offset, but the user gave the zone and is believed.
    ZoneOverHeader {
        /// The column.
        column: ColumnAt,
        /// The zone used.
        zone: String,
    },
    /// The zone given was not needed, because the times say their offset.
    ZoneNotUsed,
    /// Columns that nothing was read from.
    NotRead {
        /// The columns.
        columns: Vec<ColumnAt>,
    },
    /// Cells without a reading.
    Missing {
        /// The channel.
        channel: Channel,
        /// What the cells hold; empty for empty cells.
        word: String,
        /// How many.
        count: u64,
        /// Line of the first one.
        first_line: u64,
    },
    /// Parts of seconds were cut off.
    CutToSeconds {
        /// How many times.
        count: u64,
        /// Line of the first one.
        first_line: u64,
    },
    /// Times that came twice on the night when the clock was put back were told apart by row order.
    HourTwice {
        /// How many rows.
        count: usize,
        /// Line of the first one.
        first_line: u64,
    },
    /// The file has its newest row first and was turned round.
    NewestFirst,
    /// Rows earlier than one above them were put in order.
    Sorted {
        /// How many rows.
        count: usize,
        /// Line of the first one.
        first_line: u64,
        /// How far the worst of them was back, in s.
        worst_s: i64,
    },
    /// Rows with the same time and values as another were dropped.
    Duplicates {
        /// How many rows.
        count: usize,
        /// Line of the first one.
        first_line: u64,
    },
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Encoding { encoding } => write!(f, "the text is not UTF-8; read as {encoding}"),
            Self::Preamble { lines, before } => {
                write!(f, "{} above line {before} passed over", counted(*lines, "line"))
            }
            Self::Channel { channel, column, unit, unit_from, guessed, header_unit } => {
                let word = channel.word();
                let guess = if *guessed { ", going by its name" } else { "" };
                write!(f, "{word} is {column}{guess}, in {} ", unit.word())?;
                f.write_str(match unit_from {
                    UnitFrom::User => "as given",
                    UnitFrom::Header => "as its name says",
                    UnitFrom::UnitsRow => "as the row under the header says",
                    UnitFrom::Cells => "as its cells say",
                    UnitFrom::Assumed => "by assumption, as no unit is written",
                })?;
                match (header_unit, unit_from) {
                    (Some(other), _) => write!(f, "; the file itself says {}", other.word()),
                    (None, UnitFrom::Assumed) => {
                        write!(f, "; if that is wrong use {COLUMN} {word}={}[UNIT]", column.number)
                    }
                    (None, _) => Ok(()),
                }
            }
            Self::TimeColumn { columns } => write!(f, "times are from columns {}", list(columns)),
            Self::DateOrder { format, line } => {
                write!(f, "dates are read as {format}, which line {line} settles")
            }
            Self::ZoneFromHeader { column, offset_s } => {
                write!(f, "times are read at {} as {column} says", offset_text(*offset_s))
            }
            Self::ZoneOverHeader { column, zone } => {
                write!(
                    f,
                    "times are read in {zone} as given, though {column} states an offset itself"
                )
            }
            Self::ZoneNotUsed => write!(f, "{ZONE} is not used: the times say their own offset"),
            Self::NotRead { columns } => write!(f, "not read: columns {}", list(columns)),
            Self::Missing { channel, word, count, first_line } => {
                let cells =
                    if word.is_empty() { "empty".to_owned() } else { format!("\"{}\"", Cut(word)) };
                let count = counted(usize::try_from(*count).unwrap_or(usize::MAX), "cell");
                write!(f, "{}: {count} {cells}, first on line {first_line}", channel.word())
            }
            Self::CutToSeconds { count, first_line } => {
                write!(f, "{count} times cut to whole seconds, first on line {first_line}")
            }
            Self::HourTwice { count, first_line } => write!(
                f,
                "{} in the hour that comes twice when the clock is put back, told apart by their order, first on line {first_line}",
                counted(*count, "row")
            ),
            Self::NewestFirst => f.write_str("the newest row is first; the order was turned round"),
            Self::Sorted { count, first_line, worst_s } => write!(
                f,
                "{} earlier than a row above, by up to {worst_s} s, put in order; first on line {first_line}",
                counted(*count, "row")
            ),
            Self::Duplicates { count, first_line } => write!(
                f,
                "{} with the time and values of another dropped, first on line {first_line}",
                counted(*count, "row")
            ),
        }
    }
}

fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}
