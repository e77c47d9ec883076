//! The heating does not supply water that is too warm.

use super::{Judgement, settle, warmest};
use crate::assess::{Requirement, Scene, Step};
use crate::history::Channel;
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "supply-max",
    title: "supply not too warm",
    steps: &[
        Step::Membrane,
        Step::GlueDown,
        Step::Traffic,
        Step::Sanding,
        Step::HeatUp,
        Step::Service,
    ],
    rule: "The warmest supply reading of the time that counts: the last day before work starts, all of the \
           time since gluing after it. The limit is lowered by the probe's expanded uncertainty \
           (JCGM 106, guarded). Above the lower, second limit there is a warning only.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let (mut finding, warmest_c) =
        warmest(scene, Channel::Supply, LimitId::SupplyMax, "the supply")?;
    let max = scene.limits.value(LimitId::SupplyMax);
    let warn = scene.limits.value(LimitId::SupplyWarn);
    if warn.is_some_and(|warn| warmest_c > warn && max.is_some_and(|max| warmest_c <= max)) {
        finding.warnings.push(format!(
            "the supply reached {}: more than wood floors are usually given",
            super::in_both(warmest_c)
        ));
    }
    Ok(finding)
}
