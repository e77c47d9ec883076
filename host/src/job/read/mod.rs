//! From the text of a job file to a [`Job`].

mod evidence;
mod products;
mod site;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use toml::de::DeTable;

use super::diagnose::{JobErrors, Sink, suggest};
use super::model::{Job, SCHEMA};
use super::section::{Placed, Section};
use super::time::local_date;
use crate::quantity::{Length, Quantity};

/// Reads a job file; every error that can be found is found.
pub(super) fn job(text: &str, file: &str) -> Result<Job, JobErrors> {
    let sink = Sink::new(text, file);
    let (document, syntax_errors) = DeTable::parse_recoverable(text);
    for error in &syntax_errors {
        sink.report_syntax(error.span().map_or(0, |span| span.start), error.message());
    }
    let root = Section::root(&sink, document.get_ref());
    let job = sections(&root);
    root.close();
    sink.finish(job)
}

/// What the sections need to know of each other.
struct Context {
    /// Time zone of the site; UTC while it is not known, which is an error anyway.
    zone: TimeZone,
    /// Names of the rooms.
    rooms: Vec<String>,
    /// Day of the pour.
    poured: Option<Date>,
    /// Thickness of the concrete.
    thickness: Option<Length>,
}

fn sections(root: &Section<'_>) -> Option<Job> {
    let site = site::site(root);
    let zone = site.as_ref().map_or(TimeZone::UTC, |site| site.time_zone.clone());
    let concrete = site::concrete(root);
    let (poured, thickness) = (concrete.poured, concrete.thickness);
    let mut context = Context { zone, rooms: Vec::new(), poured, thickness };
    let milestones = site::job_milestones(root, &context);
    let zones = site::rooms(root, &context, &milestones);
    context.rooms = zones.iter().map(|zone| zone.name.clone()).collect();
    let job = Job {
        schema: SCHEMA,
        zones,
        concrete,
        in_situ_tests: evidence::in_situ_tests(root, &context),
        calcium_chloride_tests: evidence::calcium_chloride_tests(root, &context),
        wood: products::wood(root),
        meter_readings: evidence::meter_readings(root, &context),
        barrier: products::barrier(root),
        adhesive: products::adhesive(root),
        heating: site::heating(root, &context),
        milestones: milestones.bare(),
        probes: evidence::probes(root, &context),
        limit_overrides: evidence::limit_overrides(root),
        // Last, because only a known site makes a job; what is wrong elsewhere is reported by now.
        site: site?,
    };
    Some(job)
}

impl Context {
    /// The room that a section names, when it names one.
    fn room(&self, section: &Section<'_>) -> Option<String> {
        let room = section.text("room")?;
        if !self.rooms.contains(&room.value) {
            let names: Vec<&str> = self.rooms.iter().map(String::as_str).collect();
            let fix = match names.as_slice() {
                [] => "add a [[room]] of that name".to_owned(),
                names => suggest(&room.value, names),
            };
            section.sink.report(room.at, format!("there is no room `{}`", room.value), fix);
        }
        Some(room.value)
    }

    /// Reports a time on a day before the pour.
    fn after_pour(&self, section: &Section<'_>, name: &str, time: &Option<Placed<Timestamp>>) {
        if let (Some(poured), Some(time)) = (self.poured, time) {
            self.date_after_pour(
                section,
                name,
                poured,
                local_date(time.value, &self.zone),
                time.at,
            );
        }
    }

    fn date_after_pour(
        &self,
        section: &Section<'_>,
        name: &str,
        poured: Date,
        date: Date,
        at: usize,
    ) {
        if date < poured {
            section.sink.report(
                at,
                format!("`{name}` is on {date}, before the concrete was poured ({poured})"),
                "check this date and `poured` in [concrete]",
            );
        }
    }
}

/// Reports a time that is earlier than one that must come first.
fn check_order(
    sink: &Sink<'_>,
    (first_name, first): (&str, &Option<Placed<Timestamp>>),
    (then_name, then): (&str, &Option<Placed<Timestamp>>),
) {
    if let (Some(first), Some(then)) = (first, then)
        && then.value < first.value
    {
        sink.report(
            then.at,
            format!("`{then_name}` is earlier than `{first_name}`"),
            "check both dates and times",
        );
    }
}

/// Reports an upper limit that is below its lower one.
fn check_range<Q: Quantity>(
    sink: &Sink<'_>,
    (low_name, low): (&str, &Option<Placed<Q>>),
    (high_name, high): (&str, &Option<Placed<Q>>),
) {
    if let (Some(low), Some(high)) = (low, high)
        && high.value.held() < low.value.held()
    {
        sink.report(
            high.at,
            format!("`{high_name}` is below `{low_name}`"),
            "check both against the data sheet",
        );
    }
}
