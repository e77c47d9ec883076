//! The text of `check`: the verdict first, then what blocks it, then what is met.

use super::local_time;
use crate::assess::{Assessment, Broken, Figure, Judged, Outcome, ZoneAssessment};
use crate::job::Job;
use crate::limits::{Bound, Layer, LimitId, LimitUnit, ResolvedLimits, Sheet};
use crate::quantity::Units;
use anstyle::{AnsiColor, Style};
use jiff::tz::TimeZone;
use std::fmt::Write as _;

/// How many broken spans of one requirement are listed, the last ones.
const BROKEN_SHOWN: usize = 3;

/// Verdict style: bold, and a colour that says no more than the word does.
fn verdict_style(is_go: bool) -> Style {
    let colour = if is_go { AnsiColor::Green } else { AnsiColor::Yellow };
    Style::new().bold().fg_color(Some(colour.into()))
}

struct View<'a> {
    out: String,
    units: Units,
    zone: &'a TimeZone,
    limits: &'a ResolvedLimits,
    width: usize,
}

/// The assessment as text with ANSI styles (the printer takes them off where they are not wanted),
/// wrapped to `width` columns.
#[must_use]
pub fn check(assessment: &Assessment, job: &Job, limits: &ResolvedLimits, width: usize) -> String {
    let mut view = View::new(job, limits, width);
    view.headline(assessment, job);
    for zone in &assessment.zones {
        view.zone(zone, assessment.zones.len() > 1);
    }
    if assessment.zones.is_empty() {
        view.line(0, "No room of the job has a log: nothing can be judged.");
    }
    view.out
}

/// One requirement explained: rule, formula, figures, spans and the layers of its limit.
#[must_use]
pub fn why(
    judged: &Judged,
    zone_name: &str,
    job: &Job,
    limits: &ResolvedLimits,
    width: usize,
) -> String {
    let mut view = View::new(job, limits, width);
    let requirement = judged.requirement;
    view.line(0, &format!("{} ({}), room {zone_name}", requirement.title, requirement.id));
    view.line(0, &format!("outcome: {}", words(judged.finding.outcome)));
    view.line(0, &format!("because: {}", judged.finding.because));
    view.line(0, &format!("rule: {}", requirement.rule));
    if let Some(figure) = &judged.finding.figure {
        view.figure_in_full(figure);
    }
    if let Some(clears_at_s) = judged.finding.clears_at_s {
        let at = local_time(clears_at_s, view.zone);
        view.line(0, &format!("clears: {at}, if conditions hold"));
    }
    if !judged.finding.broken.is_empty() {
        view.line(0, "broken:");
        for broken in &judged.finding.broken {
            let text = view.broken(broken, judged.finding.figure.as_ref());
            view.line(2, &text);
        }
    }
    if let Some(todo) = &judged.finding.todo {
        view.line(0, &format!("to do: {todo}"));
    }
    for warning in &judged.finding.warnings {
        view.line(0, &format!("note: {warning}"));
    }
    view.out
}

/// Whether two requirements have no figures and stand for the same cause.
fn same_cause(a: &Judged, b: &Judged) -> bool {
    let cause = |judged: &Judged| (judged.finding.because.clone(), judged.finding.todo.clone());
    a.finding.outcome != Outcome::Met
        && a.finding.figure.is_none()
        && b.finding.figure.is_none()
        && cause(a) == cause(b)
}

fn words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::NotMet => "not met",
        Outcome::NoEvidence => "no evidence",
    }
}

impl<'a> View<'a> {
    fn new(job: &'a Job, limits: &'a ResolvedLimits, width: usize) -> Self {
        Self {
            out: String::new(),
            units: job.site.units,
            zone: &job.site.time_zone,
            limits,
            width: width.clamp(40, 120),
        }
    }

    fn headline(&mut self, assessment: &Assessment, job: &Job) {
        let is_go = assessment.is_go();
        let style = verdict_style(is_go);
        let word = if is_go { "GO" } else { "WAIT" };
        let step = assessment.step.words();
        let _ = writeln!(self.out, "{style}{word}{style:#}  {step}");
        let at = local_time(assessment.at_s, self.zone);
        self.line(6, &format!("{}, {at}", job.site.name));
        if !is_go {
            let earliest = match assessment.earliest_go_s() {
                Some(at_s) => {
                    format!("earliest go: {}, if conditions hold", local_time(at_s, self.zone))
                }
                None => "no time can be given: something has to be done first".to_owned(),
            };
            self.line(6, &earliest);
        }
    }

    fn zone(&mut self, zone: &ZoneAssessment, several: bool) {
        let style = verdict_style(zone.is_go());
        let word = if zone.is_go() { "go" } else { "wait" };
        if several {
            let _ = writeln!(self.out, "\n{}: {style}{word}{style:#}", zone.name);
        } else {
            let _ = writeln!(self.out, "\n{}", zone.name);
        }
        for outcome in [Outcome::NotMet, Outcome::NoEvidence, Outcome::Met] {
            let of_outcome = || zone.judged.iter().filter(move |j| j.finding.outcome == outcome);
            if of_outcome().next().is_none() {
                continue;
            }
            let _ = writeln!(self.out, " {}", words(outcome));
            // Those that say the same are said once: a probe that is missing blocks many.
            let mut told: Vec<&Judged> = Vec::new();
            for judged in of_outcome() {
                if told.iter().any(|other| same_cause(other, judged)) {
                    continue;
                }
                let same: Vec<&Judged> =
                    of_outcome().filter(|other| same_cause(other, judged)).collect();
                for other in same.split_last().map_or(&[][..], |(_, others)| others) {
                    self.line(3, &format!("- {}", other.requirement.title));
                }
                self.judged(same.last().unwrap_or(&judged));
                told.push(judged);
            }
        }
        if !zone.log_notes.is_empty() {
            let _ = writeln!(self.out, " about the log");
            for note in &zone.log_notes {
                self.line(3, &format!("- {note}"));
            }
        }
    }

    fn judged(&mut self, judged: &Judged) {
        let finding = &judged.finding;
        let figures = finding.figure.as_ref().map(|figure| self.figure(figure));
        let line = match figures {
            Some(figures) => format!("- {}: {figures}", judged.requirement.title),
            None => format!("- {}", judged.requirement.title),
        };
        self.line(3, &line);
        if finding.outcome != Outcome::Met {
            self.line(5, &finding.because);
            let hidden = finding.broken.len().saturating_sub(BROKEN_SHOWN);
            if hidden > 0 {
                self.line(
                    5,
                    &format!("{hidden} earlier spans are shown by --why {}", judged.requirement.id),
                );
            }
            for broken in finding.broken.iter().skip(hidden) {
                let text = self.broken(broken, finding.figure.as_ref());
                self.line(5, &text);
            }
            if let Some(clears_at_s) = finding.clears_at_s {
                let at = local_time(clears_at_s, self.zone);
                self.line(5, &format!("clears {at}, if conditions hold"));
            }
            if let Some(todo) = &finding.todo {
                self.line(5, &format!("to do: {todo}"));
            }
        }
        for warning in &finding.warnings {
            self.line(5, &format!("note: {warning}"));
        }
    }

    /// `31.2 h, at least 48 h, short by 16.8 h`
    fn figure(&self, figure: &Figure) -> String {
        let show = |value: f64| figure.unit.show(value, self.units);
        let bound = bound_words(figure.limit.bound());
        let margin = margin_unit(figure.unit).show(figure.margin.abs(), self.units);
        let margin = match (figure.is_met(), figure.limit.bound()) {
            (true, _) => format!("{margin} to spare"),
            (false, Bound::AtMost) => format!("{margin} too much"),
            (false, _) => format!("{margin} short"),
        };
        format!("{}, {bound} {}, {margin}", show(figure.observed), show(figure.bound))
    }

    fn figure_in_full(&mut self, figure: &Figure) {
        let text = self.figure(figure);
        self.line(0, &format!("figures: {text}"));
        if figure.guard > 0.0 {
            let guard = margin_unit(figure.unit).show(figure.guard, self.units);
            self.line(
                0,
                &format!("the limit is tightened by {guard}, the expanded uncertainty (k = 2)"),
            );
        }
        let status = figure.status.map_or(String::new(), |status| format!(" [{status}]"));
        let layer = layer_words(figure.layer);
        self.line(0, &format!("limit {}: {layer}: {}{status}", figure.limit, figure.source));
        let Some(limit) = self.limits.get(figure.limit) else { return };
        if let Some(reason) = &limit.reason {
            self.line(2, &format!("set by the job because: {reason}"));
        }
        for passed in &limit.displaced {
            let value = limit.unit.show(passed.value, self.units);
            let layer = layer_words(passed.layer);
            self.line(2, &format!("in place of {value}: {layer}: {}", passed.source));
        }
    }

    /// `Sat 2026-03-14 13:00 to Sun 2026-03-15 04:10: 58.3 %RH, at most 50.0 %RH`, the worst value
    fn broken(&self, broken: &Broken, figure: Option<&Figure>) -> String {
        let (from, to) = (local_time(broken.from_s, self.zone), local_time(broken.to_s, self.zone));
        let span = if from == to { from } else { format!("{from} to {to}") };
        if broken.limit == LimitId::GapMax {
            return format!("{span}: no readings");
        }
        let unit = broken.limit.unit();
        let worst = unit.show(broken.worst, self.units);
        let side = bound_words(broken.limit.bound());
        let tightened = figure.filter(|figure| figure.limit == broken.limit).map(|f| f.bound);
        match tightened.or_else(|| self.limits.value(broken.limit)) {
            Some(bound) => {
                format!("{span}: {worst}, {side} {}", unit.show(bound, self.units))
            }
            None => format!("{span}: {worst}"),
        }
    }

    /// Writes text wrapped to the width, its first line and the others indented.
    fn line(&mut self, indent: usize, text: &str) {
        let hang = if text.starts_with("- ") { indent + 2 } else { indent };
        let mut column = 0;
        for word in text.split(' ') {
            let len = word.chars().count();
            if column == 0 {
                let _ = write!(self.out, "{:indent$}{word}", "");
                column = indent + len;
            } else if column + 1 + len > self.width {
                let _ = write!(self.out, "\n{:hang$}{word}", "");
                column = hang + len;
            } else {
                let _ = write!(self.out, " {word}");
                column += 1 + len;
            }
        }
        self.out.push('\n');
    }
}

fn bound_words(bound: Bound) -> &'static str {
    match bound {
        Bound::AtMost => "at most",
        Bound::AtLeast | Bound::MinimumTime | Bound::Assumed => "at least",
    }
}

/// The unit of a difference of two values.
fn margin_unit(unit: LimitUnit) -> LimitUnit {
    match unit {
        LimitUnit::Celsius => LimitUnit::Kelvin,
        other => other,
    }
}

/// A layer of limits in words.
#[must_use]
pub fn layer_words(layer: Layer) -> &'static str {
    match layer {
        Layer::Default => "shipped default",
        Layer::DataSheet(Sheet::Wood) => "data sheet of the wood",
        Layer::DataSheet(Sheet::Barrier) => "data sheet of the moisture barrier",
        Layer::DataSheet(Sheet::Adhesive) => "data sheet of the adhesive",
        Layer::Override => "set by the job",
    }
}
