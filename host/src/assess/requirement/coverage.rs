//! The log has all that it should have in the time that counts.

use super::{Judgement, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::window::Coverage;
use crate::assess::{Figure, Finding, Outcome, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::{LimitId, ResolvedLimit};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "log-coverage",
    title: "log without holes",
    steps: &[
        Step::Membrane,
        Step::GlueDown,
        Step::Traffic,
        Step::Sanding,
        Step::HeatUp,
        Step::Service,
    ],
    rule: "Of the time that counts, the share for which there are readings of the worst channel: each reading \
           stands for the time to the next when that comes within one and a half nominal intervals, else \
           for one interval. No gap is longer than the limit, and \
           every rule that asks about now wants its last reading no older than that. Before work \
           starts the time that counts is two days, because the surface change looks back so far, and \
           for gluing the hold before laying or the acclimation where they are longer.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let limit = scene.limit(LimitId::CoverageMin)?;
    let gap_limit = scene.limit(LimitId::GapMax)?;
    let span = scene.time_that_counts()?;
    let mut worst: Option<(Channel, Coverage)> = None;
    let mut gap_worst: Option<(Channel, Coverage)> = None;
    for channel in Channel::ALL {
        if scene.points(channel, span).next().is_none() {
            return Err(super::none_in_span(channel));
        }
        let found = scene.covered(channel, span);
        if worst.is_none_or(|(_, other)| found.share < other.share) {
            worst = Some((channel, found));
        }
        if gap_worst.is_none_or(|(_, other)| found.gap_max_s > other.gap_max_s) {
            gap_worst = Some((channel, found));
        }
    }
    // There are four channels.
    let (Some((channel, found)), Some((gap_channel, gap))) = (worst, gap_worst) else {
        return Err(super::none_in_span(Channel::Slab));
    };
    let figure = Figure::new(limit, found.share * 100.0, 0.0);
    let gap_breaks = gap.gap_max_s > seconds(gap_limit.value);
    if figure.is_met() && !gap_breaks {
        let because = "readings of every channel throughout".to_owned();
        return Ok(Finding::of(figure, because));
    }
    let because = if gap_breaks {
        format!("{} has a gap of {}", gap_channel.name(), show_age(gap.gap_max_s))
    } else {
        format!("readings of {} are missing", channel.name())
    };
    let mut finding = Finding::of(figure, because);
    // What was not logged is not known, which is worse than a figure a little too low.
    finding.outcome = Outcome::NoEvidence;
    if gap_breaks {
        finding.broken.push(crate::assess::Broken {
            from_s: gap.gap_from_s,
            to_s: gap.gap_from_s + gap.gap_max_s,
            worst: hours(gap.gap_max_s),
            limit: LimitId::GapMax,
        });
    }
    if matches!(scene.step, Step::Membrane | Step::GlueDown) {
        finding.clears_at_s = clears_at_s(scene, span, limit, seconds(gap_limit.value));
    }
    Ok(finding.with_todo("keep the logger powered and its probes connected; pull it again"))
}

/// When enough of what is missing has passed out of the time that counts, with nothing missing from now
/// on; `None` while something is.
fn clears_at_s(
    scene: &Scene<'_>,
    span: Span,
    limit: &ResolvedLimit,
    gap_limit_s: i64,
) -> Option<i64> {
    scene.fresh(&Channel::ALL).ok()?;
    let back_s = span.to_s - span.from_s;
    let clear_at = |time_s: i64| {
        let later = Span { from_s: time_s - back_s, to_s: scene.at_s };
        Channel::ALL.into_iter().all(|channel| {
            let found = scene.covered(channel, later);
            let whole_h = hours(time_s - scene.at_s) + found.share * later.hours();
            let share = if back_s > 0 { whole_h / hours(back_s) } else { found.share };
            found.gap_max_s <= gap_limit_s && Figure::new(limit, share * 100.0, 0.0).is_met()
        })
    };
    // What is missing only ever passes out, so that halving finds the first moment.
    let (mut not_yet_s, mut clear_s) = (scene.at_s, scene.at_s + back_s);
    while clear_s - not_yet_s > 1 {
        let middle_s = not_yet_s + (clear_s - not_yet_s) / 2;
        if clear_at(middle_s) { clear_s = middle_s } else { not_yet_s = middle_s }
    }
    Some(clear_s)
}
