//! Marks of the log beside the milestones of the job file, as a table and as JSON.

use super::page::Page;
use super::{local_time, utc_time};
use crate::assess::marks::{Pairing, mark_name};
use crate::assess::{Assessment, show_age};
use crate::job::Job;
use serde::Serialize;

/// Version of the document; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    at: String,
    rooms: Vec<Room<'a>>,
}

#[derive(Serialize)]
struct Room<'a> {
    name: &'a str,
    marks: Vec<JsonPairing>,
}

/// A milestone, a mark, or both.
#[derive(Serialize)]
pub(super) struct JsonPairing {
    agreement: &'static str,
    milestone: Option<&'static str>,
    job_file: Option<String>,
    mark: Option<&'static str>,
    marked: Option<String>,
    /// By how many seconds the mark is later.
    off_s: Option<i64>,
}

impl From<&Pairing> for JsonPairing {
    fn from(pairing: &Pairing) -> Self {
        Self {
            agreement: pairing.agreement().as_str(),
            milestone: pairing.milestone.map(|it| mark_name(it.0)),
            job_file: pairing.milestone.map(|it| utc_time(it.1)),
            mark: pairing.mark.map(|it| mark_name(it.0)),
            marked: pairing.mark.map(|it| utc_time(it.1)),
            off_s: pairing.off_s(),
        }
    }
}

/// As a JSON document, indented, without a newline at the end.
///
/// # Errors
/// Only what the JSON writer reports; it has no cause to with these types.
pub fn json(assessment: &Assessment) -> Result<String, serde_json::Error> {
    let room = |zone: &crate::assess::ZoneAssessment| -> Vec<JsonPairing> {
        zone.marks.iter().map(JsonPairing::from).collect()
    };
    let rooms = assessment.zones.iter().map(|zone| Room { name: &zone.name, marks: room(zone) });
    let at = utc_time(assessment.at_s);
    serde_json::to_string_pretty(&Document { schema: SCHEMA, at, rooms: rooms.collect() })
}

/// As text for so many columns.
#[must_use]
pub fn text(assessment: &Assessment, job: &Job, width: usize) -> String {
    let mut page = Page::new(width);
    for (i, zone) in assessment.zones.iter().enumerate() {
        if i > 0 {
            page.gap();
        }
        page.heading(&format!("{}: marks of the log, and the job file", zone.name));
        if zone.marks.is_empty() {
            page.text(2, "no mark in the log, and no milestone in the job file");
        }
        for pairing in &zone.marks {
            page.labelled("  - ", 4, &line(pairing, job));
        }
    }
    page.gap();
    page.text(0, "The job file counts. A mark only bears it out, or shows where to look again.");
    page.out
}

/// `glue-started: marked Mon 2026-03-16 08:10, job file Mon 2026-03-16 08:00, 10 min later: agrees`
fn line(pairing: &Pairing, job: &Job) -> String {
    let local = |time_s| local_time(time_s, &job.site.time_zone);
    let marked = pairing.mark.map(|(kind, time_s)| match kind {
        glueday_types::MarkKind::Button => format!("button {}", local(time_s)),
        _ => format!("marked {}", local(time_s)),
    });
    let told = pairing.milestone.map(|(_, time_s)| format!("job file {}", local(time_s)));
    let off = pairing.off_s().map(|off_s| match off_s {
        0 => "the same time".to_owned(),
        1.. => format!("{} later", show_age(off_s)),
        _ => format!("{} earlier", show_age(-off_s)),
    });
    let name = pairing.milestone.or(pairing.mark).map_or("", |it| mark_name(it.0));
    let parts: Vec<String> = [marked, told, off].into_iter().flatten().collect();
    let agreement = match pairing.agreement().as_str() {
        "no-mark" => "no mark",
        "not-in-job" => "not in the job file",
        other => other,
    };
    format!("{name}: {}: {agreement}", parts.join(", "))
}
