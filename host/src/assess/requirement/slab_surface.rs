//! The slab surface is neither too cold nor too warm for what goes on it, and was so for days.

use super::conditions::Conditions;
use super::{Judgement, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, seconds};
use crate::assess::{Finding, Outcome, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::{Bound, LimitId};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "slab-surface",
    title: "slab surface in range",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "Every slab surface reading of the time that counts is within the range: for the barrier over \
           the last day, for gluing over the hold before laying, up to now. The \
           range is tightened by the probe's expanded uncertainty only where the job asks for it \
           (JCGM 106, simple or guarded).",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab])?;
    let back_s = match scene.step {
        Step::Membrane => LOOK_BACK_S,
        _ => seconds(scene.limit(LimitId::LayingHoldBefore)?.value),
    };
    let span = Span { from_s: scene.at_s - back_s, to_s: scene.at_s };
    let range = match scene.step {
        Step::Membrane => Conditions::slab_for_barrier(scene),
        _ => Conditions::laying(scene),
    };
    let figure = range.nearest(scene, span).ok_or_else(|| none_in_span(Channel::Slab))?;
    let broken = range.broken(scene, span);
    let too_cold = figure.limit.bound() == Bound::AtLeast;
    // The hold must be in the log from its beginning, or days that nobody saw would pass: it may begin
    // a gap before the first reading behind this one.
    let begins_s = |after_s: i64| {
        let later = Span { from_s: after_s, to_s: scene.at_s };
        let first = scene.points(Channel::Slab, later).next();
        first.map(|point| after_s.max(point.0 - scene.gap_max_s()))
    };
    if figure.is_met() {
        if begins_s(span.from_s).is_none_or(|begins_s| begins_s > span.from_s) {
            let mut finding =
                Finding::of(figure, "the log does not reach back far enough".to_owned())
                    .with_clears_at(begins_s(span.from_s).map(|begins_s| begins_s + back_s));
            finding.outcome = Outcome::NoEvidence;
            return Ok(finding.with_todo("leave the logger in place until the hold is over"));
        }
        return Ok(Finding::of(figure, "the slab was in range for the whole time".to_owned()));
    }
    // Out of range at the last reading there is none behind it, and no end that anybody knows.
    let until_s = broken.iter().map(|b| b.to_s).max();
    let clears_at_s = until_s.and_then(|to_s| Some(begins_s(to_s + 1)? + back_s));
    let (because, todo) = if too_cold {
        ("the slab was too cold", "raise the supply a little and keep the slab in range")
    } else {
        ("the slab was too warm", "turn the supply down and keep the slab in range")
    };
    Ok(Finding::of(figure, because.to_owned())
        .with_broken(broken)
        .with_todo(todo)
        .with_clears_at(clears_at_s))
}
