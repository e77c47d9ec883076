//! The slab surface is far enough above the dew point of the air.

mod dew_points;

use super::{Judgement, as_broken, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, hours, show_age};
use crate::assess::window::{Point, runs_beyond};
use crate::assess::{Broken, Figure, Finding, Missing, Outcome, Requirement, Scene, Span, Step};
use crate::history::{Channel, STRETCH, Stretch};
use crate::limits::LimitId;
use dew_points::DewPoints;

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
    let gap_max_s = scene.gap_max_s();
    let mut longest: Option<Span> = None;
    let mut take = |from_s: i64, to_s: i64| {
        // Of equal ones the last.
        if longest.is_none_or(|gap| to_s - from_s >= gap.to_s - gap.from_s) {
            longest = Some(Span { from_s, to_s });
        }
    };
    let mut before_s = rolled_s;
    for margin in margins {
        // Of samples around that time the last one before it still stands.
        if margin.from_s > rolled_s && margin.from_s - before_s > gap_max_s {
            take(before_s, margin.from_s);
        }
        before_s = margin.to_s;
    }
    if scene.at_s - before_s > gap_max_s {
        take(before_s, scene.at_s);
    }
    longest
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

    /// Of what is passed over.
    fn of_no_account(from_s: i64, to_s: i64) -> Self {
        Self { from_s, to_s, margin: f64::INFINITY, guard: 0.0 }
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
        margins_below(&mut dew_points, scene, stretch, f64::INFINITY, &mut within)?;
    }
    let known_k = within.drain(..).map(|m: Margin| m.clear_k()).fold(f64::INFINITY, f64::min);
    let counts_k = known_k.max(limit_k) + ROUNDING_K;
    for (bound, stretch) in &stretches {
        match bound {
            Some((bound_k, whole)) if *bound_k > counts_k => {
                within.push(Margin::of_no_account(whole.from_s, whole.to_s));
            }
            _ => margins_below(&mut dew_points, scene, stretch, counts_k, &mut within)?,
        }
    }
    Ok(within)
}

/// Adds the margin at each sample of a stretch that has all three measurements. Where more than
/// `counts_k` is left for sure, it is of no account.
fn margins_below(
    dew_points: &mut DewPoints,
    scene: &Scene<'_>,
    stretch: &Stretch<'_>,
    counts_k: f64,
    margins: &mut Vec<Margin>,
) -> Result<(), Missing> {
    let history = scene.history;
    let ends = stretch.ends(Channel::Air).zip(stretch.ends(Channel::AirRh));
    let plane = ends.and_then(|(air, rh)| dew_points.plane(air, rh));
    for i in stretch.samples() {
        let (Ok(slab_c), Ok(air_c), Ok(rh_pct), Some(&time_s)) = (
            history.value(Channel::Slab, i),
            history.value(Channel::Air, i),
            history.value(Channel::AirRh, i),
            history.time_s.get(i),
        ) else {
            continue;
        };
        let is_clear = plane.is_some_and(|plane| slab_c - plane.at(air_c, rh_pct) > counts_k);
        // Of samples at one time each can be shown.
        let shares_time = |other: Option<usize>| {
            other.and_then(|i| history.time_s.get(i)).is_some_and(|other_s| *other_s == time_s)
        };
        if is_clear && !shares_time(i.checked_sub(1)) && !shares_time(i.checked_add(1)) {
            margins.push(Margin::of_no_account(time_s, time_s));
            continue;
        }
        let (dew_c, guard) =
            dew_points.of(air_c, rh_pct).map_err(|error| super::beyond_formula(&error))?;
        margins.push(Margin { from_s: time_s, to_s: time_s, margin: slab_c - dew_c, guard });
    }
    Ok(())
}

/// More than the last digits of the calculation, in K.
const ROUNDING_K: f64 = 1e-6;
