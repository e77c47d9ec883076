//! The result of a check, and its figures, in words and as JSON.

use crate::job::{channel_name, method_name};
use crate::limits::{LimitId, LimitUnit};
use crate::probe_check::{Method, Outcome, Plan, Window};
use crate::quantity::Units;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Document<'a> {
    schema: u32,
    room: Option<&'a str>,
    channel: &'static str,
    method: &'static str,
    salt: Option<&'static str>,
    reference: f64,
    reading: f64,
    error: f64,
    limit: f64,
    unit: LimitUnit,
    temperature_c: Option<f64>,
    within: bool,
    samples: usize,
    watched_s: u32,
    written: bool,
}

pub(super) fn document<'a>(
    plan: &Plan,
    room: Option<&'a str>,
    window: &Window,
    outcome: &Outcome,
    written: bool,
) -> Document<'a> {
    Document {
        schema: 1,
        room,
        channel: channel_name(plan.channel()),
        method: method_name(plan.check_method()),
        salt: match plan.method() {
            Method::Salt(salt) => Some(salt.formula()),
            _ => None,
        },
        reference: outcome.reference.value,
        reading: outcome.reading.value,
        error: outcome.error,
        limit: outcome.limit,
        unit: if plan.is_humidity() { LimitUnit::PercentRh } else { LimitUnit::Celsius },
        temperature_c: outcome.temperature.as_ref().map(|written| written.value),
        within: outcome.within,
        samples: window.samples,
        watched_s: window.span_s,
        written,
    }
}

/// The result in lines for people.
pub(super) fn lines(
    plan: &Plan,
    room: Option<&str>,
    window: &Window,
    outcome: &Outcome,
    units: Units,
) -> String {
    let place = room.map(|room| format!("{room}, ")).unwrap_or_default();
    let against = match plan.method() {
        Method::Ice => "melting ice".to_owned(),
        Method::Comparison(_) => "the reference instrument".to_owned(),
        Method::Salt(salt) => {
            let at = outcome.temperature.as_ref().map(|jar| format!(" at {}", jar.text));
            format!("{}{}", salt.formula(), at.unwrap_or_default())
        }
    };
    let source = match plan.method() {
        Method::Ice => " (ice point, ASTM E563, seen second hand)".to_owned(),
        Method::Comparison(_) => " (as typed)".to_owned(),
        Method::Salt(salt) => format!(
            " (Greenspan 1977, known to {:.2} %RH near 20 to 25 °C)",
            salt.uncertainty_pct()
        ),
    };
    let within = if outcome.within { "within" } else { "NOT within" };
    let shown = |id: LimitId, value| id.unit().show(value, units);
    format!(
        "{place}{} probe against {against}\n\
         reference  {}{source}\n\
         reading    {} (mean of {} samples over {} min)\n\
         error      {}, {within} the limit of {}\n",
        channel_name(plan.channel()),
        outcome.reference.text,
        outcome.reading.text,
        window.samples,
        window.span_s / 60,
        signed(outcome.error, plan.is_humidity(), units),
        shown(plan.limit(), outcome.limit),
    )
}

/// A difference with two decimals: bys are a tenth of what is usually shown.
pub(super) fn amount(value: f64, humidity: bool, units: Units) -> String {
    match (humidity, units) {
        (true, _) => format!("{value:.2} %RH"),
        (false, Units::Metric) => format!("{value:.2} °C"),
        (false, Units::Us) => format!("{:.2} °F", value * 1.8),
    }
}

/// A difference with its sign, never `-0.00`.
fn signed(value: f64, humidity: bool, units: Units) -> String {
    let sign = if value < -0.005 { "-" } else { "+" };
    format!("{sign}{}", amount(value.abs(), humidity, units))
}

/// A length of time with the unit that suits it, as `--watch` would take it from a minute up.
pub(super) fn show_span(seconds: u32) -> String {
    match seconds {
        ..60 => format!("{seconds} s"),
        7200.. if seconds.is_multiple_of(3600) => format!("{} h", seconds / 3600),
        _ if seconds.is_multiple_of(60) => format!("{} min", seconds / 60),
        _ => format!("{:.1} min", f64::from(seconds) / 60.0),
    }
}
