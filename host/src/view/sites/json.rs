//! The JSON of `sites`: one document, times in UTC, a schema version.

use super::{Asked, Count, Row, Standing};
use crate::view::utc_time;
use serde::Serialize;

/// Version of the document; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    step: &'static str,
    go: usize,
    wait: usize,
    error: usize,
    rows: Vec<JsonRow<'a>>,
}

#[derive(Serialize)]
struct JsonRow<'a> {
    job: &'a str,
    site: Option<&'a str>,
    room: Option<&'a str>,
    verdict: &'static str,
    at: Option<String>,
    blocking: &'a [&'static str],
    blocked_by: Option<&'a str>,
    earliest_go: Option<String>,
    last_pull: Option<String>,
    last_sample: Option<String>,
    battery_v: Option<f64>,
    battery_at: Option<String>,
    battery_low: Option<bool>,
    error: Option<&'a str>,
    notes: &'a [String],
}

/// The rows as a JSON document, indented, without a newline at the end.
///
/// # Errors
/// Only what the JSON writer reports; it has no cause to with these types.
pub fn json(rows: &[Row], asked: Asked) -> Result<String, serde_json::Error> {
    let Count { go, wait, error } = Count::of(rows);
    let step = asked.step.as_str();
    let rows = rows.iter().map(row).collect();
    serde_json::to_string_pretty(&Document { schema: SCHEMA, step, go, wait, error, rows })
}

fn row(row: &Row) -> JsonRow<'_> {
    let (judged, error) = match &row.standing {
        Standing::Judged(judged) => (Some(judged), None),
        Standing::Error(why) => (None, Some(why.as_str())),
    };
    JsonRow {
        job: &row.job,
        site: row.site.as_deref(),
        room: row.room.as_deref(),
        verdict: row.verdict(),
        at: judged.map(|judged| utc_time(judged.at_s)),
        blocking: judged.map(|judged| judged.blocking.as_slice()).unwrap_or_default(),
        blocked_by: judged.and_then(|judged| judged.blocked_by.as_deref()),
        earliest_go: row.earliest_go_s().map(utc_time),
        last_pull: row.last_pull_s.map(utc_time),
        last_sample: row.last_sample_s.map(utc_time),
        battery_v: row.battery.map(|battery| f64::from(battery.supply_mv) / 1000.0),
        battery_at: row.battery.map(|battery| utc_time(battery.at_s)),
        battery_low: row.battery.map(|battery| battery.is_low),
        error,
        notes: &row.notes,
    }
}
