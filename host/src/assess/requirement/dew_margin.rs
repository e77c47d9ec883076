//! The slab surface is far enough above the dew point of the air.

use super::{Judgement, as_broken, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, hours, show_age};
use crate::assess::window::{Point, runs_beyond};
use crate::assess::{Broken, Figure, Finding, Missing, Outcome, Requirement, Scene, Span, Step};
use crate::history::{Channel, STRETCH, Stretch, Whole};
use crate::limits::LimitId;
use crate::memo::Memo;
use crate::physics::OutOfRange;
use crate::physics::air::{
    AIR_C, dew_point_c, magnus_of_air, magnus_of_rh, magnus_over_water_c, magnus_slope_of_air,
    magnus_slope_over_water_k,
};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "dew-margin",
    title: "slab surface above the dew point",
    steps: &[Step::Membrane, Step::GlueDown, Step::Traffic],
    rule: "Slab surface minus dew point of the air, on the worst sample: until gluing of the last day \
           and of all the time since the barrier was rolled, after it of the time since gluing started. For each sample the limit is raised by the \
           expanded uncertainty of the difference, from those of the three probes (JCGM 106, guarded). \
           A gap longer than the limit since the barrier was rolled is no evidence. \
           A reading that has no dew point (0 %RH, far over 100 %RH) is no evidence. Dew point \
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
    let margins = margins(scene, span, limit.value)?;
    // The worst is the one with the least left after its own guard: in dry air a point of RH moves the
    // dew point further than in damp air.
    let worst = margins.iter().min_by(|a, b| a.clear_k().total_cmp(&b.clear_k()));
    let worst = worst.ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, worst.margin, worst.guard);
    let points = margins.iter().map(|m| -> Point { (m.from_s, m.clear_k()) });
    let mut runs = runs_beyond(points, |clear_k| {
        (clear_k < limit.value - 1e-9).then_some(limit.value - clear_k)
    });
    // Shown is the margin itself, not what is left of it.
    for (from_s, to_s, worst) in &mut runs {
        let from = margins.partition_point(|m| m.from_s < *from_s);
        let run = margins.iter().skip(from).take_while(|m| m.from_s <= *to_s);
        *worst = run.map(|m| m.margin).fold(f64::INFINITY, f64::min);
    }
    let met = figure.is_met();
    // A break that is over only costs time; one that goes on has no end that anybody knows.
    let last_s = margins.last().map(|m| m.to_s);
    let until = runs.last().map(|run| run.1).filter(|until_s| Some(*until_s) != last_s);
    let because = if met {
        "the slab stayed clear of condensation".to_owned()
    } else {
        "moisture can condense on the slab, or the probes cannot rule it out".to_owned()
    };
    let finding = Finding::of(figure, because).with_broken(as_broken(runs, limit.id));
    if met {
        return Ok(match hole_since_rolled(scene, &margins) {
            Some(hole) => unseen(scene, finding, hole),
            None => finding,
        });
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
        .with_clears_at(until.map(|until_s| until_s + LOOK_BACK_S + 1)))
}

/// The longest gap since the barrier was rolled, if it is longer than a gap may be. Later days mend no
/// condensation, and so they do not make up for hours that nobody saw either.
fn hole_since_rolled(scene: &Scene<'_>, margins: &[Margin]) -> Option<Span> {
    if !matches!(scene.step, Step::Membrane | Step::GlueDown) {
        // `log-coverage` looks back as far as this does.
        return None;
    }
    let rolled_s = scene.milestones().barrier_rolled?.as_second();
    // Of samples around that time the last one before it still stands.
    let before = margins.iter().take_while(|m| m.from_s <= rolled_s).last();
    let first_s = before.map_or(rolled_s, |m| m.to_s);
    let since = margins.iter().filter(|m| m.from_s > rolled_s);
    let ends = since.clone().map(|m| m.from_s).chain([scene.at_s]);
    std::iter::once(first_s)
        .chain(since.map(|m| m.to_s))
        .zip(ends)
        .map(|(from_s, to_s)| Span { from_s, to_s })
        .filter(|gap| gap.to_s - gap.from_s > scene.gap_max_s())
        .max_by_key(|gap| gap.to_s - gap.from_s)
}

fn unseen(scene: &Scene<'_>, mut finding: Finding, hole: Span) -> Finding {
    finding.outcome = Outcome::NoEvidence;
    finding.because = format!(
        "nobody knows whether moisture condensed in the {} from {} on, with the barrier on the slab",
        show_age(hole.to_s - hole.from_s),
        scene.local(hole.from_s)
    );
    finding.broken.push(Broken {
        from_s: hole.from_s,
        to_s: hole.to_s,
        worst: hours(hole.to_s - hole.from_s),
        limit: LimitId::GapMax,
    });
    finding.with_todo("pull or import what covers it; else have the barrier looked at by its maker")
}

/// What is known of the margin at a sample, or at those of a stretch.
#[derive(Clone, Copy)]
struct Margin {
    /// Time of the sample, or of the first.
    from_s: i64,
    /// Time of the sample, or of the last. None between is further from the next than a gap may be.
    to_s: i64,
    /// Slab surface minus dew point, K. Infinite for a stretch in which it was nowhere small enough to
    /// count.
    margin: f64,
    /// Its expanded uncertainty, K.
    guard: f64,
}

impl Margin {
    /// What is left after the guard.
    fn clear_k(&self) -> f64 {
        self.margin - self.guard
    }

    /// Of a stretch that is passed over.
    fn of_no_account(whole: &Whole<'_>) -> Self {
        Self { from_s: whole.from_s, to_s: whole.to_s, margin: f64::INFINITY, guard: 0.0 }
    }
}

/// The margin at each sample that has all three measurements, but for those of stretches in which it was
/// always above the limit and never the least.
///
/// # Errors
/// [`Missing`] when there is a reading without a dew point: passing over it could hide the worst.
fn margins(scene: &Scene<'_>, span: Span, limit_k: f64) -> Result<Vec<Margin>, Missing> {
    let mut dew_points = DewPoints::new(scene);
    let gap_max_s = scene.gap_max_s();
    let stretches: Vec<_> = scene
        .stretches(span)
        .map(|stretch| {
            // What is left in it at least, when that is known.
            let whole = stretch.whole().filter(|w| w.is_joined(gap_max_s) && w.stands_apart());
            let bound = whole.and_then(|whole| {
                let [slab_c, _] = whole.full(Channel::Slab)?;
                let (air, rh) = (whole.full(Channel::Air)?, whole.full(Channel::AirRh)?);
                Some((slab_c - dew_points.bound(air, rh)?, whole))
            });
            (bound, stretch)
        })
        .collect();
    // The one that may be the least is looked at first: hardly any other can be below it then.
    let first = stretches
        .iter()
        .filter_map(|(bound, stretch)| Some((bound.as_ref()?.0, stretch)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let mut within = Vec::with_capacity(stretches.len() + 2 * STRETCH);
    if let Some((_, stretch)) = first {
        dew_points.margins(scene, stretch, &mut within)?;
    }
    let known_k = within.drain(..).map(|m: Margin| m.clear_k()).fold(f64::INFINITY, f64::min);
    let counts_k = known_k.max(limit_k) + ROUNDING_K;
    for (bound, stretch) in &stretches {
        match bound {
            Some((bound_k, whole)) if *bound_k > counts_k => {
                within.push(Margin::of_no_account(whole));
            }
            _ => dew_points.margins(scene, stretch, &mut within)?,
        }
    }
    Ok(within)
}

/// More than the last digits of the calculation, in K.
const ROUNDING_K: f64 = 1e-6;

/// Dew points of a log with the expanded uncertainty of slab surface minus dew point in K: the root of
/// the sum of squares of what each probe's uncertainty does to it (JCGM 100, uncorrelated).
struct DewPoints {
    of_slab: f64,
    of_air: f64,
    of_rh: f64,
    /// For an air temperature: its part of the dew point, as it reads and with the uncertainty added.
    by_air: Memo<[Part; 2]>,
    /// For a humidity: its part of the dew point as it reads and, within what a probe can tell, as it
    /// reads and with the uncertainty added.
    by_rh: Memo<[Part; 3]>,
}

/// Within what a probe can tell, in %.
const RH_TOLD_PCT: [f64; 2] = [0.5, 100.0];

/// `None` beyond the formula.
type Part = Option<f64>;

impl DewPoints {
    fn new(scene: &Scene<'_>) -> Self {
        Self {
            of_slab: scene.uncertainty(Channel::Slab),
            of_air: scene.uncertainty(Channel::Air),
            of_rh: scene.uncertainty(Channel::AirRh),
            by_air: Memo::new(),
            by_rh: Memo::new(),
        }
    }

    /// Adds the margin at each sample of a stretch that has all three measurements.
    fn margins(
        &mut self,
        scene: &Scene<'_>,
        stretch: &Stretch<'_>,
        margins: &mut Vec<Margin>,
    ) -> Result<(), Missing> {
        let history = scene.history;
        for i in stretch.samples() {
            let (Ok(slab_c), Ok(air_c), Ok(rh_pct), Some(&time_s)) = (
                history.value(Channel::Slab, i),
                history.value(Channel::Air, i),
                history.value(Channel::AirRh, i),
                history.time_s.get(i),
            ) else {
                continue;
            };
            let (dew_c, guard) =
                self.of(air_c, rh_pct).map_err(|error| super::beyond_formula(&error))?;
            margins.push(Margin { from_s: time_s, to_s: time_s, margin: slab_c - dew_c, guard });
        }
        Ok(())
    }

    /// What dew point and uncertainty come to together at most, in °C, with air and humidity between
    /// these ends; `None` when one of them has no dew point.
    ///
    /// The dew point rises with both, and the steeper the higher it is. The logarithm of the humidity
    /// rises by less than its share, and the part of the air the less the warmer it is.
    fn bound(&self, [cold_c, warm_c]: [f64; 2], [dry_pct, damp_pct]: [f64; 2]) -> Option<f64> {
        let Self { of_slab, of_air, of_rh, .. } = *self;
        // Not to be relied on for an uncertainty that cannot be.
        [of_slab, of_air, of_rh].iter().all(|u| (0.0..=10.0).contains(u)).then_some(())?;
        let [told_pct, _] = RH_TOLD_PCT;
        AIR_C.check(cold_c).ok().filter(|_| dry_pct >= told_pct)?;
        let exponent = magnus_of_rh(damp_pct).ok()? + magnus_of_air(warm_c).ok()?;
        // By how much the uncertainties move the exponent at most.
        let by_air = magnus_slope_of_air(cold_c) * of_air;
        let by_rh = of_rh / dry_pct;
        // Far from where the formula has its pole.
        let highest = Some(exponent + by_air + by_rh).filter(|highest| *highest < 8.0)?;
        let slope = magnus_slope_over_water_k(highest);
        let moved_k = (by_air * by_air + by_rh * by_rh).sqrt() * slope;
        Some(magnus_over_water_c(exponent) + of_slab.hypot(moved_k))
    }

    fn of(&mut self, air_c: f64, rh_pct: f64) -> Result<(f64, f64), OutOfRange> {
        let Self { of_slab, of_air, of_rh, .. } = *self;
        let [air, warmer] = self
            .by_air
            .get(air_c, || [air_c, air_c + of_air].map(|air_c| magnus_of_air(air_c).ok()));
        let [read, rh, damper] = self.by_rh.get(rh_pct, || {
            let [low, high] = RH_TOLD_PCT;
            let told = [rh_pct, rh_pct + of_rh].map(|rh_pct| rh_pct.clamp(low, high));
            let [rh, damper] = told;
            [rh_pct, rh, damper].map(|rh_pct| magnus_of_rh(rh_pct).ok())
        });
        let dew = |air: Part, rh: Part| Some(magnus_over_water_c(rh? + air?));
        let Some(dew_c) = dew(air, read) else {
            // Only to say what is wrong.
            return dew_point_c(air_c, rh_pct).map(|dew_c| (dew_c, of_slab));
        };
        let here = dew(air, rh).unwrap_or(air_c);
        let by_air = dew(warmer, rh).map_or(0.0, |there| there - here);
        let by_rh = dew(air, damper).map_or(0.0, |there| there - here);
        Ok((dew_c, (of_slab * of_slab + by_air * by_air + by_rh * by_rh).sqrt()))
    }
}
