//! What blocks a step: by cause, in the order of importance.

use super::local_time;
use super::measure::{Scale, bound_word, in_both};
use super::text::{View, words};
use crate::assess::{Broken, Judged, Outcome, ZoneAssessment};
use crate::limits::LimitId;

/// What blocks a step: requirements that stand for one cause.
pub(crate) struct Blocker<'a> {
    judged: Vec<&'a Judged>,
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
pub(crate) fn blockers(zone: &ZoneAssessment) -> Vec<Blocker<'_>> {
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
    blockers.sort_by_key(Blocker::rank);
    blockers
}

impl Blocker<'_> {
    pub(crate) fn first(&self) -> Option<&Judged> {
        self.judged.first().copied()
    }

    /// Its place in the order of importance, the least first.
    pub(crate) fn rank(&self) -> (bool, Option<i64>, bool, std::cmp::Reverse<usize>) {
        let clears_s = self.clears_s();
        let unknown = self.outcome() == Outcome::NoEvidence;
        // What many requirements lack is likely the cause, such as the log.
        let many = std::cmp::Reverse(self.judged.len());
        (clears_s.is_some(), clears_s.map(|s| -s), unknown, many)
    }

    pub(super) fn outcome(&self) -> Outcome {
        self.first().map_or(Outcome::NoEvidence, |judged| judged.finding.outcome)
    }

    pub(super) fn clears_s(&self) -> Option<i64> {
        self.first()?.finding.clears_at_s
    }

    /// Ids of its requirements.
    pub(super) fn ids(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.judged.iter().map(|judged| judged.requirement.id)
    }

    fn titles(&self) -> String {
        let titles: Vec<&str> = self.judged.iter().map(|j| j.requirement.title).collect();
        titles.join("; ")
    }
}

impl View<'_> {
    /// `not met: concrete old enough (12.0 d, min 28.0 d)`
    pub(crate) fn reason(&self, blocker: &Blocker<'_>) -> String {
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

    pub(super) fn blocker(&mut self, blocker: &Blocker<'_>, with_time: bool) {
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
        let mut rest = vec![format!("Why: {because}.")];
        if !self.detail.dense {
            self.page.text(4, &rest.join(" "));
            rest.clear();
        }
        let hidden = finding.broken.len().saturating_sub(self.detail.spans);
        for broken in finding.broken.iter().skip(hidden) {
            let text = self.broken(broken, judged);
            self.page.labelled("    - ", 6, &text);
        }
        if hidden > 0 && self.detail.dense {
            let times = if hidden == 1 { "time" } else { "times" };
            let id = judged.requirement.id;
            rest.push(format!("Broken {hidden} {times}, see --why {id}."));
        } else if hidden > 0 {
            let text = format!("and {hidden} earlier: --why {}", judged.requirement.id);
            self.page.labelled("    - ", 6, &text);
        }
        if let Some(clears_at_s) = finding.clears_at_s.filter(|_| with_time) {
            let at = local_time(clears_at_s, self.zone);
            rest.push(format!("Clears {at}, if conditions hold."));
        }
        if let Some(todo) = &finding.todo {
            rest.push(format!("Now: {}.", in_both(todo, self.units)));
        }
        if self.detail.dense {
            rest = vec![rest.join(" ")];
        }
        for text in rest {
            self.page.text(4, &text);
        }
    }

    /// What clears when, the first first.
    pub(super) fn timetable(&mut self, blockers: &[Blocker<'_>]) {
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
    pub(crate) fn broken(&self, broken: &Broken, judged: &Judged) -> String {
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
}
