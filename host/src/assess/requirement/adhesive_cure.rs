//! The adhesive has cured.

use super::conditions::Conditions;
use super::{Judgement, cure, settle};
use crate::assess::scene::hours;
use crate::assess::{Missing, Requirement, Scene, Step};
use crate::history::Channel;
use crate::limits::LimitId;
use crate::memo::Memo;
use crate::physics::air::{saturation_vapor_pressure_pa, vapor_pressure_of_pa, vapor_pressure_pa};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "adhesive-cure",
    title: "adhesive cured",
    steps: &[Step::Traffic, Step::Sanding, Step::HeatUp],
    rule: "Hours since the last board was laid, counted only while the log shows slab surface, air and \
           RH in the ranges of the adhesive. Time next to a reading out of range, and gaps longer \
           than the limit, do not count; the hours before and after them do. A warning, never a verdict: \
           the same hours scaled by vapour pressure to 20 °C and 50 %RH, because adhesives that cure with \
           moisture cure slower in dry or cold air (derived; no kinetics are published).",
    judge: |scene| settle(judge(scene)),
};

/// Air in which data sheets commonly state cure times (common practice, no source).
const REFERENCE_AIR: (f64, f64) = (20.0, 50.0);

fn judge(scene: &Scene<'_>) -> Judgement {
    let limit = scene.limit(match scene.step {
        Step::Traffic => LimitId::TrafficCure,
        Step::Sanding => LimitId::SandingCure,
        _ => LimitId::HeatUpCure,
    })?;
    let finished = scene.milestones().glue_finished.ok_or_else(|| Missing {
        because: "the job does not say when gluing was finished".to_owned(),
        todo: "enter `glue-finished` under [milestones] in the job file".to_owned(),
    })?;
    let conditions = Conditions::adhesive(scene);
    scene.fresh(&conditions.channels())?;
    let from_s = finished.as_second();
    let mut finding = cure::judge(scene, limit, &conditions, from_s, "the adhesive");
    let enough_h = limit.value - 1e-9;
    let scaled_h = scaled_h(scene, &conditions, from_s, enough_h);
    if scaled_h.is_some_and(|scaled_h| scaled_h < enough_h) {
        let scaled_h = scaled_h.unwrap_or(0.0);
        finding.warnings.push(format!(
            "by vapour pressure these hours are worth {scaled_h:.0} h at 20 °C and 50 %RH: an \
             adhesive that cures with moisture may need longer"
        ));
    }
    Ok(finding)
}

/// The hours that count, scaled by vapour pressure, or the first of them that are `enough_h`; `None` when
/// a reading up to there is beyond the formula.
fn scaled_h(
    scene: &Scene<'_>,
    conditions: &Conditions<'_>,
    from_s: i64,
    enough_h: f64,
) -> Option<f64> {
    let reference_pa = vapor_pressure_pa(REFERENCE_AIR.0, REFERENCE_AIR.1).ok()?;
    let history = scene.history;
    let mut saturation = Memo::new();
    let mut pressure_pa = |i: usize| {
        let air_c = history.value(Channel::Air, i).ok()?;
        let rh_pct = history.value(Channel::AirRh, i).ok()?;
        let saturation_pa = saturation.get(air_c, || saturation_vapor_pressure_pa(air_c).ok());
        vapor_pressure_of_pa(rh_pct, saturation_pa?).ok()
    };
    let mut scaled_h = Some(0.0);
    let mut add = |place: usize, step_s: i64| {
        // Of samples at the same time the first one that tells.
        let time_s = history.time_s.get(place);
        let same = |i: &usize| history.time_s.get(*i) == time_s;
        let first = (0..place).rev().take_while(same).last().unwrap_or(place);
        let pressure_pa = (first..history.len()).take_while(same).find_map(&mut pressure_pa);
        scaled_h =
            scaled_h.zip(pressure_pa).map(|(sum, pa)| sum + hours(step_s) * pa / reference_pa);
        scaled_h
    };
    let mut is_over = false;
    cure::count_each(scene, conditions, from_s, |held| {
        // Hours are never taken away again.
        let places = if is_over { 0..0 } else { held.samples.clone() };
        for place in places {
            let begins_s = |i: usize| history.time_s.get(i).map_or(from_s, |s| *s.max(&from_s));
            let step_s = match held.samples.len() {
                1 => held.length_s,
                _ => begins_s(place + 1) - begins_s(place),
            };
            // Samples before that time begin nothing that counts.
            let counts = history.time_s.get(place + 1).is_none_or(|next_s| *next_s > from_s);
            if counts && !is_over {
                is_over = add(place, step_s).is_none_or(|scaled_h| scaled_h >= enough_h);
            }
        }
    });
    scaled_h
}
