//! How the serialised view of a job writes what serde cannot by itself.

use std::fmt::Display;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Serialize, Serializer};

use super::model::LoggerRef;

/// In UTC, as RFC 3339 has it.
pub(super) fn time<S: Serializer>(time: &Option<Timestamp>, to: S) -> Result<S::Ok, S::Error> {
    text(time.as_ref(), to)
}

/// A calendar date that may be missing, `2026-03-02`.
pub(super) fn date<S: Serializer>(date: &Option<Date>, to: S) -> Result<S::Ok, S::Error> {
    text(date.as_ref(), to)
}

/// A calendar date, `2026-03-02`.
pub(super) fn known_date<S: Serializer>(date: &Date, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(date)
}

/// A name, or 16 hex digits.
pub(super) fn logger<S: Serializer>(logger: &Option<LoggerRef>, to: S) -> Result<S::Ok, S::Error> {
    text(logger.as_ref(), to)
}

/// The IANA name.
pub(super) fn time_zone<S: Serializer>(zone: &TimeZone, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(zone.iana_name().unwrap_or("UTC"))
}

fn text<S: Serializer>(value: Option<&impl Display>, to: S) -> Result<S::Ok, S::Error> {
    value.map(ToString::to_string).serialize(to)
}
