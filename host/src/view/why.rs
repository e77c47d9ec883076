//! One requirement explained: question, rule, figures, spans, and the layers of its limits.

use super::local_time;
use super::measure::{Scale, both, bound_word, in_both};
use super::text::{View, words};
use crate::assess::{Assessment, Figure, Judged, ZoneAssessment};
use crate::job::Job;
use crate::limits::{Layer, LimitId, ResolvedLimit, ResolvedLimits, Sheet, Status};
use crate::quantity::Units;

/// One requirement of a room, as an inspector can follow it, wrapped to `width` columns.
#[must_use]
pub fn why(
    assessment: &Assessment,
    zone: &ZoneAssessment,
    judged: &Judged,
    (job, limits): (&Job, &ResolvedLimits),
    width: usize,
) -> String {
    let mut view = View::new(job, limits, width);
    let (requirement, finding) = (judged.requirement, &judged.finding);
    view.page.heading(&format!("{} ({})", requirement.title, requirement.id));
    let at = local_time(assessment.at_s, view.zone);
    let text = |text: &str| in_both(text, job.site.units);
    view.page.pairs(
        2,
        &[
            ("Outcome", words(finding.outcome).to_owned()),
            ("Because", text(&finding.because)),
            ("Question", format!("May this start: {}?", assessment.step.words())),
            ("Asked for", format!("{}, {}, {at}", job.site.name, zone.name)),
            ("Rule", text(requirement.rule)),
        ],
    );
    match &finding.figure {
        Some(figure) => view.figures(figure, judged),
        None => {
            view.page.heading("Figures");
            view.page.text(2, "None: what is missing is said above.");
        }
    }
    if !finding.broken.is_empty() {
        let count = finding.broken.len();
        view.page.heading(&format!("Broken {count} {}", if count == 1 { "time" } else { "times" }));
        for broken in &finding.broken {
            let text = view.broken(broken, judged);
            view.page.labelled("  - ", 4, &text);
        }
    }
    let clears = finding.clears_at_s.map(|s| local_time(s, view.zone));
    let mut next = Vec::new();
    if let Some(at) = clears {
        next.push(("Clears", format!("{at}, if conditions hold")));
    }
    if let Some(todo) = &finding.todo {
        next.push(("Now", text(todo)));
    }
    for warning in &finding.warnings {
        next.push(("Note", text(warning)));
    }
    if !next.is_empty() {
        view.page.heading("What next");
        view.page.pairs(2, &next);
    }
    for id in limits_of(judged) {
        view.limit(id);
    }
    view.page.out
}

/// The limits that a finding speaks of: that of its figure first.
pub(crate) fn limits_of(judged: &Judged) -> Vec<LimitId> {
    let mut ids: Vec<LimitId> = judged.finding.figure.iter().map(|figure| figure.limit).collect();
    for broken in &judged.finding.broken {
        if !ids.contains(&broken.limit) {
            ids.push(broken.limit);
        }
    }
    ids
}

impl View<'_> {
    fn figures(&mut self, figure: &Figure, judged: &Judged) {
        let scale = Scale::of(figure, judged.finding.outcome, self.units);
        let side = bound_word(figure.limit.bound());
        let guarded = figure.guard > 0.0;
        let mut rows = vec![("Found", scale.words(figure.observed, false))];
        if guarded {
            let untightened = self.limits.value(figure.limit).unwrap_or(figure.bound);
            rows.push(("Limit", format!("{side} {}", scale.words(untightened, false))));
            let guard = scale.words(figure.guard, true);
            rows.push(("Uncertainty", format!("{guard}, expanded (k = 2), from the probes")));
            let text = format!("{side} {}", scale.words(figure.bound, false));
            rows.push(("Limit to keep", text));
        } else {
            rows.push(("Limit", format!("{side} {}", scale.words(figure.bound, false))));
        }
        rows.push(("Margin", scale.margin(figure)));
        let rule = if guarded {
            "guarded acceptance: the limit is tightened by the uncertainty (JCGM 106)"
        } else {
            "simple acceptance: the value is compared as it is (JCGM 106)"
        };
        rows.push(("Decided by", rule.to_owned()));
        self.page.heading("Figures");
        self.page.pairs(2, &rows);
    }

    /// A limit and its layers.
    fn limit(&mut self, id: LimitId) {
        let Some(limit) = self.limits.get(id) else { return };
        self.page.heading(&format!("Limit {id}"));
        let rows = layers(limit, self.units);
        let mut pairs = vec![("Asks", in_both(id.meaning(), self.units))];
        pairs.extend(rows);
        self.page.pairs(2, &pairs);
    }
}

/// The layers of a limit to read: the value in force, its reason, and the values that gave way.
pub(crate) fn layers(limit: &ResolvedLimit, units: Units) -> Vec<(&'static str, String)> {
    let side = bound_word(limit.bound);
    let line = |value: f64, layer: Layer, source: &str, status: Option<Status>| {
        let value = both(limit.unit, value, units);
        format!("{side} {value}: {}", origin(layer, source, status))
    };
    let in_force = line(limit.value, limit.layer, &limit.source, limit.status);
    let mut rows = vec![("In force", in_force)];
    if let Some(reason) = &limit.reason {
        rows.push(("Reason", reason.clone()));
    }
    if limit.loosened {
        rows.push(("Careful", "the job asks for less here than the other layers do".to_owned()));
    }
    for passed in &limit.displaced {
        let text = line(passed.value, passed.layer, &passed.source, passed.status);
        rows.push(("Gave way", text));
    }
    rows
}

/// `shipped default, second hand: EN 1264-2`
pub(crate) fn origin(layer: Layer, source: &str, status: Option<Status>) -> String {
    let words = layer_words(layer);
    // The source of a data sheet says whose it is.
    let source = source.strip_prefix(words).map_or(source, |rest| rest.trim_start_matches(": "));
    let status = status.map_or(String::new(), |status| format!(", {status}"));
    if source.is_empty() {
        format!("{words}{status}")
    } else {
        format!("{words}{status}: {source}")
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

/// The requirements of a step with their outcome in each room, to choose one from.
#[must_use]
pub fn list(assessment: &Assessment, width: usize) -> String {
    let mut page = super::page::Page::new(width);
    page.heading("Requirements of this step, to ask for with --why");
    for zone in &assessment.zones {
        if assessment.zones.len() > 1 {
            page.heading(&zone.name);
        }
        let rows: Vec<_> = zone
            .judged
            .iter()
            .map(|judged| {
                let outcome = words(judged.finding.outcome);
                (judged.requirement.id, format!("{}: {outcome}", judged.requirement.title))
            })
            .collect();
        page.pairs(2, &rows);
    }
    page.out
}
