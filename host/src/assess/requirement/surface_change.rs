//! The surface does not warm or cool too fast.

use super::{Judgement, as_broken, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, hours};
use crate::assess::window::{rise_and_fall, runs_beyond};
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "surface-change",
    title: "surface change within any 24 h",
    steps: &[
        Step::Membrane,
        Step::GlueDown,
        Step::Traffic,
        Step::Sanding,
        Step::HeatUp,
        Step::Service,
    ],
    rule: "For each slab surface reading of the time that counts: its rise above the lowest and its fall \
           below the highest of the 24 h before it, whichever is larger. The time that counts is the last \
           day before work starts, all of the time since gluing after it; what the bare slab did before does \
           not strain the floor. Simple acceptance: both \
           readings come from one probe, whose error falls out of their difference.",
    judge: |scene| settle(judge(scene)),
};

/// The window of the rule, in seconds.
const WINDOW_S: i64 = 24 * 3600;

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab])?;
    let limit = scene.limit(LimitId::SurfaceChangeMax)?;
    let working = matches!(scene.step, Step::Membrane | Step::GlueDown);
    let span = if working { super::last_day(scene) } else { scene.span()? };
    // The first reading that counts looks back over its own window. After gluing that window must not
    // reach back before it: what the bare slab did does not strain the floor.
    let from_s = if working { span.from_s.saturating_sub(WINDOW_S) } else { span.from_s };
    let points = scene.points(Channel::Slab, Span { from_s, ..span });
    let changes: Vec<(i64, f64)> = rise_and_fall(points, WINDOW_S)
        .filter(|(time_s, ..)| *time_s >= span.from_s)
        .map(|(time_s, rise, fall)| (time_s, rise.max(fall)))
        .collect();
    let fastest = changes
        .iter()
        .map(|change| change.1)
        .max_by(f64::total_cmp)
        .ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, fastest, 0.0);
    let bound = figure.bound;
    let runs = runs_beyond(changes.into_iter(), |change| {
        (change > bound + 1e-9).then_some(change - bound)
    });
    let until_s = runs.last().map(|run| run.1).max(still_to_come_s(scene, bound));
    let met = figure.is_met();
    let because = if met {
        "the surface changed slowly enough".to_owned()
    } else {
        format!("the surface changed too fast within {:.0} h", hours(WINDOW_S))
    };
    let mut finding = Finding::of(figure, because).with_broken(as_broken(runs, limit.id));
    let warn = scene.limits.value(LimitId::SurfaceChangeWarn);
    if met && warn.is_some_and(|warn| fastest > warn) {
        finding.warnings.push(format!(
            "the surface changed by {} within 24 h: slower is kinder to the floor",
            super::difference_in_both(fastest)
        ));
    }
    if met {
        return Ok(finding);
    }
    if working {
        return Ok(finding
            .with_todo("change the supply in small steps and let the slab settle")
            .with_clears_at(until_s.map(|until_s| until_s + LOOK_BACK_S + 1)));
    }
    Ok(finding.with_todo(
        "change the supply in smaller steps; look at the floor for gaps and loose boards",
    ))
}

/// When the last reading that is still to come will be too far from one of the last day, if the surface
/// stays as it is and is read at its interval; `None` when none will.
fn still_to_come_s(scene: &Scene<'_>, bound_k: f64) -> Option<i64> {
    let last = scene.history.range(i64::MIN, scene.at_s).next_back()?;
    let interval_s = i64::from(*scene.history.interval_s.get(last)?).max(1);
    let mut points = scene.points(Channel::Slab, super::last_day(scene)).rev();
    let (now_s, now_c) = points.next()?;
    let (far_s, _) = points.find(|(_, slab_c)| (slab_c - now_c).abs() > bound_k + 1e-9)?;
    let readings = (far_s + WINDOW_S - now_s) / interval_s;
    let at_s = now_s + readings.max(0) * interval_s;
    (readings > 0 && at_s >= scene.at_s).then_some(at_s)
}
