//! The moisture barrier has cured.

use super::conditions::Conditions;
use super::{Judgement, cure, settle};
use crate::assess::{Missing, Requirement, Scene, Step};
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "barrier-cure",
    title: "moisture barrier cured",
    steps: &[Step::GlueDown],
    rule: "Hours since the last coat of the barrier, counted only while the log shows slab surface, air \
           and RH in the ranges of the barrier. Time next to a reading out of range, and gaps longer than \
           the limit, do not count; the hours before and after them do. The condensation \
           margin is judged on its own. The data sheet gives the time: nobody else knows it. A floor \
           without a barrier is not judged.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    if scene.job.barrier.spread.product.is_none() {
        return Err(Missing {
            because: "the job names no moisture barrier".to_owned(),
            todo: "enter `product` and the data-sheet limits under [barrier] in the job file"
                .to_owned(),
        });
    }
    let limit = scene.limit(LimitId::BarrierCure)?;
    let rolled = scene.milestones().barrier_rolled.ok_or_else(|| Missing {
        because: "the job does not say when the barrier was rolled".to_owned(),
        todo: "enter `barrier-rolled` under [milestones] once the last coat is on".to_owned(),
    })?;
    let conditions = Conditions::barrier(scene);
    scene.fresh(&conditions.channels())?;
    Ok(cure::judge(scene, limit, &conditions, rolled.as_second(), "the barrier"))
}
