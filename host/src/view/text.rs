//! The text of `check`: the verdict first, then what blocks it, what clears when, what is met, then
//! notes and cautions.

use super::blocker::blockers;
use super::local_time;
use super::measure::in_both;
use super::page::{Lead, Page};
use super::table;
use crate::assess::caution::PRECEDENCE;
use crate::assess::marks::without_marks;
use crate::assess::{Assessment, Judged, Outcome, ZoneAssessment};
use crate::job::Job;
use crate::limits::ResolvedLimits;
use crate::quantity::Units;
use anstyle::{AnsiColor, Style};
use jiff::tz::TimeZone;

/// How much is shown beside the figures.
#[derive(Clone, Copy)]
pub(super) struct Detail {
    /// How many broken spans of one requirement are listed, the last ones.
    pub(super) spans: usize,
    /// How many lines the notes may take, for each room.
    pub(super) note_lines: usize,
    /// Whether what clears when has a list of its own, where there is more than one.
    pub(super) timetable: bool,
    /// Whether what is said of one cause stands in one paragraph.
    pub(super) dense: bool,
}

/// From much detail to little.
const DETAILS: [Detail; 5] = [
    Detail { spans: 3, note_lines: 6, timetable: true, dense: false },
    Detail { spans: 2, note_lines: 4, timetable: true, dense: false },
    Detail { spans: 1, note_lines: 4, timetable: true, dense: false },
    Detail { spans: 1, note_lines: 3, timetable: false, dense: false },
    Detail { spans: 0, note_lines: 1, timetable: false, dense: true },
];
/// Lines that a go of one room takes at most: more do not go onto a photo of the screen.
const LINES_GO: usize = 30;
/// Lines that a wait of one room for one or two causes takes at most.
const LINES_WAIT: usize = 45;
/// And each further cause.
const LINES_MORE: usize = 7;

/// Verdict style: bold, and a colour that says no more than the word does.
pub(super) fn verdict_style(is_go: bool) -> Style {
    let colour = if is_go { AnsiColor::Green } else { AnsiColor::Yellow };
    Style::new().bold().fg_color(Some(colour.into()))
}

/// What the text is written with.
pub(crate) struct View<'a> {
    pub(super) page: Page,
    pub(super) units: Units,
    pub(super) zone: &'a TimeZone,
    pub(super) limits: &'a ResolvedLimits,
    pub(super) detail: Detail,
}

/// The assessment as text with ANSI styles (the printer takes them off where they are not wanted),
/// wrapped to `width` columns.
#[must_use]
pub fn check(assessment: &Assessment, job: &Job, limits: &ResolvedLimits, width: usize) -> String {
    let room = |zone: &ZoneAssessment| match blockers(zone).len() {
        0 => LINES_GO,
        causes => LINES_WAIT + causes.saturating_sub(2) * LINES_MORE,
    };
    let most: usize = assessment.zones.iter().map(room).sum();
    let mut text = String::new();
    for detail in DETAILS {
        text = in_detail(assessment, View { detail, ..View::new(job, limits, width) }, job);
        if text.lines().count() <= most {
            break;
        }
    }
    text
}

fn in_detail(assessment: &Assessment, mut view: View<'_>, job: &Job) -> String {
    let several = assessment.zones.len() > 1;
    view.headline(assessment, job);
    if several {
        view.rooms(assessment);
    }
    for zone in &assessment.zones {
        view.zone(zone, several);
    }
    view.notes(assessment);
    view.cautions(assessment);
    view.page.out
}

/// `Hall: wait`
fn room_lead<'a>(label: &'a str, zone: &ZoneAssessment, after: &'a str) -> Lead<'a> {
    let is_go = zone.is_go();
    let word = if is_go { "go" } else { "wait" };
    Lead { label, word, style: verdict_style(is_go), after }
}

/// The outcome in words.
pub(crate) const fn words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NoEvidence => "no evidence",
    }
}

impl<'a> View<'a> {
    pub(crate) fn new(job: &'a Job, limits: &'a ResolvedLimits, width: usize) -> Self {
        let (units, zone) = (job.site.units, &job.site.time_zone);
        Self { page: Page::new(width), units, zone, limits, detail: DETAILS[0] }
    }

    /// `WAIT  glue down the floor: Lot 7, 1 room, Mon 2026-11-16 08:00`, and for wait why and how long.
    fn headline(&mut self, assessment: &Assessment, job: &Job) {
        let is_go = assessment.is_go();
        let word = if is_go { "GO" } else { "WAIT" };
        let rooms = match assessment.zones.len() {
            1 => "1 room".to_owned(),
            count => format!("{count} rooms"),
        };
        let at = local_time(assessment.at_s, self.zone);
        let text = format!("{}: {}, {rooms}, {at}", assessment.step.words(), job.site.name);
        let lead = Lead { label: "", word, style: verdict_style(is_go), after: "  " };
        self.page.led(&lead, 6, &text);
        if is_go {
            return;
        }
        let all = || {
            assessment
                .zones
                .iter()
                .flat_map(|zone| blockers(zone).into_iter().map(move |blocker| (zone, blocker)))
        };
        let several = assessment.zones.len() > 1;
        // What has to be done decides; where nothing has, what takes longest.
        let worst = all().min_by_key(|(_, blocker)| blocker.rank());
        let Some((zone, blocker)) = worst else {
            return self.page.text(6, "No room is known: nothing can be judged.");
        };
        let room = if several { format!("{}: ", zone.name) } else { String::new() };
        self.page.text(6, &format!("{room}{}.", self.reason(&blocker)));
        let next = match (assessment.earliest_go_s(), blocker.first()) {
            (Some(at_s), _) => {
                format!("Earliest go: {}, if conditions hold.", local_time(at_s, self.zone))
            }
            (None, judged) => {
                let todo = judged.and_then(|judged| judged.finding.todo.as_deref());
                let todo = todo.unwrap_or("see below");
                format!("No date yet. First: {}.", in_both(todo, self.units))
            }
        };
        self.page.text(6, &next);
    }

    /// A line for each room.
    fn rooms(&mut self, assessment: &Assessment) {
        self.page.gap();
        for zone in &assessment.zones {
            let blockers = blockers(zone);
            let text = match blockers.split_first() {
                None => String::new(),
                Some((first, [])) => self.reason(first),
                Some((first, others)) => {
                    format!("{} (and {} more)", self.reason(first), others.len())
                }
            };
            let label = format!("  {}: ", zone.name);
            let after = if text.is_empty() { "" } else { ", " };
            self.page.led(&room_lead(&label, zone, after), 6, &text);
        }
    }

    fn zone(&mut self, zone: &ZoneAssessment, several: bool) {
        self.page.gap();
        if several {
            self.page.led(&room_lead(&format!("{}: ", zone.name), zone, ""), 2, "");
        }
        let blockers = blockers(zone);
        let timed = blockers.iter().filter(|blocker| blocker.clears_s().is_some()).count();
        let listed = self.detail.timetable && timed > 0 && blockers.len() > 1;
        for (outcome, heading) in [
            (Outcome::NotMet, "Not met"),
            (Outcome::NoEvidence, "No evidence: not known, so it cannot count as met"),
        ] {
            let of_outcome: Vec<_> = blockers.iter().filter(|b| b.outcome() == outcome).collect();
            if !of_outcome.is_empty() {
                self.page.heading(heading);
            }
            for blocker in of_outcome {
                self.blocker(blocker, !listed);
            }
        }
        if listed {
            self.timetable(&blockers);
        }
        let met: Vec<&Judged> =
            zone.judged.iter().filter(|j| j.finding.outcome == Outcome::Met).collect();
        if !met.is_empty() {
            table::write(&mut self.page, "Met", &met, self.units);
        }
    }

    /// What is to be known beside, each once, in a few lines.
    fn notes(&mut self, assessment: &Assessment) {
        let mut notes: Vec<(String, Vec<&str>)> = Vec::new();
        for zone in &assessment.zones {
            let warnings = zone.judged.iter().flat_map(|judged| &judged.finding.warnings);
            let unmarked = without_marks(&zone.marks);
            for note in zone.log_notes.iter().chain(warnings).chain(&unmarked) {
                let text = in_both(note, self.units);
                match notes.iter_mut().find(|(told, _)| *told == text) {
                    Some((_, rooms)) if rooms.contains(&zone.name.as_str()) => {}
                    Some((_, rooms)) => rooms.push(&zone.name),
                    None => notes.push((text, vec![&zone.name])),
                }
            }
        }
        if notes.is_empty() {
            return;
        }
        self.page.heading("Notes");
        let rooms = assessment.zones.len();
        let mut left = self.detail.note_lines * rooms;
        let count = notes.len();
        for (i, (note, of)) in notes.into_iter().enumerate() {
            let text = if of.len() == rooms { note } else { format!("{}: {note}", of.join(", ")) };
            let mut trial = Page { out: String::new(), width: self.page.width };
            trial.labelled("  - ", 4, &text);
            let lines = trial.out.lines().count();
            // The last line is kept for the number of those that are left out.
            let keep = usize::from(i + 1 < count);
            if lines + keep > left {
                let more = count - i;
                let word = if more == 1 { "note" } else { "notes" };
                let more = if i == 0 { more.to_string() } else { format!("{more} more") };
                self.page.text(2, &format!("- {more} {word}: --json"));
                return;
            }
            left -= lines;
            self.page.out.push_str(&trial.out);
        }
    }

    fn cautions(&mut self, assessment: &Assessment) {
        self.page.heading("Caution");
        for caution in assessment.cautions() {
            self.page.labelled("  - ", 4, caution.text);
        }
        self.page.text(2, PRECEDENCE.text);
    }
}
