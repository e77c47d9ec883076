//! The surface never gets too warm.

use super::{Judgement, settle, warmest};
use crate::assess::{Requirement, Scene, Step};
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
    Ok(warmest(scene, Channel::Slab, LimitId::SurfaceMax, "the surface")?.0)
}
