//! What the user says about a file before it is read.

use std::fmt;

use super::channel::{Channel, Unit};
use super::dialect::{DecimalMark, Delimiter, TimeFormat};
use super::zone::Zone;

/// Spellings of the command-line options that set a [`Mapping`], used in every message that names
/// one as the fix.
pub mod option {
    /// Takes `CHANNEL=COLUMN` or `CHANNEL=COLUMN[UNIT]`, see [`Mapping::assign`](super::Mapping::assign).
    pub const COLUMN: &str = "--column";
    /// Takes an IANA zone or a fixed offset, see [`Zone`](super::Zone).
    pub const ZONE: &str = "--zone";
    /// Takes a word or number that stands for no reading.
    pub const MISSING: &str = "--missing";
    /// Takes `comma`, `semicolon`, `tab` or one character.
    pub const DELIMITER: &str = "--delimiter";
    /// Takes `point` or `comma`.
    pub const DECIMAL: &str = "--decimal";
    /// Takes a [`TimeFormat`](super::TimeFormat).
    pub const TIME_FORMAT: &str = "--time-format";
    /// Takes the line number of the first data row.
    pub const FIRST_ROW: &str = "--first-row";
}

/// A column of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ColumnRef {
    /// By its name in the header; case, and a unit written after the name, may be left out.
    Name(String),
    /// By its number, counted from 1.
    Number(usize),
}

impl ColumnRef {
    /// All digits is a number, anything else a name.
    fn from_words(text: &str) -> Self {
        match text.parse::<usize>() {
            Ok(number) if text.bytes().all(|b| b.is_ascii_digit()) => Self::Number(number),
            _ => Self::Name(text.to_owned()),
        }
    }
}

impl fmt::Display for ColumnRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name(name) => f.write_str(name),
            Self::Number(number) => write!(f, "{number}"),
        }
    }
}

/// Where a channel comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Pick {
    /// From the column whose header names this channel, see [`super::names`]; not fitted if none does.
    #[default]
    Guess,
    /// From nowhere: the channel is not fitted even if a header seems to name it.
    NotFitted,
    /// From this column.
    From {
        /// The column.
        column: ColumnRef,
        /// Its unit; `None` takes the unit written in the header or the cells, else °C or %.
        unit: Option<Unit>,
    },
}

/// What the user says about a file. [`Mapping::default`] says nothing: everything is then found out
/// from the file, and what is not unambiguous there is an error that asks for it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mapping {
    /// Column with the times, or with the time of day if `date` is given too.
    pub time: Option<ColumnRef>,
    /// Column with the dates, where date and time of day are apart.
    pub date: Option<ColumnRef>,
    /// Slab surface temperature.
    pub slab: Pick,
    /// Air temperature.
    pub air: Pick,
    /// Relative humidity of the air.
    pub rh: Pick,
    /// Radiant supply temperature.
    pub supply: Pick,
    /// How the times are written.
    pub time_format: Option<TimeFormat>,
    /// Zone of times that carry no offset of their own.
    pub zone: Option<Zone>,
    /// Character between columns.
    pub delimiter: Option<Delimiter>,
    /// Character before the fractional digits.
    pub decimal: Option<DecimalMark>,
    /// Line number, counted from 1, of the first data row.
    pub first_row: Option<u64>,
    /// Words and numbers that stand for no reading, besides the empty cell and
    /// [`super::names::MISSING_WORDS`]. Numbers are compared by value, words without regard to case.
    pub missing: Vec<String>,
}

impl Mapping {
    /// Where `channel` comes from.
    #[must_use]
    pub fn pick(&self, channel: Channel) -> &Pick {
        match channel {
            Channel::Slab => &self.slab,
            Channel::Air => &self.air,
            Channel::Rh => &self.rh,
            Channel::Supply => &self.supply,
        }
    }

    /// Sets where `channel` comes from.
    pub fn set_pick(&mut self, channel: Channel, pick: Pick) {
        *match channel {
            Channel::Slab => &mut self.slab,
            Channel::Air => &mut self.air,
            Channel::Rh => &mut self.rh,
            Channel::Supply => &mut self.supply,
        } = pick;
    }

    /// Applies the text of one `--column` option: `slab`, `air`, `rh`, `supply`, `time` or `date`,
    /// then `=`, then a header name or a column number, then for the four channels a unit in square
    /// brackets if wanted: `air=Temp 1[F]`, `rh=3`, `supply=none`.
    ///
    /// # Errors
    /// [`MappingError`] when the text has another shape or the unit does not fit the channel.
    pub fn assign(&mut self, text: &str) -> Result<(), MappingError> {
        let bad = || MappingError::Assignment { given: text.to_owned() };
        let (target, column) = text.split_once('=').ok_or_else(bad)?;
        let (target, column) = (target.trim().to_ascii_lowercase(), column.trim());
        if column.is_empty() || column.bytes().all(|b| b == b'0') {
            return Err(bad());
        }
        match target.as_str() {
            "time" => self.time = Some(ColumnRef::from_words(column)),
            "date" => self.date = Some(ColumnRef::from_words(column)),
            word => {
                let channel = Channel::ALL.into_iter().find(|c| c.word() == word);
                let channel = channel.ok_or_else(bad)?;
                self.set_pick(channel, pick(channel, column)?);
            }
        }
        Ok(())
    }

    /// The mapping that these options give: the way back from [`Mapping::to_options`].
    ///
    /// # Errors
    /// [`MappingError`] as on the command line, and for the name of an option that is none.
    pub fn from_options<N: AsRef<str>, T: AsRef<str>>(
        options: &[(N, T)],
    ) -> Result<Self, MappingError> {
        let mut mapping = Self::default();
        for (name, text) in options {
            let text = text.as_ref();
            match name.as_ref() {
                option::COLUMN => mapping.assign(text)?,
                option::ZONE => mapping.zone = Some(text.parse()?),
                option::MISSING => mapping.missing.push(text.to_owned()),
                option::DELIMITER => mapping.delimiter = Some(text.parse()?),
                option::DECIMAL => mapping.decimal = Some(text.parse()?),
                option::TIME_FORMAT => mapping.time_format = Some(text.parse()?),
                name => {
                    let line = text.parse().ok().filter(|_| name == option::FIRST_ROW);
                    let unknown =
                        || MappingError::Option { name: name.to_owned(), given: text.to_owned() };
                    mapping.first_row = Some(line.ok_or_else(unknown)?);
                }
            }
        }
        Ok(mapping)
    }

    /// The options that give this mapping, for a record of how a file was read.
    #[must_use]
    pub fn to_options(&self) -> Vec<(&'static str, String)> {
        let mut out = Vec::new();
        for (word, column) in [("date", &self.date), ("time", &self.time)] {
            if let Some(column) = column {
                out.push((option::COLUMN, format!("{word}={column}")));
            }
        }
        for channel in Channel::ALL {
            let word = channel.word();
            match self.pick(channel) {
                Pick::Guess => {}
                Pick::NotFitted => out.push((option::COLUMN, format!("{word}=none"))),
                Pick::From { column, unit } => {
                    let unit = unit.map_or_else(String::new, |u| format!("[{}]", u.word()));
                    out.push((option::COLUMN, format!("{word}={column}{unit}")));
                }
            }
        }
        let mut push = |name, value: Option<String>| out.extend(value.map(|v| (name, v)));
        push(option::TIME_FORMAT, self.time_format.as_ref().map(ToString::to_string));
        push(option::ZONE, self.zone.as_ref().map(ToString::to_string));
        push(option::DELIMITER, self.delimiter.map(|d| d.to_string()));
        push(option::DECIMAL, self.decimal.map(|d| d.to_string()));
        push(option::FIRST_ROW, self.first_row.map(|line| line.to_string()));
        out.extend(self.missing.iter().map(|code| (option::MISSING, code.clone())));
        out
    }
}

fn pick(channel: Channel, text: &str) -> Result<Pick, MappingError> {
    if text.eq_ignore_ascii_case("none") {
        return Ok(Pick::NotFitted);
    }
    let bracket = text.strip_suffix(']').and_then(|rest| rest.rsplit_once('['));
    let (column, unit) = match bracket {
        // Brackets around anything but a unit belong to the name.
        Some((name, unit)) if !name.trim().is_empty() => match Unit::from_words(unit) {
            Some(unit) => (name.trim(), Some(unit)),
            None => (text, None),
        },
        _ => (text, None),
    };
    match unit {
        Some(unit) if !channel.takes(unit) => {
            Err(MappingError::Unit { channel: channel.word(), unit: unit.word() })
        }
        _ => Ok(Pick::From { column: ColumnRef::from_words(column), unit }),
    }
}

/// An option text that says nothing usable.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MappingError {
    /// `--column` has another shape.
    #[error(
        "--column \"{given}\" cannot be read. Write CHANNEL=COLUMN with CHANNEL one of time, date, slab, air, rh, supply and COLUMN a header name, a number from 1 or none, such as air=3 or \"air=Temp 1[F]\""
    )]
    Assignment {
        /// The text given.
        given: String,
    },
    /// An option that no mapping has, or a line number that is none.
    #[error("{name} \"{given}\" is no option by which a file is read")]
    Option {
        /// The name of the option.
        name: String,
        /// The text given.
        given: String,
    },
    /// The unit belongs to another quantity.
    #[error(
        "{channel} cannot be in {unit}. Use C or F for slab, air and supply, % or fraction for rh"
    )]
    Unit {
        /// The channel's word.
        channel: &'static str,
        /// The unit's word.
        unit: &'static str,
    },
    /// `--time-format` is unknown.
    #[error(
        "--time-format \"{given}\" is not known. Use ymd, dmy, mdy, unix-s, unix-ms or a pattern such as \"%d %b %Y %H:%M\""
    )]
    TimeFormat {
        /// The text given.
        given: String,
    },
    /// `--delimiter` is unknown.
    #[error(
        "--delimiter \"{given}\" cannot separate columns. Use comma, semicolon, tab, space or one of | ! ^ ~ & *"
    )]
    Delimiter {
        /// The text given.
        given: String,
    },
    /// `--decimal` is unknown.
    #[error("--decimal \"{given}\" is not known. Use point or comma")]
    Decimal {
        /// The text given.
        given: String,
    },
    /// `--zone` is unknown.
    #[error(
        "--zone \"{given}\" is not known.{suggestion} Use an IANA name such as Europe/Helsinki or a fixed offset such as +02:00"
    )]
    Zone {
        /// The text given.
        given: String,
        /// The nearest known name as a sentence, or nothing.
        suggestion: String,
    },
}
