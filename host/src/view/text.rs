//! The text of `check`: the verdict first, then what blocks it, what clears when, what is met, then
//! notes and cautions.

use super::local_time;
use super::measure::{Scale, bound_word, in_both};
use super::page::{Lead, Page};
use super::table;
use crate::assess::caution::PRECEDENCE;
use crate::assess::{Assessment, Broken, Judged, Outcome, ZoneAssessment};
use crate::job::Job;
use crate::limits::{LimitId, ResolvedLimits};
use crate::quantity::Units;
use anstyle::{AnsiColor, Style};
use jiff::tz::TimeZone;

/// How many broken spans of one requirement are listed, the last ones.
const BROKEN_SHOWN: usize = 2;
/// How many lines the notes may take, for each room: a go is to fit a small screen.
const NOTE_LINES_GO: usize = 4;
/// And for wait.
const NOTE_LINES_WAIT: usize = 6;

/// Verdict style: bold, and a colour that says no more than the word does.
fn verdict_style(is_go: bool) -> Style {
    let colour = if is_go { AnsiColor::Green } else { AnsiColor::Yellow };
    Style::new().bold().fg_color(Some(colour.into()))
}

/// What the text is written with.
pub(super) struct View<'a> {
    pub(super) page: Page,
    pub(super) units: Units,
    pub(super) zone: &'a TimeZone,
    pub(super) limits: &'a ResolvedLimits,
}

/// What blocks a step: requirements that stand for one cause.
struct Blocker<'a> {
    judged: Vec<&'a Judged>,
}

/// The assessment as text with ANSI styles (the printer takes them off where they are not wanted),
/// wrapped to `width` columns.
#[must_use]
pub fn check(assessment: &Assessment, job: &Job, limits: &ResolvedLimits, width: usize) -> String {
    let mut view = View::new(job, limits, width);
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

/// Whether two requirements have no figures and stand for the same cause.
fn same_cause(a: &Judged, b: &Judged) -> bool {
    let cause = |judged: &Judged| (judged.finding.because.clone(), judged.finding.todo.clone());
    a.finding.outcome != Outcome::Met
        && a.finding.figure.is_none()
        && b.finding.figure.is_none()
        && cause(a) == cause(b)
}

/// What stands in the way of a zone, by cause, in the order in which a contractor would see to it: what
/// has to be done, then what time clears, the last first.
fn blockers(zone: &ZoneAssessment) -> Vec<Blocker<'_>> {
    let mut blockers: Vec<Blocker<'_>> = Vec::new();
    for judged in zone.judged.iter().filter(|j| j.finding.outcome != Outcome::Met) {
        let same = |blocker: &&mut Blocker<'_>| {
            blocker.judged.first().is_some_and(|first| same_cause(first, judged))
        };
        match blockers.iter_mut().find(same) {
            Some(blocker) => blocker.judged.push(judged),
            None => blockers.push(Blocker { judged: vec![judged] }),
        }
    }
    blockers.sort_by_key(|blocker| {
        let clears_s = blocker.clears_s();
        (clears_s.is_some(), clears_s.map(|s| -s), blocker.outcome() == Outcome::NoEvidence)
    });
    blockers
}

impl Blocker<'_> {
    fn first(&self) -> Option<&Judged> {
        self.judged.first().copied()
    }

    fn outcome(&self) -> Outcome {
        self.first().map_or(Outcome::NoEvidence, |judged| judged.finding.outcome)
    }

    fn clears_s(&self) -> Option<i64> {
        self.first()?.finding.clears_at_s
    }

    fn titles(&self) -> String {
        let titles: Vec<&str> = self.judged.iter().map(|j| j.requirement.title).collect();
        titles.join("; ")
    }
}

/// `Hall: wait`
fn room_lead<'a>(label: &'a str, zone: &ZoneAssessment, after: &'a str) -> Lead<'a> {
    let is_go = zone.is_go();
    let word = if is_go { "go" } else { "wait" };
    Lead { label, word, style: verdict_style(is_go), after }
}

/// The outcome in words.
pub(super) const fn words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NoEvidence => "no evidence",
    }
}

/// What to do, without the caution that stands at the end of the page.
pub(super) fn without_caution(todo: &str) -> &str {
    todo.split_once(". CAUTION:").map_or(todo, |(todo, _)| todo)
}

impl<'a> View<'a> {
    pub(super) fn new(job: &'a Job, limits: &'a ResolvedLimits, width: usize) -> Self {
        let (units, zone) = (job.site.units, &job.site.time_zone);
        Self { page: Page::new(width), units, zone, limits }
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
        let worst = all().min_by_key(|(_, blocker)| {
            (blocker.clears_s().is_some(), blocker.clears_s().map(|s| -s))
        });
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
                let todo = todo.map_or("see below", without_caution);
                format!("No date yet. First: {}.", in_both(todo, self.units))
            }
        };
        self.page.text(6, &next);
    }

    /// `not met: concrete old enough (12.0 d, min 28.0 d)`
    fn reason(&self, blocker: &Blocker<'_>) -> String {
        let Some(judged) = blocker.first() else { return String::new() };
        let finding = &judged.finding;
        let title = judged.requirement.title;
        let outcome = words(finding.outcome);
        match &finding.figure {
            Some(figure) => {
                let scale = Scale::of(figure, finding.outcome, self.units);
                format!("{outcome}: {title} ({})", scale.against(figure))
            }
            None => {
                let more = match blocker.judged.len() {
                    1 => String::new(),
                    count => format!(" and {} more", count - 1),
                };
                format!("{outcome}: {title}{more}, {}", in_both(&finding.because, self.units))
            }
        }
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
        let listed = timed > 0 && blockers.len() > 1;
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

    fn blocker(&mut self, blocker: &Blocker<'_>, with_time: bool) {
        let Some(judged) = blocker.first() else { return };
        let finding = &judged.finding;
        // Told apart without colour as well.
        let mark = if finding.outcome == Outcome::NotMet { "  x " } else { "  ? " };
        let figures = finding.figure.as_ref().map(|figure| {
            let scale = Scale::of(figure, finding.outcome, self.units);
            // A figure that is within its limit is not what blocks.
            if figure.is_met() { scale.against(figure) } else { scale.sentence(figure) }
        });
        let titles = blocker.titles();
        let line = figures.map_or_else(|| titles.clone(), |figures| format!("{titles}: {figures}"));
        self.page.labelled(mark, 4, &line);
        let because = in_both(&finding.because, self.units);
        self.page.text(4, &format!("Why: {because}."));
        let hidden = finding.broken.len().saturating_sub(BROKEN_SHOWN);
        for broken in finding.broken.iter().skip(hidden) {
            let text = self.broken(broken, judged);
            self.page.labelled("    - ", 6, &text);
        }
        if hidden > 0 {
            let text = format!("and {hidden} earlier: --why {}", judged.requirement.id);
            self.page.labelled("    - ", 6, &text);
        }
        if let Some(clears_at_s) = finding.clears_at_s.filter(|_| with_time) {
            let at = local_time(clears_at_s, self.zone);
            self.page.text(4, &format!("Clears {at}, if conditions hold."));
        }
        if let Some(todo) = &finding.todo {
            let todo = in_both(without_caution(todo), self.units);
            self.page.text(4, &format!("Now: {todo}."));
        }
    }

    /// What clears when, the first first.
    fn timetable(&mut self, blockers: &[Blocker<'_>]) {
        self.page.heading("Clears, if conditions hold");
        let mut rows: Vec<(Option<i64>, String)> =
            blockers.iter().map(|blocker| (blocker.clears_s(), blocker.titles())).collect();
        rows.sort_by_key(|(clears_s, _)| (clears_s.is_none(), *clears_s));
        let rows: Vec<(String, String)> = rows
            .into_iter()
            .map(|(clears_s, titles)| {
                let when = |clears_s| local_time(clears_s, self.zone);
                (clears_s.map_or_else(|| "when that is done".to_owned(), when), titles)
            })
            .collect();
        let pairs: Vec<_> = rows.iter().map(|(when, what)| (when.as_str(), what.clone())).collect();
        self.page.pairs(2, &pairs);
    }

    /// `Sat 2026-03-14 13:00 to Sun 2026-03-15 04:10: 58.3 %RH, max 50.0 %RH`, the worst value
    pub(super) fn broken(&self, broken: &Broken, judged: &Judged) -> String {
        let (from, to) = (local_time(broken.from_s, self.zone), local_time(broken.to_s, self.zone));
        let span = match (from.rsplit_once(' '), to.rsplit_once(' ')) {
            _ if from == to => from,
            (Some((first_day, _)), Some((day, time))) if first_day == day => {
                format!("{from} to {time}")
            }
            _ => format!("{from} to {to}"),
        };
        if broken.limit == LimitId::GapMax {
            return format!("{span}: no readings");
        }
        let figure = judged.finding.figure.as_ref();
        let tightened = figure.filter(|figure| figure.limit == broken.limit).map(|f| f.bound);
        let bound = tightened.or_else(|| self.limits.value(broken.limit));
        let unit = broken.limit.unit();
        let mut scale =
            Scale::new(unit, broken.worst.abs(), bound.unwrap_or(0.0).abs(), self.units);
        if let Some(bound) = bound {
            scale.part(bound - broken.worst);
        }
        let worst = scale.words(broken.worst, false);
        let Some(bound) = bound else { return format!("{span}: {worst}") };
        let side = bound_word(broken.limit.bound());
        format!("{span}: {worst}, {side} {}", scale.words(bound, false))
    }

    /// What is to be known beside, each once, in a few lines.
    fn notes(&mut self, assessment: &Assessment) {
        let mut notes: Vec<(String, Vec<&str>)> = Vec::new();
        for zone in &assessment.zones {
            let warnings = zone.judged.iter().flat_map(|judged| &judged.finding.warnings);
            for note in zone.log_notes.iter().chain(warnings) {
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
        let each = if assessment.is_go() { NOTE_LINES_GO } else { NOTE_LINES_WAIT };
        let mut left = each * rooms;
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
                self.page.text(2, &format!("- {more} more {word}: --json"));
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
