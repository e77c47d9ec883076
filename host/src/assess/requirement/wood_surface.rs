//! How warm the top of the wood got, which no probe measures.

use super::{Judgement, as_broken, in_both, none_in_span};
use crate::assess::window::runs_beyond;
use crate::assess::{Figure, Finding, Outcome, Scene};
use crate::history::Channel;
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::floor::wood_surface_c;

/// One sample: the warmest that the wood surface can have been, and how uncertain that is.
#[derive(Clone, Copy)]
struct Warm {
    time_s: i64,
    wood_c: f64,
    guard: f64,
}

/// The wood surface predicted from slab, air and the resistance of the wood, against its maximum.
pub(super) fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab, Channel::Air])?;
    let limit = strictest(scene)?;
    let span = scene.span()?;
    let resistance = scene.job.wood.thermal_resistance().map(|r| r.m2_k_per_w());
    let history = scene.history;
    let mut warm = Vec::new();
    for i in history.range(span.from_s, span.to_s) {
        let (Ok(slab_c), Some(time_s)) =
            (history.value(Channel::Slab, i), history.time_s.get(i).copied())
        else {
            continue;
        };
        let air_c = history.value(Channel::Air, i).ok();
        let (wood_c, guard) = match (resistance, air_c) {
            (Some(resistance), Some(air_c)) => predicted(scene, slab_c, air_c, resistance)
                .map_err(|error| super::beyond_formula(&error))?,
            _ => bound_c(scene, slab_c, air_c),
        };
        warm.push(Warm { time_s, wood_c, guard });
    }
    let clearance = |w: &Warm| limit.value - w.guard - w.wood_c;
    let worst = warm.iter().min_by(|a, b| clearance(a).total_cmp(&clearance(b)));
    let worst = *worst.ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, worst.wood_c, worst.guard);
    if figure.is_met() {
        let because = match resistance {
            Some(_) => "by calculation the wood surface stayed cool enough",
            None => "slab and air stayed under the limit, and so did the wood between them",
        };
        let mut finding = Finding::of(figure, because.to_owned());
        let warmest = scene.points(Channel::Slab, span).map(|point| point.1).max_by(f64::total_cmp);
        if let Some(slab_c) = warmest.filter(|slab_c| *slab_c > limit.value) {
            finding.warnings.push(format!(
                "the slab under the wood reached {}: ask the maker of the wood whether its \
                 underside may",
                in_both(slab_c)
            ));
        }
        return Ok(finding);
    }
    if resistance.is_none() {
        let because =
            "the slab or the air was over the limit, and how the wood insulates is unknown";
        let mut finding = Finding::of(figure, because.to_owned()).with_todo(
            "enter `resistance`, or `thickness` and `conductivity`, under [wood] in the job file",
        );
        finding.outcome = Outcome::NoEvidence;
        return Ok(finding);
    }
    let bound = figure.bound;
    let runs = runs_beyond(warm.iter().map(|w| (w.time_s, w.wood_c)), |wood_c| {
        (wood_c > bound + 1e-9).then_some(wood_c - bound)
    });
    let because = "by calculation the wood surface was too warm, or the probes cannot rule it out";
    Ok(Finding::of(figure, because.to_owned())
        .with_broken(as_broken(runs, limit.id))
        .with_todo("turn the supply down; ask the maker of the wood what it means for the floor"))
}

/// The lower of the limit for wood and of that for any floor.
pub(super) fn strictest<'a>(
    scene: &Scene<'a>,
) -> Result<&'a ResolvedLimit, crate::assess::Missing> {
    let wood = scene.limit(LimitId::SurfaceMax)?;
    let any = scene.limit(LimitId::SurfaceAbsoluteMax)?;
    Ok(if any.value < wood.value { any } else { wood })
}

/// The wood surface and its expanded uncertainty, in °C and K, from those of slab and air (JCGM 100,
/// uncorrelated).
fn predicted(
    scene: &Scene<'_>,
    slab_c: f64,
    air_c: f64,
    resistance_m2k_w: f64,
) -> Result<(f64, f64), crate::physics::OutOfRange> {
    let (u_slab, u_air) = (scene.uncertainty(Channel::Slab), scene.uncertainty(Channel::Air));
    let here = wood_surface_c(slab_c, air_c, resistance_m2k_w)?;
    // At the edge of the formula a probe's whole uncertainty goes through.
    let by_slab = wood_surface_c(slab_c + u_slab, air_c, resistance_m2k_w)
        .map_or(u_slab, |there| there - here);
    let by_air =
        wood_surface_c(slab_c, air_c + u_air, resistance_m2k_w).map_or(u_air, |there| there - here);
    Ok((here, by_slab.hypot(by_air)))
}

/// The warmest that any wood between slab and air can be. Without the air the slab stands alone: it is
/// what heats the wood.
fn bound_c(scene: &Scene<'_>, slab_c: f64, air_c: Option<f64>) -> (f64, f64) {
    let of_slab = (slab_c, scene.uncertainty(Channel::Slab));
    let of_air = air_c.map(|air_c| (air_c, scene.uncertainty(Channel::Air)));
    of_air.filter(|air| air.0 + air.1 > of_slab.0 + of_slab.1).unwrap_or(of_slab)
}
