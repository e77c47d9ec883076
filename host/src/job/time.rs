//! Dates and times as a job file writes them.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};
use toml::de::DeValue;
use toml::value::{Datetime, Offset as TomlOffset};

use super::diagnose::nearest;

/// What is wrong, and what to do about it.
pub(super) type Complaint = (String, String);

const TIME_FORM: &str =
    "write it like 2026-03-02T08:30 or \"2026-03-02 08:30\", by the site's clock";
const DATE_FORM: &str = "write it like 2026-03-02, without a time of day";
/// Slabs older than this are not glued on; later years are typing errors.
const YEARS: std::ops::RangeInclusive<i16> = 1850..=2100;

/// Finds a time zone by its IANA name in the rules built into the program.
pub(super) fn find_zone(name: &str) -> Result<TimeZone, Complaint> {
    let rules = TimeZoneDatabase::bundled();
    // Names like "MST" are in the database, but stand for a fixed offset that no site keeps.
    let is_place = name.contains('/') || name == "UTC";
    match rules.get(name) {
        Ok(zone) if is_place => Ok(zone),
        _ => Err((format!("`{name}` is not an IANA time zone"), zone_fix(&rules, name))),
    }
}

fn zone_fix(rules: &TimeZoneDatabase, name: &str) -> String {
    let names: Vec<String> =
        rules.available().map(|n| n.as_str().to_owned()).filter(|n| n.contains('/')).collect();
    let city = name.replace(' ', "_").to_lowercase();
    let of_city = |n: &&String| n.rsplit('/').next().is_some_and(|c| c.to_lowercase() == city);
    let near = match names.iter().find(of_city) {
        Some(full) => Some(full.as_str()),
        None => nearest(name, names.iter().map(String::as_str)),
    };
    match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => "name the region and the city, such as \"America/Denver\" or \"Europe/Berlin\""
            .to_owned(),
    }
}

/// Reads a calendar date.
pub(super) fn read_date(value: &DeValue<'_>) -> Result<Date, Complaint> {
    let date = match value {
        DeValue::Datetime(Datetime { date: Some(date), time: None, .. }) => civil_date(*date),
        DeValue::String(text) => text.trim().parse().ok().filter(|_| !text.contains(':')),
        _ => None,
    };
    match date {
        Some(date) if YEARS.contains(&date.year()) => Ok(date),
        Some(date) => Err(odd_year(date)),
        None => Err((format!("{} is not a date", shown(value)), DATE_FORM.to_owned())),
    }
}

/// Reads a time; one without an offset is on the clock of the zone.
pub(super) fn read_time(value: &DeValue<'_>, zone: &TimeZone) -> Result<Timestamp, Complaint> {
    let (local, offset) = match value {
        DeValue::Datetime(Datetime { date: Some(date), time: Some(time), offset }) => {
            let date = civil_date(*date);
            let time = Time::new(
                i8::try_from(time.hour).unwrap_or(-1),
                i8::try_from(time.minute).unwrap_or(-1),
                i8::try_from(time.second.unwrap_or(0)).unwrap_or(-1),
                0,
            );
            (date.zip(time.ok()).map(|(date, time)| date.to_datetime(time)), offset.map(of_toml))
        }
        // A zone in brackets would be read past in silence.
        DeValue::String(text) if text.contains(':') && !text.contains('[') => {
            match text.trim().parse::<Timestamp>() {
                Ok(time) => {
                    let local = Offset::UTC.to_datetime(time);
                    (Some(local), Some(Some(Offset::UTC)))
                }
                Err(_) => (text.trim().parse::<DateTime>().ok(), None),
            }
        }
        _ => (None, None),
    };
    let form = || (format!("{} is not a time", shown(value)), TIME_FORM.to_owned());
    let local = local.ok_or_else(form)?;
    if !YEARS.contains(&local.date().year()) {
        return Err(odd_year(local.date()));
    }
    match offset {
        Some(offset) => offset.and_then(|o| o.to_timestamp(local).ok()).ok_or_else(form),
        None => on_clock(local, zone),
    }
}

/// The moment at which the clock of the zone shows a local time, when there is exactly one.
fn on_clock(local: DateTime, zone: &TimeZone) -> Result<Timestamp, Complaint> {
    let shown = local.strftime("%Y-%m-%d %H:%M");
    let zone_name = zone.iana_name().unwrap_or("the site's zone");
    let (problem, before, after) = match zone.to_ambiguous_timestamp(local).offset() {
        AmbiguousOffset::Unambiguous { offset } => {
            return offset
                .to_timestamp(local)
                .map_err(|_| (format!("`{shown}` is outside the calendar"), TIME_FORM.to_owned()));
        }
        AmbiguousOffset::Gap { before, after } => {
            (format!("{shown} does not exist in {zone_name}: clocks skipped it"), before, after)
        }
        AmbiguousOffset::Fold { before, after } => {
            (format!("{shown} came twice in {zone_name}: clocks went back"), before, after)
        }
    };
    let form = local.strftime("%Y-%m-%dT%H:%M");
    let fix = format!(
        "write the offset from UTC as well: {form}{} or {form}{}",
        offset_text(before),
        offset_text(after)
    );
    Err((problem, fix))
}

/// "-07:00".
fn offset_text(offset: Offset) -> String {
    let minutes = offset.seconds().abs() / 60;
    let sign = if offset.is_negative() { '-' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

fn of_toml(offset: TomlOffset) -> Option<Offset> {
    match offset {
        TomlOffset::Z => Some(Offset::UTC),
        TomlOffset::Custom { minutes } => Offset::from_seconds(i32::from(minutes) * 60).ok(),
    }
}

fn civil_date(date: toml::value::Date) -> Option<Date> {
    let year = i16::try_from(date.year).ok()?;
    Date::new(year, i8::try_from(date.month).ok()?, i8::try_from(date.day).ok()?).ok()
}

fn odd_year(date: Date) -> Complaint {
    (format!("the year {} cannot be meant", date.year()), "check the year".to_owned())
}

/// A value as the file has it, near enough for a message.
pub(super) fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("`{text}`"),
        DeValue::Integer(number) => format!("`{number}`"),
        DeValue::Float(number) => format!("`{number}`"),
        DeValue::Boolean(flag) => format!("`{flag}`"),
        DeValue::Datetime(time) => format!("`{time}`"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    }
}

/// The civil date of a moment on the clock of the zone.
pub(super) fn local_date(time: Timestamp, zone: &TimeZone) -> Date {
    zone.to_datetime(time).date()
}
