//! An assessment as people and programs read it. Pure: text out, nothing printed.

mod blocker;
pub mod json;
pub mod limits;
pub mod live;
pub mod marks;
mod measure;
mod page;
pub mod sites;
mod table;
pub mod text;
pub mod verified;
pub mod why;
pub(crate) mod wrap;

pub(crate) use blocker::blockers;
pub use measure::{both, in_both};
pub(crate) use table::Cells;
pub(crate) use text::{View, words};
pub(crate) use why::{layers, limits_of, origin};
pub(crate) use wrap::{HOLD, hold};

use jiff::tz::TimeZone;

/// A time of UTC in the site's zone, to the minute, with the day of the week.
#[must_use]
pub fn local_time(time_s: i64, zone: &TimeZone) -> String {
    match jiff::Timestamp::from_second(time_s) {
        Ok(time) => time.to_zoned_datetime(zone.clone()).strftime("%a %Y-%m-%d %H:%M").to_string(),
        // Only for seconds beyond the year 9999.
        Err(_) => format!("{time_s} s UTC"),
    }
}

/// A time as RFC 3339 in UTC, for files and programs.
#[must_use]
pub fn utc_time(time_s: i64) -> String {
    jiff::Timestamp::from_second(time_s).map_or_else(|_| time_s.to_string(), |t| t.to_string())
}
