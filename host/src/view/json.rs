//! The JSON of `check`: one document, SI units, times in UTC, a schema version.

use super::marks::JsonPairing;
use super::utc_time;
use super::why::limits_of;
use crate::assess::caution::{Caution, PRECEDENCE};
use crate::assess::{Assessment, Broken, Finding, Judged, ZoneAssessment};
use crate::limits::{Layer, ResolvedLimit, ResolvedLimits, Status};
use serde::Serialize;

/// Version of the document; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    verdict: &'static str,
    step: &'static str,
    at: String,
    earliest_go: Option<String>,
    zones: Vec<Zone<'a>>,
    cautions: Vec<Caution>,
}

/// The answer to `--why`.
#[derive(Serialize)]
struct Explained<'a> {
    schema: u32,
    verdict: &'static str,
    step: &'static str,
    at: String,
    zones: Vec<ExplainedZone<'a>>,
}

#[derive(Serialize)]
struct ExplainedZone<'a> {
    name: &'a str,
    requirements: Vec<ExplainedRequirement<'a>>,
}

#[derive(Serialize)]
struct ExplainedRequirement<'a> {
    #[serde(flatten)]
    requirement: Requirement<'a>,
    rule: &'static str,
    /// The limits that it speaks of, with the layers that gave way.
    layers: Vec<&'a ResolvedLimit>,
}

#[derive(Serialize)]
struct Zone<'a> {
    name: &'a str,
    verdict: &'static str,
    earliest_go: Option<String>,
    requirements: Vec<Requirement<'a>>,
    log_notes: &'a [String],
    marks: Vec<JsonPairing>,
}

#[derive(Serialize)]
struct Requirement<'a> {
    id: &'static str,
    title: &'static str,
    outcome: &'static str,
    limit_id: Option<&'static str>,
    observed: Option<f64>,
    limit: Option<f64>,
    margin: Option<f64>,
    guard: Option<f64>,
    unit: Option<&'static str>,
    layer: Option<Layer>,
    source: Option<&'a str>,
    source_status: Option<Status>,
    clears_at: Option<String>,
    because: &'a str,
    todo: Option<&'a str>,
    warnings: &'a [String],
    broken: Vec<BrokenSpan>,
}

#[derive(Serialize)]
struct BrokenSpan {
    from: String,
    to: String,
    worst: f64,
    limit_id: &'static str,
    unit: &'static str,
}

/// The assessment as a JSON document, indented, without a newline at the end.
///
/// # Errors
/// Only what the JSON writer reports; it has no cause to with these types.
pub fn check(assessment: &Assessment) -> Result<String, serde_json::Error> {
    serde_json::to_string_pretty(&document(assessment))
}

/// The same, to be put into another document.
///
/// # Errors
/// As [`check`].
pub fn check_value(assessment: &Assessment) -> Result<serde_json::Value, serde_json::Error> {
    serde_json::to_value(document(assessment))
}

fn document(assessment: &Assessment) -> Document<'_> {
    Document {
        schema: SCHEMA,
        verdict: verdict(assessment.is_go()),
        step: assessment.step.as_str(),
        at: utc_time(assessment.at_s),
        earliest_go: assessment.earliest_go_s().map(utc_time),
        zones: assessment.zones.iter().map(|zone| self::zone(zone, assessment.at_s)).collect(),
        cautions: assessment.cautions().into_iter().chain([PRECEDENCE]).collect(),
    }
}

/// The requirements of these ids alone, with their rules and the layers of their limits.
///
/// # Errors
/// As [`check`].
pub fn why(
    assessment: &Assessment,
    limits: &ResolvedLimits,
    ids: &[String],
) -> Result<String, serde_json::Error> {
    let document = Explained {
        schema: SCHEMA,
        verdict: verdict(assessment.is_go()),
        step: assessment.step.as_str(),
        at: utc_time(assessment.at_s),
        zones: assessment
            .zones
            .iter()
            .map(|zone| ExplainedZone {
                name: &zone.name,
                requirements: explained(zone, limits, ids),
            })
            .collect(),
    };
    serde_json::to_string_pretty(&document)
}

fn explained<'a>(
    zone: &'a ZoneAssessment,
    limits: &'a ResolvedLimits,
    ids: &[String],
) -> Vec<ExplainedRequirement<'a>> {
    let asked = zone.judged.iter().filter(|j| ids.iter().any(|id| id == j.requirement.id));
    asked
        .map(|judged| ExplainedRequirement {
            requirement: requirement(judged),
            rule: judged.requirement.rule,
            layers: limits_of(judged).into_iter().filter_map(|id| limits.get(id)).collect(),
        })
        .collect()
}

fn verdict(is_go: bool) -> &'static str {
    if is_go { "go" } else { "wait" }
}

fn zone(zone: &ZoneAssessment, at_s: i64) -> Zone<'_> {
    Zone {
        name: &zone.name,
        verdict: verdict(zone.is_go()),
        earliest_go: zone.earliest_go_s(at_s).map(utc_time),
        requirements: zone.judged.iter().map(requirement).collect(),
        log_notes: &zone.log_notes,
        marks: zone.marks.iter().map(JsonPairing::from).collect(),
    }
}

fn requirement(judged: &Judged) -> Requirement<'_> {
    let Finding { outcome, figure, clears_at_s, broken, because, todo, warnings } = &judged.finding;
    let figure = figure.as_ref();
    Requirement {
        id: judged.requirement.id,
        title: judged.requirement.title,
        outcome: outcome.as_str(),
        limit_id: figure.map(|f| f.limit.as_str()),
        observed: figure.map(|f| rounded(f.observed)),
        limit: figure.map(|f| rounded(f.bound)),
        margin: figure.map(|f| rounded(f.margin)),
        guard: figure.map(|f| rounded(f.guard)),
        unit: figure.map(|f| f.unit.as_str()),
        layer: figure.map(|f| f.layer),
        source: figure.map(|f| f.source.as_str()),
        source_status: figure.and_then(|f| f.status),
        clears_at: clears_at_s.map(utc_time),
        because,
        todo: todo.as_deref(),
        warnings,
        broken: broken.iter().map(broken_span).collect(),
    }
}

fn broken_span(broken: &Broken) -> BrokenSpan {
    BrokenSpan {
        from: utc_time(broken.from_s),
        to: utc_time(broken.to_s),
        worst: rounded(broken.worst),
        limit_id: broken.limit.as_str(),
        unit: broken.limit.unit().as_str(),
    }
}

/// To a thousandth: finer than any probe, and free of the noise of binary fractions.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}
