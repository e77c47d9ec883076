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
    if figure.is_met() {
        // The hold must be in the log from its beginning, or days that nobody saw would pass.
        let first = scene.points(Channel::Slab, span).next().map_or(scene.at_s, |p| p.0);
        if first - span.from_s > scene.gap_max_s() {
            let mut finding =
                Finding::of(figure, "the log does not reach back far enough".to_owned())
                    .with_clears_at(Some(first + back_s));
            finding.outcome = Outcome::NoEvidence;
            return Ok(finding.with_todo("leave the logger in place until the hold is over"));
        }
        return Ok(Finding::of(figure, "the slab was in range for the whole time".to_owned()));
    }
    let clears_at_s = broken.iter().map(|b| b.to_s).max().map(|to_s| to_s + back_s + 1);
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
