//! Dates and times as loggers and spreadsheets write them.

use std::ops::RangeInclusive;

use jiff::civil::Date;
use jiff::fmt::strtime;

use super::dialect::TimeFormat;
use super::zone::parse_offset;

/// Years that a log can be from. A logger whose clock was never set counts from 1970, 1980 or 2000.
pub(super) const YEARS: RangeInclusive<i16> = 2001..=2099;
/// The same years in seconds since 1970.
const YEARS_S: std::ops::Range<i64> = 978_307_200..4_102_444_800;

/// A time as read from a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    /// Seconds since 1970 on the clock that was read; on UTC when `offset_s` is 0.
    pub(super) clock_s: i64,
    /// Seconds east of UTC, if the cell says so.
    pub(super) offset_s: Option<i32>,
    /// A part of a second was cut off.
    pub(super) cut: bool,
}

/// Why a cell is no time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum StampError {
    NotATime,
    NoTimeOfDay,
    NoSuchDate,
    NoSuchTime,
    ClockNotSet,
}

/// What a cell looks like, whatever the order of day and month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    DateTime,
    DateOnly,
    TimeOnly,
    UnixSeconds,
    UnixMillis,
}

/// Reads the times of one column, or of a date and a time column.
pub(super) struct StampReader<'m> {
    format: &'m TimeFormat,
    /// The last date of ten characters: a log has the same one many times in a row.
    last_date: [u8; 10],
    last_days: Option<i64>,
}

impl<'m> StampReader<'m> {
    pub(super) fn new(format: &'m TimeFormat) -> Self {
        Self { format, last_date: [0; 10], last_days: None }
    }

    /// Reads a cell that holds date and time, or seconds.
    #[inline]
    pub(super) fn read(&mut self, cell: &[u8]) -> Result<Stamp, StampError> {
        let stamp = match self.format {
            TimeFormat::YearFirst | TimeFormat::DayFirst | TimeFormat::MonthFirst => {
                let (days, rest) = self.date(cell)?;
                let rest = match rest {
                    [b'T' | b't' | b',' | b' ', rest @ ..] => rest.trim_ascii_start(),
                    [] => return Err(StampError::NoTimeOfDay),
                    _ => return Err(StampError::NotATime),
                };
                on_day(days, rest)?
            }
            TimeFormat::UnixSeconds => unix(cell, 1)?,
            TimeFormat::UnixMillis => unix(cell, 1000)?,
            TimeFormat::Pattern(pattern) => by_pattern(pattern, cell)?,
        };
        if YEARS_S.contains(&stamp.clock_s) { Ok(stamp) } else { Err(StampError::ClockNotSet) }
    }

    /// Reads what stands at the front of `text` if it is a time of day in figures on the date that was
    /// read last, and how long it is. What follows it is not looked at.
    #[inline]
    pub(super) fn usual(&self, text: &[u8], delimiter: u8) -> Option<(Stamp, usize)> {
        let (date, rest) = text.split_first_chunk::<10>()?;
        let days = self.last_days.filter(|_| *date == self.last_date)?;
        let [gap @ (b' ' | b'T'), h0, h1, b':', m0, m1, rest @ ..] = rest else { return None };
        let number = |tens: u8, ones: u8| {
            let is_number = tens.is_ascii_digit() && ones.is_ascii_digit();
            is_number.then(|| i64::from(tens - b'0') * 10 + i64::from(ones - b'0'))
        };
        let (hour, minute) = (number(*h0, *h1)?, number(*m0, *m1)?);
        let (second, len) = match rest {
            [b':', s0, s1, ..] => (number(*s0, *s1)?, 19),
            _ => (0, 16),
        };
        if *gap == delimiter || hour > 23 || minute > 59 || second > 59 {
            return None;
        }
        let clock_s = days * 86_400 + hour * 3600 + minute * 60 + second;
        Some((Stamp { clock_s, offset_s: None, cut: false }, len))
    }

    /// Reads a date and a time of day from two cells.
    pub(super) fn read_two(&mut self, date: &[u8], time: &[u8]) -> Result<Stamp, StampError> {
        if matches!(self.format, TimeFormat::Pattern(_)) {
            return self.read(&[date, b" ", time].concat());
        }
        let (days, rest) = self.date(date)?;
        // Spreadsheets give a lone date a midnight.
        let rest = rest.trim_ascii_start();
        if !rest.is_empty() && !matches!(on_day(0, rest), Ok(Stamp { clock_s: 0, .. })) {
            return Err(StampError::NotATime);
        }
        let stamp = on_day(days, time)?;
        if YEARS_S.contains(&stamp.clock_s) { Ok(stamp) } else { Err(StampError::ClockNotSet) }
    }

    /// Days since 1970 and what follows the date.
    #[inline]
    fn date<'c>(&mut self, cell: &'c [u8]) -> Result<(i64, &'c [u8]), StampError> {
        if let (Some(days), Some((head, rest))) = (self.last_days, cell.split_first_chunk::<10>())
            && *head == self.last_date
        {
            return Ok((days, rest));
        }
        let (parts, rest) = parts(cell).ok_or(StampError::NotATime)?;
        let days = parts.days(self.format)?;
        if let Some(head) = cell.first_chunk::<10>()
            && cell.len() - rest.len() == 10
        {
            self.last_date = *head;
            self.last_days = Some(days);
        }
        Ok((days, rest))
    }
}

/// The three numbers of a date, in the order in which they are written.
#[derive(Clone, Copy, Debug)]
struct Parts {
    numbers: [u16; 3],
    /// How many digits each has.
    digits: [usize; 3],
    separator: u8,
}

/// Splits `2020-12-18`, `18.12.2020`, `12/18/20` and the like from what follows.
fn parts(cell: &[u8]) -> Option<(Parts, &[u8])> {
    let (a, a_digits, rest) = digits(cell, 4)?;
    let (&separator, rest) = rest.split_first()?;
    if !matches!(separator, b'-' | b'/' | b'.') {
        return None;
    }
    let (b, b_digits, rest) = digits(rest, 2)?;
    let rest = rest.strip_prefix(&[separator])?;
    let (c, c_digits, rest) = digits(rest, 4)?;
    Some((Parts { numbers: [a, b, c], digits: [a_digits, b_digits, c_digits], separator }, rest))
}

impl Parts {
    fn days(self, format: &TimeFormat) -> Result<i64, StampError> {
        let ([a, b, c], [a_digits, _, c_digits]) = (self.numbers, self.digits);
        let (year, year_digits, month, day, day_digits) = match format {
            TimeFormat::DayFirst => (c, c_digits, b, a, a_digits),
            TimeFormat::MonthFirst => (c, c_digits, a, b, a_digits),
            _ => (a, a_digits, b, c, c_digits),
        };
        let year = match year_digits {
            4 => year,
            2 if matches!(format, TimeFormat::DayFirst | TimeFormat::MonthFirst) => year + 2000,
            _ => return Err(StampError::NotATime),
        };
        if day_digits > 2 {
            return Err(StampError::NotATime);
        }
        let small = |n: u16| i8::try_from(n).map_err(|_| StampError::NoSuchDate);
        let year = i16::try_from(year).map_err(|_| StampError::NoSuchDate)?;
        let date =
            Date::new(year, small(month)?, small(day)?).map_err(|_| StampError::NoSuchDate)?;
        if !YEARS.contains(&year) {
            return Err(StampError::ClockNotSet);
        }
        Ok(date.duration_since(Date::constant(1970, 1, 1)).as_hours() / 24)
    }
}

/// One to `most` digits, their number and what follows.
#[inline]
fn digits(text: &[u8], most: usize) -> Option<(u16, usize, &[u8])> {
    let count = text.iter().take(most).take_while(|b| b.is_ascii_digit()).count();
    let (digits, rest) = text.split_at_checked(count)?;
    if count == 0 || rest.first().is_some_and(u8::is_ascii_digit) {
        return None;
    }
    let number = digits.iter().fold(0, |n, b| n * 10 + u16::from(b - b'0'));
    Some((number, count, rest))
}

/// Reads a time of day, with or without AM or PM and an offset, on the day given.
#[inline]
fn on_day(days: i64, text: &[u8]) -> Result<Stamp, StampError> {
    const NO: StampError = StampError::NotATime;
    let (mut hour, _, rest) = digits(text, 2).ok_or(NO)?;
    let (&separator, rest) = rest.split_first().ok_or(NO)?;
    if !matches!(separator, b':' | b'.') {
        return Err(NO);
    }
    let (minute, 2, mut rest) = digits(rest, 2).ok_or(NO)? else { return Err(NO) };
    let mut second = 0;
    let mut cut = false;
    if let Some(more) = rest.strip_prefix(&[separator]) {
        let (value, 2, more) = digits(more, 2).ok_or(NO)? else { return Err(NO) };
        (second, rest) = (value, more);
        if let [b'.' | b',', more @ ..] = rest {
            let count = more.iter().take_while(|b| b.is_ascii_digit()).count();
            let (fraction, more) = more.split_at_checked(count).filter(|_| count > 0).ok_or(NO)?;
            cut = fraction.iter().any(|b| *b != b'0');
            rest = more;
        }
    }
    let mut offset_s = None;
    if !rest.is_empty() {
        let text = std::str::from_utf8(rest).map_err(|_| NO)?;
        // Blanks only: at a tab the next column may begin.
        let text = text.trim_matches(' ');
        if text.contains('\t') {
            return Err(NO);
        }
        let (half, text) = half_of_day(text);
        if let Some(afternoon) = half {
            if !(1..=12).contains(&hour) {
                return Err(StampError::NoSuchTime);
            }
            hour = hour % 12 + if afternoon { 12 } else { 0 };
        }
        // One digit after a sign is more likely a number than an offset.
        if text.len() == 2 && text.starts_with(['+', '-']) {
            return Err(NO);
        }
        if !text.is_empty() {
            offset_s = Some(parse_offset(text).ok_or(NO)?);
        }
    }
    // 24:00 is the end of the day.
    let end_of_day = hour == 24 && minute == 0 && second == 0;
    if (hour > 23 && !end_of_day) || minute > 59 || second > 59 {
        return Err(StampError::NoSuchTime);
    }
    let clock_s =
        days * 86_400 + i64::from(hour) * 3600 + i64::from(minute) * 60 + i64::from(second);
    Ok(Stamp { clock_s, offset_s, cut })
}

/// Takes `AM`, `p.m.` and the like from the front: whether it is the afternoon, and what follows.
fn half_of_day(text: &str) -> (Option<bool>, &str) {
    for (word, afternoon) in [("a.m.", false), ("p.m.", true), ("am", false), ("pm", true)] {
        if let Some((head, rest)) = text.split_at_checked(word.len())
            && head.eq_ignore_ascii_case(word)
        {
            return (Some(afternoon), rest.trim_start());
        }
    }
    (None, text)
}

fn unix(cell: &[u8], per_second: i64) -> Result<Stamp, StampError> {
    let text = std::str::from_utf8(cell).map_err(|_| StampError::NotATime)?;
    let (whole, fraction) = text.split_once('.').unwrap_or((text, "0"));
    if whole.starts_with('+')
        || fraction.is_empty()
        || !fraction.bytes().all(|b| b.is_ascii_digit())
    {
        return Err(StampError::NotATime);
    }
    let count = whole.parse::<i64>().map_err(|_| StampError::NotATime)?;
    let cut = count.rem_euclid(per_second) != 0 || fraction.bytes().any(|b| b != b'0');
    Ok(Stamp { clock_s: count.div_euclid(per_second), offset_s: Some(0), cut })
}

fn by_pattern(pattern: &str, cell: &[u8]) -> Result<Stamp, StampError> {
    let parsed = strtime::parse(pattern, cell).map_err(|_| StampError::NotATime)?;
    if let Ok(timestamp) = parsed.to_timestamp() {
        let cut = timestamp.subsec_nanosecond() != 0;
        return Ok(Stamp { clock_s: timestamp.as_second(), offset_s: Some(0), cut });
    }
    let time = parsed.to_datetime().map_err(|_| StampError::NoTimeOfDay)?;
    let clock = jiff::tz::Offset::UTC.to_timestamp(time).map_err(|_| StampError::NoSuchDate)?;
    let cut = time.subsec_nanosecond() != 0;
    Ok(Stamp { clock_s: clock.as_second(), offset_s: None, cut })
}

/// What a cell looks like; `None` if like no time at all.
pub(super) fn shape(cell: &[u8], format: Option<&TimeFormat>) -> Option<Shape> {
    if let Some(format @ TimeFormat::Pattern(_)) = format {
        // The pattern may span a date and a time column, which only the two together show.
        if StampReader::new(format).read(cell).is_ok() {
            return Some(Shape::DateTime);
        }
    }
    for format in [TimeFormat::YearFirst, TimeFormat::DayFirst, TimeFormat::MonthFirst] {
        match StampReader::new(&format).read(cell) {
            Ok(_) => return Some(Shape::DateTime),
            Err(StampError::NoTimeOfDay) => return Some(Shape::DateOnly),
            // Still a date to whoever looks at it, and an error to be told later.
            Err(StampError::ClockNotSet | StampError::NoSuchTime) => return Some(Shape::DateTime),
            Err(StampError::NotATime | StampError::NoSuchDate) => {}
        }
    }
    if cell.contains(&b':') && on_day(0, cell).is_ok() {
        return Some(Shape::TimeOnly);
    }
    let whole = cell.split(|b| *b == b'.').next()?;
    let found = match whole.len() {
        9 | 10 => (TimeFormat::UnixSeconds, Shape::UnixSeconds),
        12 | 13 => (TimeFormat::UnixMillis, Shape::UnixMillis),
        _ => return None,
    };
    StampReader::new(&found.0).read(cell).is_ok().then_some(found.1)
}

/// What one cell says about the order of day, month and year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    YearFirst,
    DayFirst,
    MonthFirst,
    /// Day and month could be either way round.
    Unclear,
    /// The year has two digits and could be first or last.
    ShortYear,
    NoDate,
}

pub(super) fn order(cell: &[u8]) -> Order {
    let Some((Parts { numbers: [a, b, _], digits: [a_digits, _, c_digits], separator }, _)) =
        parts(cell)
    else {
        return Order::NoDate;
    };
    match (a_digits, c_digits) {
        (4, _) => Order::YearFirst,
        // Dots are only ever written day first.
        (..=2, 2 | 4) if separator == b'.' => Order::DayFirst,
        (..=2, 4) if a > 12 => Order::DayFirst,
        (..=2, 4) if b > 12 => Order::MonthFirst,
        (..=2, 4) => Order::Unclear,
        (..=2, 2) => Order::ShortYear,
        _ => Order::NoDate,
    }
}
