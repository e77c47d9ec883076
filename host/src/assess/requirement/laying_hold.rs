//! The slab surface stays in the laying range for days after gluing.

use super::conditions::Conditions;
use super::{Judgement, entered, none_in_span, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Figure, Finding, Outcome, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::{Bound, LimitId};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "laying-hold",
    title: "slab surface held after gluing",
    steps: &[Step::Traffic, Step::Sanding, Step::HeatUp],
    rule: "Every slab surface reading from the first adhesive spread until the hold after the last board \
           is over, or until now, is in the laying range, without a gap longer than the limit. Before \
           the heat is turned back up the hold must be over; walking and sanding may come earlier. The \
           range is tightened by the probe's expanded uncertainty only where the job asks for it (JCGM \
           106, simple or guarded). What was out of range is not mended by waiting.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let Span { from_s: started_s, to_s: finished_s } = entered::gluing(scene)?;
    let hold = scene.limit(LimitId::LayingHoldAfter)?;
    let until_s = finished_s.saturating_add(seconds(hold.value));
    let span = Span { from_s: started_s, to_s: until_s.min(scene.at_s) };
    let range = Conditions::laying(scene);
    let figure = range.nearest(scene, span).ok_or_else(|| none_in_span(Channel::Slab))?;
    if !figure.is_met() {
        let because = match figure.limit.bound() {
            Bound::AtMost => "the slab got too warm after gluing",
            _ => "the slab got too cold after gluing",
        };
        return Ok(Finding::of(figure, because.to_owned())
            .with_broken(range.broken(scene, span))
            .with_todo("bring the slab back into range; ask the maker of the adhesive"));
    }
    let gap_s = scene.longest_gap_s(Channel::Slab, span);
    if gap_s > scene.gap_max_s() {
        let gap = show_age(gap_s);
        let mut finding = Finding::of(figure, format!("the slab was not logged for {gap} of it"))
            .with_todo("pull the logger, or import the file that covers it");
        finding.outcome = Outcome::NoEvidence;
        return Ok(finding);
    }
    if scene.step == Step::HeatUp && scene.at_s < until_s {
        let held_h = hours(scene.at_s - finished_s);
        let because = "the hold after gluing is not over".to_owned();
        return Ok(Finding::of(Figure::new(hold, held_h, 0.0), because)
            .with_todo("leave the supply as it is until then")
            .with_clears_at(Some(until_s)));
    }
    Ok(Finding::of(figure, "the slab stayed in the laying range".to_owned()))
}
