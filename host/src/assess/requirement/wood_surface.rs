//! How warm the top of the wood got, which no probe measures.

use super::{Judgement, as_broken, in_both, none_in_span};
use crate::assess::window::runs_beyond;
use crate::assess::{Figure, Finding, Outcome, Scene, Span};
use crate::history::{Channel, History};
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::OutOfRange;
use crate::physics::air::AIR_C;
use crate::physics::floor::{FLOOR_C, wood_surface_c};
use std::ops::Range;

/// One sample: the warmest that the wood surface can have been, and how uncertain that is.
#[derive(Clone, Copy)]
struct Warm {
    wood_c: f64,
    guard: f64,
}

impl Warm {
    /// What is left to a limit, in K.
    fn clearance(self, limit_c: f64) -> f64 {
        limit_c - self.guard - self.wood_c
    }
}

/// The wood surface predicted from slab, air and the resistance of the wood, against its maximum.
pub(super) fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Slab, Channel::Air])?;
    let limit = strictest(scene)?;
    let span = scene.span()?;
    let resistance = scene.job.wood.thermal_resistance().map(|r| r.m2_k_per_w());
    let wood = Wood::new(scene, resistance);
    let stretches = wood.stretches(span);
    let worst =
        wood.worst(&stretches, limit.value).map_err(|error| super::beyond_formula(&error))?;
    let worst = worst.ok_or_else(|| none_in_span(Channel::Slab))?;
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
    let courses = wood.course_above(&stretches, bound);
    let runs = runs_beyond(courses, |wood_c| (wood_c > bound + 1e-9).then_some(wood_c - bound));
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

/// How the wood surface follows from the readings.
struct Wood<'a> {
    history: &'a History,
    /// Of the wood, in m²K/W.
    resistance: Option<f64>,
    /// Expanded uncertainties of the probes, in K.
    u_slab: f64,
    u_air: f64,
}

/// Some neighbouring samples, and how warm the wood can have been in them at most. It is never warmer
/// than it would be with the warmest slab and the warmest air of them together, so that most stretches
/// need no closer look.
struct Stretch {
    samples: Range<usize>,
    from_s: i64,
    most_c: f64,
    /// With the uncertainty.
    guarded_most_c: f64,
}

/// An hour of minutes, or half a day of ten minutes.
const STRETCH: usize = 64;
/// More than the last digits of the calculation, in K.
const ROUNDING_K: f64 = 1e-6;

impl<'a> Wood<'a> {
    fn new(scene: &Scene<'a>, resistance: Option<f64>) -> Self {
        let u_slab = scene.uncertainty(Channel::Slab);
        Self { history: scene.history, resistance, u_slab, u_air: scene.uncertainty(Channel::Air) }
    }

    /// The samples of a span that read the slab: time, slab and air.
    fn readings(
        &self,
        samples: Range<usize>,
    ) -> impl Iterator<Item = (i64, f64, Option<f64>)> + '_ {
        samples.filter_map(|i| {
            let slab_c = self.history.value(Channel::Slab, i).ok()?;
            let time_s = *self.history.time_s.get(i)?;
            Some((time_s, slab_c, self.history.value(Channel::Air, i).ok()))
        })
    }

    fn stretches(&self, span: Span) -> Vec<Stretch> {
        let Range { start, end } = self.history.range(span.from_s, span.to_s);
        let of = |from: usize| {
            let samples = from..end.min(from + STRETCH);
            let from_s = *self.history.time_s.get(from)?;
            let mut readings = self.readings(samples.clone()).peekable();
            readings.peek()?;
            let (mut slab_c, mut air_c) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
            let (mut plausible, mut all_read) = (true, true);
            for (_, slab, air) in readings {
                slab_c = slab_c.max(slab);
                air_c = air_c.max(air.unwrap_or(f64::NEG_INFINITY));
                all_read &= air.is_some();
                plausible &=
                    FLOOR_C.check(slab).is_ok() && air.is_none_or(|air| AIR_C.check(air).is_ok());
            }
            let (most_c, guarded_most_c) = match self.resistance {
                // A reading that cannot be has to be come across.
                _ if !plausible => (f64::INFINITY, f64::INFINITY),
                Some(resistance) if all_read => {
                    let most_c = wood_surface_c(slab_c, air_c, resistance).unwrap_or(f64::INFINITY);
                    (most_c, most_c + self.u_slab.hypot(self.u_air))
                }
                _ => (slab_c.max(air_c), (slab_c + self.u_slab).max(air_c + self.u_air)),
            };
            Some(Stretch { samples, from_s, most_c, guarded_most_c })
        };
        (start..end).step_by(STRETCH).filter_map(of).collect()
    }

    /// The sample that leaves the least to a limit, the first of equal ones.
    fn worst(&self, stretches: &[Stretch], limit_c: f64) -> Result<Option<Warm>, OutOfRange> {
        let of = |stretch: &Stretch, worst: Option<Warm>| {
            let mut readings = self.readings(stretch.samples.clone());
            readings.try_fold(worst, |worst, (_, slab_c, air_c)| {
                let (wood_c, guard) = self.at(slab_c, air_c)?;
                let here = Warm { wood_c, guard };
                let is_worse = |worst: Warm| here.clearance(limit_c) < worst.clearance(limit_c);
                Ok(if worst.is_none_or(is_worse) { Some(here) } else { worst })
            })
        };
        // The one that can be the warmest first: hardly any other can be warmer then.
        let hottest = stretches.iter().max_by(|a, b| a.guarded_most_c.total_cmp(&b.guarded_most_c));
        let known = match hottest.filter(|hottest| hottest.guarded_most_c.is_finite()) {
            Some(hottest) => of(hottest, None)?,
            None => None,
        };
        let near = |stretch: &&Stretch| {
            let least_k = limit_c - stretch.guarded_most_c - ROUNDING_K;
            known.is_none_or(|known| least_k <= known.clearance(limit_c))
        };
        stretches.iter().filter(near).try_fold(None, |worst, stretch| of(stretch, worst))
    }

    /// Time and wood surface of the samples, for finding those above a bound: where it was not near the
    /// bound, one stands for many.
    fn course_above<'s>(
        &'s self,
        stretches: &'s [Stretch],
        bound_c: f64,
    ) -> impl Iterator<Item = (i64, f64)> + 's {
        stretches.iter().flat_map(move |stretch| {
            let below = stretch.most_c < bound_c - ROUNDING_K;
            let one = below.then_some((stretch.from_s, f64::NEG_INFINITY));
            let samples = if below { 0..0 } else { stretch.samples.clone() };
            let each = self.readings(samples).filter_map(|(time_s, slab_c, air_c)| {
                Some((time_s, self.at(slab_c, air_c).ok()?.0))
            });
            one.into_iter().chain(each)
        })
    }

    /// The warmest that the wood can be, and how uncertain that is.
    fn at(&self, slab_c: f64, air_c: Option<f64>) -> Result<(f64, f64), OutOfRange> {
        match (self.resistance, air_c) {
            (Some(resistance), Some(air_c)) => self.predicted(slab_c, air_c, resistance),
            _ => Ok(self.bound_c(slab_c, air_c)),
        }
    }

    /// The wood surface and its expanded uncertainty, in °C and K, from those of slab and air (JCGM
    /// 100, uncorrelated).
    fn predicted(
        &self,
        slab_c: f64,
        air_c: f64,
        resistance_m2k_w: f64,
    ) -> Result<(f64, f64), OutOfRange> {
        let (u_slab, u_air) = (self.u_slab, self.u_air);
        let here = wood_surface_c(slab_c, air_c, resistance_m2k_w)?;
        // At the edge of the formula a probe's whole uncertainty goes through.
        let by_slab = wood_surface_c(slab_c + u_slab, air_c, resistance_m2k_w)
            .map_or(u_slab, |there| there - here);
        let by_air = wood_surface_c(slab_c, air_c + u_air, resistance_m2k_w)
            .map_or(u_air, |there| there - here);
        Ok((here, by_slab.hypot(by_air)))
    }

    /// The warmest that any wood between slab and air can be. Without the air the slab stands alone: it
    /// is what heats the wood.
    fn bound_c(&self, slab_c: f64, air_c: Option<f64>) -> (f64, f64) {
        let of_slab = (slab_c, self.u_slab);
        let of_air = air_c.map(|air_c| (air_c, self.u_air));
        of_air.filter(|air| air.0 + air.1 > of_slab.0 + of_slab.1).unwrap_or(of_slab)
    }
}
