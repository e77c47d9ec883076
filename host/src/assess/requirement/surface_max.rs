//! The surface never gets too warm: that of the slab before the floor is on it, that of the wood after.

use super::{Judgement, settle, warmest, wood_surface};
use crate::assess::{Requirement, Scene, Step};
use crate::history::Channel;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "surface-max",
    title: "surface not too warm",
    steps: &Step::ALL,
    rule: "Before work starts: the warmest slab surface reading of the last day. After gluing: the \
           temperature on top of the wood, for each sample since, from slab surface, air and the \
           thermal resistance of the wood. What comes through the wood is what its surface gives off: \
           (slab - tF) / R = 8.92 (tF - ti)^1.1 W/m² (EN 1264-2, second hand). That is the steady \
           state; real wood lags, and what lags is never warmer than the warmest steady state before \
           it. Without the resistance there is a proof all the same when slab and air both kept under \
           the limit: the wood lies between them, whatever it is. Else there is no evidence. The limit \
           is the lower of those for wood and for any floor, lowered by the expanded uncertainty from \
           those of the probes (JCGM 106, guarded).",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    match scene.step {
        Step::Membrane | Step::GlueDown => {
            let id = wood_surface::strictest(scene)?.id;
            Ok(warmest(scene, Channel::Slab, id, "the surface")?.0)
        }
        _ => wood_surface::judge(scene),
    }
}
