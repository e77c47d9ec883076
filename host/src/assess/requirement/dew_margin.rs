//! The slab surface is far enough above the dew point of the air.

use super::{Judgement, as_broken, none_in_span, settle};
use crate::assess::window::{Point, runs_beyond};
use crate::assess::{Figure, Finding, Requirement, Scene, Step};
use crate::history::Channel;
use crate::limits::LimitId;
use crate::physics::air::dew_point_c;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "dew-margin",
    title: "slab surface above the dew point",
    steps: &[Step::Membrane, Step::GlueDown, Step::Traffic],
    rule: "Slab surface minus dew point of the air, on the worst sample since the barrier was rolled \
           (gluing started) and at least over the last day. The limit is raised by the expanded \
           uncertainty of the difference, from those of the three probes (JCGM 106, guarded). Dew point \
           over water from air temperature and RH by a Magnus formula.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab, Channel::Air, Channel::AirRh])?;
    let span = scene.span()?;
    let limit = scene.limit(match scene.step {
        Step::Membrane => LimitId::BarrierDewMargin,
        _ => LimitId::AdhesiveDewMargin,
    })?;
    let worst = margins(scene, span.from_s, span.to_s).min_by(|a, b| a.margin.total_cmp(&b.margin));
    let worst = worst.ok_or_else(|| none_in_span(Channel::Slab))?;
    let guard = uncertainty_c(scene, worst.air_c, worst.rh_pct);
    let figure = Figure::new(limit, worst.margin, guard);
    let points = margins(scene, span.from_s, span.to_s).map(|m| -> Point { (m.time_s, m.margin) });
    let bound = figure.bound;
    let runs = runs_beyond(points, |margin| (margin < bound - 1e-9).then_some(bound - margin));
    let met = figure.is_met();
    let until = runs.last().map(|run| run.1);
    let because = if met {
        "the slab stayed clear of condensation".to_owned()
    } else {
        "moisture can condense on the slab, or the probes cannot rule it out".to_owned()
    };
    let finding = Finding::of(figure, because).with_broken(as_broken(runs, limit.id));
    if met {
        return Ok(finding);
    }
    // Work done in condensation is not mended by waiting.
    let done = match scene.step {
        Step::Membrane | Step::GlueDown => scene.milestones().barrier_rolled.is_some(),
        _ => true,
    };
    if done {
        return Ok(finding.with_todo(
            "what was applied then has to be looked at: ask the maker of the product before going on",
        ));
    }
    Ok(finding
        .with_todo("warm the slab or dry the air, and keep them so")
        .with_clears_at(until.map(|until_s| until_s + super::super::scene::LOOK_BACK_S + 1)))
}

#[derive(Clone, Copy)]
struct Margin {
    time_s: i64,
    margin: f64,
    air_c: f64,
    rh_pct: f64,
}

/// The margin at each sample that has all three measurements.
fn margins<'a>(scene: &'a Scene<'_>, from_s: i64, to_s: i64) -> impl Iterator<Item = Margin> + 'a {
    let history = scene.history;
    history.range(from_s, to_s).filter_map(move |i| {
        let slab_c = history.value(Channel::Slab, i).ok()?;
        let air_c = history.value(Channel::Air, i).ok()?;
        let rh_pct = history.value(Channel::AirRh, i).ok()?;
        let margin = slab_c - dew_point_c(air_c, rh_pct).ok()?;
        Some(Margin { time_s: *history.time_s.get(i)?, margin, air_c, rh_pct })
    })
}

/// Expanded uncertainty of slab surface minus dew point in K: the root of the sum of squares of what
/// each probe's uncertainty does to it (JCGM 100, uncorrelated).
fn uncertainty_c(scene: &Scene<'_>, air_c: f64, rh_pct: f64) -> f64 {
    let (u_air, u_rh) = (scene.uncertainty(Channel::Air), scene.uncertainty(Channel::AirRh));
    let dew = |air_c: f64, rh_pct: f64| dew_point_c(air_c, rh_pct.clamp(0.5, 100.0)).ok();
    let here = dew(air_c, rh_pct).unwrap_or(air_c);
    let by_air = dew(air_c + u_air, rh_pct).map_or(0.0, |there| there - here);
    let by_rh = dew(air_c, rh_pct + u_rh).map_or(0.0, |there| there - here);
    let by_slab = scene.uncertainty(Channel::Slab);
    (by_slab * by_slab + by_air * by_air + by_rh * by_rh).sqrt()
}
