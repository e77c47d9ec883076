//! What a table is made of, whatever the format.

use std::borrow::Cow;

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A moment: RFC 3339 in UTC.
    Time,
    /// Text in UTF-8.
    Text,
    /// A whole number.
    Whole,
    /// A number with so many decimals.
    Real(u8),
    /// Bytes as they are.
    Bytes,
}

/// A column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name; a unit stands last.
    pub name: &'static str,
    /// What its cells hold.
    pub kind: Kind,
    /// The unit in full, empty where there is none.
    pub unit: &'static str,
    /// What it is, in a line.
    pub what: &'static str,
}

impl Column {
    pub(super) const fn text(name: &'static str, what: &'static str) -> Self {
        Self { name, kind: Kind::Text, unit: "", what }
    }

    pub(super) const fn whole(name: &'static str, unit: &'static str, what: &'static str) -> Self {
        Self { name, kind: Kind::Whole, unit, what }
    }

    pub(super) const fn real(
        name: &'static str,
        decimals: u8,
        unit: &'static str,
        what: &'static str,
    ) -> Self {
        Self { name, kind: Kind::Real(decimals), unit, what }
    }
}

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell<'a> {
    /// Nothing is known.
    Absent,
    /// A moment in seconds since 1970-01-01 UTC.
    Time(i64),
    /// Text.
    Text(Cow<'a, str>),
    /// A whole number.
    Whole(i64),
    /// A number, rounded to the decimals of its column.
    Real(f64),
    /// Bytes as they are.
    Bytes(&'a [u8]),
}

impl<'a> Cell<'a> {
    /// A text that lives longer than the row.
    pub(super) fn borrowed(text: &'a str) -> Self {
        Self::Text(Cow::Borrowed(text))
    }

    /// A number rounded to so many decimals; nothing for what is no number.
    pub(super) fn real(value: Option<f64>, decimals: u8) -> Self {
        let scale = 10_f64.powi(i32::from(decimals));
        match value.map(|value| (value * scale).round() / scale) {
            // Adding zero makes -0 a 0, which is how it reads.
            Some(value) if value.is_finite() => Self::Real(value + 0.0),
            _ => Self::Absent,
        }
    }

    /// A whole number, or nothing.
    pub(super) fn whole(value: Option<impl Into<i64>>) -> Self {
        value.map_or(Self::Absent, |value| Self::Whole(value.into()))
    }

    /// A text, or nothing.
    pub(super) fn maybe(text: Option<&'a str>) -> Self {
        text.map_or(Self::Absent, Self::borrowed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_once_and_never_minus_zero() {
        for (value, decimals, expected) in
            [(21.345_1, 2, "21.35"), (-0.004, 2, "0"), (-0.006, 2, "-0.01"), (1234.56, 1, "1234.6")]
        {
            let Cell::Real(rounded) = Cell::real(Some(value), decimals) else { panic!("{value}") };
            assert_eq!(rounded.to_string(), expected);
        }
        for none in [None, Some(f64::NAN), Some(f64::INFINITY)] {
            assert_eq!(Cell::real(none, 2), Cell::Absent);
        }
    }
}
