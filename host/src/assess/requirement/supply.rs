//! The heating does not supply water that is too warm.

use super::{Judgement, none_in_span, settle};
use crate::assess::{Figure, Requirement, Scene, Step};
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
    scene.fresh(&[Channel::Supply])?;
    let limit = scene.limit(LimitId::SupplyMax)?;
    let span = match scene.step {
        Step::Membrane | Step::GlueDown => super::last_day(scene),
        _ => scene.span()?,
    };
    let warmest = scene
        .points(Channel::Supply, span)
        .map(|point| point.1)
        .max_by(f64::total_cmp)
        .ok_or_else(|| none_in_span(Channel::Supply))?;
    let figure = Figure::new(limit, warmest, scene.uncertainty(Channel::Supply));
    let broken = scene.broken(Channel::Supply, span, limit.id, figure.bound, true);
    let mut finding = super::too_high(scene, figure, broken, "the supply");
    let warn = scene.limits.value(LimitId::SupplyWarn);
    if warn.is_some_and(|warn| warmest > warn && warmest <= limit.value) {
        finding.warnings.push(format!(
            "the supply reached {}: more than wood floors are usually given",
            super::in_both(warmest, warmest * 1.8 + 32.0)
        ));
    }
    Ok(finding)
}
