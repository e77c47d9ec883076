//! The surface never gets too warm.

use super::{Judgement, none_in_span, settle};
use crate::assess::{Figure, Requirement, Scene, Step};
use crate::history::Channel;
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "surface-max",
    title: "surface not too warm",
    steps: &[
        Step::Membrane,
        Step::GlueDown,
        Step::Traffic,
        Step::Sanding,
        Step::HeatUp,
        Step::Service,
    ],
    rule: "The warmest slab surface reading of the time that counts: the last day before work starts, all \
           of the time since gluing after it. The limit is lowered by the probe's expanded uncertainty \
           (JCGM 106, guarded). Under a floor the slab is warmer than the wood, so that the slab \
           surface is on the safe side.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab])?;
    let limit = scene.limit(LimitId::SurfaceMax)?;
    let span = match scene.step {
        Step::Membrane | Step::GlueDown => super::last_day(scene),
        _ => scene.span()?,
    };
    let warmest = scene
        .points(Channel::Slab, span)
        .map(|point| point.1)
        .max_by(f64::total_cmp)
        .ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, warmest, scene.uncertainty(Channel::Slab));
    let broken = scene.broken(Channel::Slab, span, limit.id, figure.bound, true);
    Ok(super::too_high(scene, figure, broken, "the surface"))
}
