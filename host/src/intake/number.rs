//! Numbers as loggers and spreadsheets write them.

use super::channel::Unit;
use super::dialect::DecimalMark;

/// What a cell holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Parsed {
    Number {
        amount: Amount,
        /// The mark in it, if it has one.
        mark: Option<DecimalMark>,
        /// The unit written after it, if there is one.
        unit: Option<Unit>,
    },
    /// Digits in groups, as in `1,234.5` or `1 234`.
    Grouped,
    NotANumber,
}

/// A number as it is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Amount {
    /// At most two decimals, which is all that a reading keeps: exact.
    Hundredths(i32),
    /// Anything finer or larger.
    Fine(f64),
}

impl Amount {
    /// The nearest `f64`.
    pub(super) fn value(self) -> f64 {
        match self {
            Self::Hundredths(hundredths) => f64::from(hundredths) / 100.0,
            Self::Fine(value) => value,
        }
    }
}

/// Reads a cell without surrounding blanks.
#[inline]
pub(super) fn parse(cell: &[u8]) -> Parsed {
    match plain(cell) {
        Some((hundredths, mark)) => {
            Parsed::Number { amount: Amount::Hundredths(hundredths), mark, unit: None }
        }
        None => unusual(cell),
    }
}

/// Hundredths, and the mark if there is one.
pub(super) type Plain = (i32, Option<DecimalMark>);

/// Sign, at most seven digits and at most one mark with no more than two digits after it: nearly
/// every cell there is. The value is in hundredths.
#[inline]
pub(super) fn plain(cell: &[u8]) -> Option<Plain> {
    let (negative, digits) = match cell {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        rest => (false, rest),
    };
    let (whole, mark, decimals) = match digits {
        [whole @ .., m @ (b'.' | b','), a, b] => (whole, Some(*m), [*a, *b]),
        [whole @ .., m @ (b'.' | b','), a] => (whole, Some(*m), [*a, b'0']),
        [whole @ .., m @ (b'.' | b',')] => (whole, Some(*m), [b'0', b'0']),
        whole => (whole, None, [b'0', b'0']),
    };
    if whole.len() > 7 || (whole.is_empty() && digits.len() < 2) {
        return None;
    }
    let digit = |byte: u8| byte.is_ascii_digit().then(|| i32::from(byte - b'0'));
    let mut hundredths = 0;
    for byte in whole {
        hundredths = hundredths * 10 + digit(*byte)?;
    }
    let [tenths, rest] = decimals;
    hundredths = hundredths * 100 + digit(tenths)? * 10 + digit(rest)?;
    let mark = mark.map(|m| if m == b',' { DecimalMark::Comma } else { DecimalMark::Point });
    Some((if negative { -hundredths } else { hundredths }, mark))
}

/// What [`plain`] says of the number at the front of `text`, with its length, if there are digits on
/// both sides of its mark. What follows it is not looked at.
#[inline]
pub(super) fn leading(text: &[u8], delimiter: u8) -> Option<(Plain, usize)> {
    // As most temperatures and humidities are written.
    if let [a, b, b'.', c, d, ..] = text
        && [a, b, c, d].into_iter().all(u8::is_ascii_digit)
    {
        let number = [a, b, c, d].into_iter().fold(0, |sum, at| sum * 10 + i32::from(at - b'0'));
        return Some(((number, Some(DecimalMark::Point)), 5));
    }
    let digit =
        |rest: &[u8]| rest.first().filter(|b| b.is_ascii_digit()).map(|b| i32::from(b - b'0'));
    let (negative, mut rest) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        rest => (false, rest),
    };
    let mut hundredths = digit(rest)?;
    rest = rest.get(1..)?;
    // With these, as many digits before the mark as `plain` takes.
    for _ in 0..6 {
        let Some(next) = digit(rest) else { break };
        hundredths = hundredths * 10 + next;
        rest = rest.get(1..)?;
    }
    hundredths *= 100;
    let mark = match rest.first() {
        Some(b'.') => Some(DecimalMark::Point),
        Some(b',') if delimiter != b',' => Some(DecimalMark::Comma),
        _ => None,
    };
    if mark.is_some() {
        hundredths += digit(rest.get(1..)?)? * 10;
        rest = rest.get(2..)?;
        if let Some(last) = digit(rest) {
            hundredths += last;
            rest = rest.get(1..)?;
        }
    }
    Some(((if negative { -hundredths } else { hundredths }, mark), text.len() - rest.len()))
}

fn unusual(cell: &[u8]) -> Parsed {
    let Ok(text) = std::str::from_utf8(cell) else { return Parsed::NotANumber };
    let text = text.trim().replace('\u{2212}', "-");
    let split = text.find(|c: char| is_unit_start(c)).unwrap_or(text.len());
    let (digits, unit) = text.split_at_checked(split).unwrap_or((&text, ""));
    let unit = match unit {
        "" => None,
        word => match Unit::from_words(word) {
            Some(unit) => Some(unit),
            None => return Parsed::NotANumber,
        },
    };
    let digits = digits.trim_end();
    if let Some((hundredths, mark)) = plain(digits.as_bytes()) {
        return Parsed::Number { amount: Amount::Hundredths(hundredths), mark, unit };
    }
    if is_grouped(digits) {
        return Parsed::Grouped;
    }
    // More digits than usual, or an exponent: the standard library knows how.
    let marks = digits.bytes().filter(|b| matches!(b, b'.' | b',')).count();
    let shape = digits.bytes().all(|b| b.is_ascii_digit() || b".,eE+-".contains(&b));
    match digits.replace(',', ".").parse::<f64>() {
        Ok(value) if shape && marks <= 1 && value.is_finite() => {
            let comma = digits.contains(',');
            let mark = if comma { DecimalMark::Comma } else { DecimalMark::Point };
            let mark = (marks == 1).then_some(mark);
            Parsed::Number { amount: Amount::Fine(value), mark, unit }
        }
        _ => Parsed::NotANumber,
    }
}

/// The E of an exponent does not start a unit; no unit starts with one.
fn is_unit_start(c: char) -> bool {
    c == '%' || (c.is_alphabetic() && !matches!(c, 'e' | 'E')) || matches!(c, '°' | '˚' | '℃' | '℉')
}

/// Whether digits are parted more than once, or by something that only parts groups.
fn is_grouped(text: &str) -> bool {
    let body = text.trim_start_matches(['-', '+']);
    let is_mark = |c: char| matches!(c, '.' | ',');
    let parts =
        |c: char| is_mark(c) || matches!(c, '\'' | '\u{2019}' | ' ' | '\u{a0}' | '\u{202f}');
    let digits = |group: &str| !group.is_empty() && group.bytes().all(|b| b.is_ascii_digit());
    let separators: Vec<char> = body.chars().filter(|c| parts(*c)).collect();
    let groups = match separators.as_slice() {
        [] => false,
        [one] => !is_mark(*one),
        _ => true,
    };
    groups && body.split(parts).all(digits)
}

#[cfg(test)]
mod tests {
    use super::*;
    use DecimalMark::{Comma, Point};

    fn number(
        value: f64,
        mark: Option<DecimalMark>,
        unit: Option<Unit>,
    ) -> Result<Expected, Parsed> {
        Ok((value, mark, unit))
    }

    type Expected = (f64, Option<DecimalMark>, Option<Unit>);

    fn read(cell: &str) -> Result<Expected, Parsed> {
        match parse(cell.as_bytes()) {
            Parsed::Number { amount, mark, unit } => Ok((amount.value(), mark, unit)),
            other => Err(other),
        }
    }

    #[test]
    fn cells_are_read() {
        for (cell, expected) in [
            ("21", number(21.0, None, None)),
            ("21.34", number(21.34, Some(Point), None)),
            ("21,34", number(21.34, Some(Comma), None)),
            ("-0.5", number(-0.5, Some(Point), None)),
            ("+.5", number(0.5, Some(Point), None)),
            ("5.", number(5.0, Some(Point), None)),
            ("\u{2212}4,25", number(-4.25, Some(Comma), None)),
            ("21.5 °C", number(21.5, Some(Point), Some(Unit::Celsius))),
            ("70F", number(70.0, None, Some(Unit::Fahrenheit))),
            ("45 %RH", number(45.0, None, Some(Unit::Percent))),
            ("2.15E+01", number(21.5, Some(Point), None)),
            ("21.340000000000000001", number(21.34, Some(Point), None)),
            ("1,234.5", Err(Parsed::Grouped)),
            ("1.234,5", Err(Parsed::Grouped)),
            ("1 234", Err(Parsed::Grouped)),
            ("1'234", Err(Parsed::Grouped)),
            ("1.234.567", Err(Parsed::Grouped)),
            ("", Err(Parsed::NotANumber)),
            ("-", Err(Parsed::NotANumber)),
            (".", Err(Parsed::NotANumber)),
            ("--5", Err(Parsed::NotANumber)),
            ("inf", Err(Parsed::NotANumber)),
            ("NaN", Err(Parsed::NotANumber)),
            ("1e999", Err(Parsed::NotANumber)),
            ("21.5 K", Err(Parsed::NotANumber)),
            ("abc", Err(Parsed::NotANumber)),
            ("12:30", Err(Parsed::NotANumber)),
            ("2020-01-01", Err(Parsed::NotANumber)),
        ] {
            assert_eq!(read(cell), expected, "{cell:?}");
        }
    }

    /// The standard library's parser rounds correctly; the short way must agree to the last bit, and
    /// give the same hundredths as the conversion that readings are made with.
    #[test]
    fn every_hundredth_is_the_nearest_f64() {
        for i in -30_000_i32..30_000 {
            let sign = if i < 0 { "-" } else { "" };
            let text = format!("{sign}{}.{:02}", i.abs() / 100, i.abs() % 100);
            let expected: f64 = text.parse().unwrap();
            assert_eq!(read(&text), number(expected, Some(Point), None), "{text}");
            let kept = glueday_types::CentiCelsius::from_celsius(expected).unwrap();
            assert_eq!(i32::from(kept.0), i, "{text}");
        }
    }
}
