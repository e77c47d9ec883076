//! The slab surface is neither too cold nor too warm for what goes on it, and was so for days.

use super::{Judgement, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, seconds};
use crate::assess::{Figure, Finding, Outcome, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::{LimitId, ResolvedLimit};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "slab-surface",
    title: "slab surface in range",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "Every slab surface reading of the time that counts is within the range: for the barrier over \
           the last day, for gluing over the hold before laying, up to now. Simple acceptance: the \
           limits are not tightened.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab])?;
    let back_s = match scene.step {
        Step::Membrane => LOOK_BACK_S,
        _ => seconds(scene.limit(LimitId::LayingHoldBefore)?.value),
    };
    let span = Span { from_s: scene.at_s - back_s, to_s: scene.at_s };
    let (low, high) = range(scene)?;
    let points = || scene.points(Channel::Slab, span).map(|point| point.1);
    let lowest = points().min_by(f64::total_cmp).ok_or_else(|| none_in_span(Channel::Slab))?;
    let highest = points().max_by(f64::total_cmp).unwrap_or(lowest);
    let mut figures = vec![Figure::new(low, lowest, 0.0)];
    let mut broken = scene.broken(Channel::Slab, span, low.id, low.value, false);
    if let Some(high) = high {
        figures.push(Figure::new(high, highest, 0.0));
        broken.extend(scene.broken(Channel::Slab, span, high.id, high.value, true));
    }
    broken.sort_by_key(|b| b.from_s);
    let nearest = figures.into_iter().min_by(|a, b| a.margin.total_cmp(&b.margin));
    let figure = nearest.ok_or_else(|| none_in_span(Channel::Slab))?;
    let too_cold = figure.limit == low.id;
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

/// The strictest lower and upper limit for the step.
fn range<'a>(
    scene: &Scene<'a>,
) -> Result<(&'a ResolvedLimit, Option<&'a ResolvedLimit>), crate::assess::Missing> {
    let (lower, upper) = match scene.step {
        Step::Membrane => (
            [LimitId::SlabSurfaceMin, LimitId::BarrierSurfaceMin].as_slice(),
            [LimitId::BarrierSurfaceMax].as_slice(),
        ),
        _ => (
            [LimitId::SlabSurfaceMin, LimitId::LayingSurfaceMin, LimitId::AdhesiveSurfaceMin]
                .as_slice(),
            [LimitId::LayingSurfaceMax, LimitId::AdhesiveSurfaceMax].as_slice(),
        ),
    };
    let known = |ids: &[LimitId]| -> Vec<&'a ResolvedLimit> {
        ids.iter().filter_map(|id| scene.limits.get(*id)).collect()
    };
    let low = known(lower).into_iter().max_by(|a, b| a.value.total_cmp(&b.value));
    let high = known(upper).into_iter().min_by(|a, b| a.value.total_cmp(&b.value));
    match low {
        Some(low) => Ok((low, high)),
        None => scene.limit(LimitId::SlabSurfaceMin).map(|low| (low, high)),
    }
}
