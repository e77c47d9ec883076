//! How warm the top of the wood got, which no probe measures.

use super::{Judgement, as_broken, in_both, none_in_span};
use crate::assess::window::runs_beyond;
use crate::assess::{Figure, Finding, Outcome, Scene};
use crate::history::{Channel, History, Stretch};
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::OutOfRange;
use crate::physics::air::AIR_C;
use crate::physics::floor::{FLOOR_C, RESISTANCE_M2K_W, wood_surface_c};
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
    let pieces: Vec<Piece<'_>> = scene.stretches(span).filter_map(|s| wood.piece(s)).collect();
    let worst = wood.worst(&pieces, limit.value).map_err(|error| super::beyond_formula(&error))?;
    let worst = worst.ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, worst.wood_c, worst.guard);
    if figure.is_met() {
        let because = match resistance {
            Some(_) => "by calculation the wood surface stayed cool enough",
            None => "slab and air stayed under the limit, and so did the wood between them",
        };
        let mut finding = Finding::of(figure, because.to_owned());
        let warmest = scene.ends(Channel::Slab, span).map(|[_, warmest_c]| warmest_c);
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
    let course = wood.course_above(&pieces, bound);
    let runs = runs_beyond(course, |wood_c| (wood_c > bound + 1e-9).then_some(wood_c - bound));
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
    u_both: f64,
}

/// A stretch, and how warm the wood can have been in it at most: never warmer than with the warmest slab
/// and the warmest air of it together. So most stretches need no closer look.
struct Piece<'h> {
    stretch: Stretch<'h>,
    /// The warmest slab, and air when it was always read.
    slab_c: f64,
    air_c: Option<f64>,
    /// Whichever of them is warmer, without and with its uncertainty: the wood lies between them, and the
    /// uncertainties of both together are at most [`Wood::u_both`].
    between_c: f64,
    guarded_c: f64,
}

/// More than the last digits of the calculation, in K.
const ROUNDING_K: f64 = 1e-6;

impl<'a> Wood<'a> {
    fn new(scene: &Scene<'a>, resistance: Option<f64>) -> Self {
        let u_slab = scene.uncertainty(Channel::Slab);
        let u_air = scene.uncertainty(Channel::Air);
        Self { history: scene.history, resistance, u_slab, u_air, u_both: u_slab.hypot(u_air) }
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

    /// `None` without a reading of the slab.
    fn piece(&self, stretch: Stretch<'a>) -> Option<Piece<'a>> {
        let [slab_low_c, slab_c] = stretch.ends(Channel::Slab)?;
        let air = stretch.ends(Channel::Air);
        let air_read = stretch.whole().is_some_and(|whole| whole.full(Channel::Air).is_some());
        // A reading that cannot be has to be come across, and so has a resistance that cannot.
        let is_plausible = FLOOR_C.check(slab_low_c).and(FLOOR_C.check(slab_c)).is_ok()
            && air.is_none_or(|air| air.iter().all(|air_c| AIR_C.check(*air_c).is_ok()))
            && self.resistance.is_none_or(|r| RESISTANCE_M2K_W.check(r).is_ok());
        let warmest_c = air.map_or(slab_c, |[_, air_c]| slab_c.max(air_c));
        let between_c = if is_plausible { warmest_c } else { f64::INFINITY };
        let guarded_c = between_c + self.u_both + ROUNDING_K;
        let air_c = air.filter(|_| air_read && is_plausible).map(|[_, air_c]| air_c);
        Some(Piece { stretch, slab_c, air_c, between_c, guarded_c })
    }

    /// The warmest that the wood can have been, in °C, and with the uncertainty; closer than what is
    /// between slab and air where the wood insulates, and dearer to find.
    fn most_c(&self, piece: &Piece<'_>) -> (f64, f64) {
        let predicted = self
            .resistance
            .zip(piece.air_c)
            .and_then(|(resistance, air_c)| wood_surface_c(piece.slab_c, air_c, resistance).ok());
        let most_c = predicted.unwrap_or(piece.between_c) + ROUNDING_K;
        (most_c, most_c + self.u_both)
    }

    /// The sample that leaves the least to a limit, the first of equal ones.
    fn worst(&self, pieces: &[Piece<'_>], limit_c: f64) -> Result<Option<Warm>, OutOfRange> {
        let of = |piece: &Piece<'_>, worst: Option<Warm>| {
            let mut readings = self.readings(piece.stretch.samples());
            readings.try_fold(worst, |worst, (_, slab_c, air_c)| {
                let (wood_c, guard) = self.at(slab_c, air_c)?;
                let here = Warm { wood_c, guard };
                let is_worse = |worst: Warm| here.clearance(limit_c) < worst.clearance(limit_c);
                Ok(if worst.is_none_or(is_worse) { Some(here) } else { worst })
            })
        };
        // One that can be among the warmest first: hardly any other can be warmer then.
        let plausible = pieces.iter().filter(|piece| piece.guarded_c.is_finite());
        let hottest = plausible.max_by(|a, b| a.guarded_c.total_cmp(&b.guarded_c));
        let known = match hottest {
            Some(hottest) => of(hottest, None)?,
            None => None,
        };
        let is_near = |guarded_c: f64| {
            known.is_none_or(|known| limit_c - guarded_c <= known.clearance(limit_c))
        };
        let mut near = pieces.iter().filter(|p| is_near(p.guarded_c) && is_near(self.most_c(p).1));
        near.try_fold(None, |worst, piece| of(piece, worst))
    }

    /// Time and wood surface of the samples, for finding those above a bound: where it was not near the
    /// bound, one stands for many.
    fn course_above<'s>(
        &'s self,
        pieces: &'s [Piece<'_>],
        bound_c: f64,
    ) -> impl Iterator<Item = (i64, f64)> + 's {
        pieces.iter().flat_map(move |piece| {
            let below = piece.between_c < bound_c || self.most_c(piece).0 < bound_c;
            let samples = piece.stretch.samples();
            let first_s = self.history.time_s.get(samples.start).copied();
            let one = first_s.filter(|_| below).map(|time_s| (time_s, f64::NEG_INFINITY));
            let each = self.readings(if below { 0..0 } else { samples });
            let each = each.filter_map(|(time_s, slab_c, air_c)| {
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
