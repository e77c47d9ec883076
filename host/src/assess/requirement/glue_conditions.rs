//! Surface and air were right while the floor was glued.

use super::conditions::Conditions;
use super::{Judgement, entered, settle};
use crate::assess::scene::show_age;
use crate::assess::{Finding, Missing, Outcome, Requirement, Scene, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "glue-conditions",
    title: "conditions while gluing",
    steps: &[Step::Traffic, Step::Sanding, Step::HeatUp],
    rule: "Every reading from the first adhesive spread to the last board laid is in the ranges of the \
           adhesive for slab surface, air and RH, without a gap longer than the limit. The \
           ranges are tightened by the probes' expanded uncertainty only where the job asks for it \
           (JCGM 106, simple or guarded). What was glued out of range is not mended by \
           waiting.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let span = entered::gluing(scene)?;
    let conditions = Conditions::adhesive(scene);
    let figure = conditions.nearest(scene, span).ok_or_else(|| Missing {
        because: "there is no reading of the time of gluing".to_owned(),
        todo: "pull the logger, or import the file that covers it".to_owned(),
    })?;
    let broken = conditions.broken(scene, span);
    if !figure.is_met() {
        let because = "slab or air was out of the range of the adhesive while gluing".to_owned();
        return Ok(Finding::of(figure, because)
            .with_broken(broken)
            .with_todo("ask the maker of the adhesive before going on"));
    }
    for channel in conditions.channels() {
        let gap_s = scene.longest_gap_s(channel, span);
        if gap_s > scene.gap_max_s() {
            let (gap, name) = (show_age(gap_s), channel.name());
            let mut finding =
                Finding::of(figure, format!("{name} was not logged for {gap} of the gluing"))
                    .with_todo("pull the logger, or import the file that covers it");
            finding.outcome = Outcome::NoEvidence;
            return Ok(finding);
        }
    }
    Ok(Finding::of(figure, "slab and air stayed in range while gluing".to_owned()))
}
