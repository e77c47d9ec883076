//! How times, columns and numbers are written.

use std::fmt;
use std::str::FromStr;

use super::mapping::MappingError;

/// How times are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TimeFormat {
    /// Year, month, day, then the time, as in ISO 8601: with or without `T`, seconds and offset.
    YearFirst,
    /// Day, month, year, then the time, with or without AM or PM.
    DayFirst,
    /// Month, day, year, then the time, with or without AM or PM.
    MonthFirst,
    /// Seconds since 1970-01-01 UTC.
    UnixSeconds,
    /// Milliseconds since 1970-01-01 UTC.
    UnixMillis,
    /// A pattern with `%` fields as in `strptime`, such as `%d %b %Y %H:%M`.
    Pattern(String),
}

impl fmt::Display for TimeFormat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::YearFirst => "ymd",
            Self::DayFirst => "dmy",
            Self::MonthFirst => "mdy",
            Self::UnixSeconds => "unix-s",
            Self::UnixMillis => "unix-ms",
            Self::Pattern(pattern) => pattern,
        })
    }
}

impl FromStr for TimeFormat {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        Ok(match text.trim().to_ascii_lowercase().as_str() {
            "ymd" | "iso" => Self::YearFirst,
            "dmy" => Self::DayFirst,
            "mdy" => Self::MonthFirst,
            "unix-s" => Self::UnixSeconds,
            "unix-ms" => Self::UnixMillis,
            _ if text.contains('%') => Self::Pattern(text.to_owned()),
            _ => return Err(MappingError::TimeFormat { given: text.to_owned() }),
        })
    }
}

/// The character between columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Delimiter(u8);

impl Delimiter {
    /// `,`
    pub const COMMA: Self = Self(b',');
    /// `;`
    pub const SEMICOLON: Self = Self(b';');
    /// Tab
    pub const TAB: Self = Self(b'\t');

    pub(super) fn byte(self) -> u8 {
        self.0
    }
}

impl fmt::Display for Delimiter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            b',' => f.write_str("comma"),
            b';' => f.write_str("semicolon"),
            b'\t' => f.write_str("tab"),
            b' ' => f.write_str("space"),
            other => write!(f, "{}", char::from(other)),
        }
    }
}

impl FromStr for Delimiter {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        Ok(match text.to_ascii_lowercase().as_str() {
            "comma" => Self::COMMA,
            "semicolon" => Self::SEMICOLON,
            "tab" | "\\t" => Self::TAB,
            "space" => Self(b' '),
            _ => match text.as_bytes() {
                // What numbers, times and quoting are made of cannot separate columns as well.
                [byte @ (b',' | b';' | b'\t' | b' ' | b'|' | b'!' | b'^' | b'~' | b'&' | b'*')] => {
                    Self(*byte)
                }
                _ => return Err(MappingError::Delimiter { given: text.to_owned() }),
            },
        })
    }
}

/// The character between whole and fractional digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalMark {
    /// `21.5`
    Point,
    /// `21,5`
    Comma,
}

impl fmt::Display for DecimalMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Point => "point",
            Self::Comma => "comma",
        })
    }
}

impl FromStr for DecimalMark {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        match text.to_ascii_lowercase().as_str() {
            "point" | "." => Ok(Self::Point),
            "comma" | "," => Ok(Self::Comma),
            _ => Err(MappingError::Decimal { given: text.to_owned() }),
        }
    }
}
