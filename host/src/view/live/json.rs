//! A refresh of `live` as one line of JSON: SI units, times in UTC, a schema version.

use super::{Line, Reading, Scene, dew_gap_min_k, streaks};
use crate::assess::absent;
use crate::history::Channel;
use crate::view::{blockers, utc_time};
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the object; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Object<'a> {
    schema: u32,
    at: String,
    step: &'static str,
    room: &'a str,
    verdict: &'static str,
    earliest_go: Option<String>,
    blocking: Vec<&'static str>,
    streaks: Vec<JsonStreak>,
    reading: Option<JsonReading>,
    dew_gap_min_k: Option<f64>,
    line: &'static str,
    line_error: Option<&'a str>,
}

#[derive(Serialize)]
struct JsonStreak {
    id: &'static str,
    held_h: f64,
    needed_h: f64,
    met: bool,
}

#[derive(Serialize)]
struct JsonReading {
    at: String,
    slab_c: Option<f64>,
    air_c: Option<f64>,
    air_rh_pct: Option<f64>,
    supply_c: Option<f64>,
    dew_point_c: Option<f64>,
    dew_gap_k: Option<f64>,
    battery_v: Option<f64>,
    /// Why a measurement is missing, by its name.
    missing: BTreeMap<&'static str, &'static str>,
}

/// The scene as one line, without a newline at the end.
///
/// # Errors
/// Only what the JSON writer reports; it has no cause to with these types.
pub fn json(scene: &Scene<'_>) -> Result<String, serde_json::Error> {
    let (assessment, zone) = (scene.assessment, scene.assessment.zones.first());
    let blockers = zone.map(blockers).unwrap_or_default();
    let line_error = match scene.line {
        Line::Lost { why, .. } => Some(why.as_str()),
        _ => None,
    };
    serde_json::to_string(&Object {
        schema: SCHEMA,
        at: utc_time(assessment.at_s),
        step: assessment.step.as_str(),
        room: zone.map_or("", |zone| &zone.name),
        verdict: if assessment.is_go() { "go" } else { "wait" },
        earliest_go: assessment.earliest_go_s().map(utc_time),
        blocking: blockers.iter().flat_map(|blocker| blocker.ids()).collect(),
        streaks: zone.iter().flat_map(|zone| streaks(zone, assessment.at_s)).map(streak).collect(),
        reading: scene.reading.map(reading),
        dew_gap_min_k: zone.and_then(dew_gap_min_k).map(rounded),
        line: scene.line.as_str(),
        line_error,
    })
}

fn streak(streak: super::Streak) -> JsonStreak {
    let (held_h, needed_h) = (rounded(streak.held_h), rounded(streak.needed_h));
    JsonStreak { id: streak.id, held_h, needed_h, met: streak.is_met }
}

fn reading(reading: &Reading) -> JsonReading {
    let [slab_c, air_c, air_rh_pct, supply_c] = reading.values.map(|v| v.ok().map(rounded));
    let missing = Channel::ALL.iter().zip(&reading.values);
    JsonReading {
        at: utc_time(reading.time_s),
        slab_c,
        air_c,
        air_rh_pct,
        supply_c,
        dew_point_c: reading.dew_point_c().map(rounded),
        dew_gap_k: reading.dew_gap_k().map(rounded),
        battery_v: reading.supply_mv.map(|mv| f64::from(mv) / 1000.0),
        missing: missing.filter_map(|(c, v)| Some((c.name(), absent(v.err()?)))).collect(),
    }
}

/// To a thousandth: finer than any probe, and free of the noise of binary fractions.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
