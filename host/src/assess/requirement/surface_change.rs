//! The surface does not warm or cool too fast.

use super::{Judgement, as_broken, none_in_span, settle};
use crate::assess::scene::{LOOK_BACK_S, hours};
use crate::assess::window::{Extremes, Highs, Point, runs_beyond};
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
use crate::history::{Channel, Stretch};
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
    let changes = Changes::new(scene, Span { from_s, ..span }, span.from_s);
    let fastest = changes.fastest().ok_or_else(|| none_in_span(Channel::Slab))?;
    let figure = Figure::new(limit, fastest, 0.0);
    let bound = figure.bound;
    let runs = runs_beyond(changes.above(bound + 1e-9).into_iter(), |change| {
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

/// Rise and fall of the slab surface over a span.
struct Changes<'a> {
    scene: &'a Scene<'a>,
    stretches: Vec<Changing<'a>>,
    /// Readings from here on count.
    counts_from_s: i64,
}

/// A stretch of the span that reads the slab.
struct Changing<'a> {
    stretch: Stretch<'a>,
    from_s: i64,
    to_s: i64,
    ends: [f64; 2],
    /// No reading of it that counts changed by more; `None` when none can count.
    most_k: Option<f64>,
}

impl<'a> Changes<'a> {
    fn new(scene: &'a Scene<'a>, span: Span, counts_from_s: i64) -> Self {
        let (mut highs, mut depths) = (Highs::default(), Highs::default());
        let changing = |stretch: Stretch<'a>| {
            let [low, high] = stretch.ends(Channel::Slab)?;
            let (from_s, to_s) = stretch.times()?;
            // With all that any of its readings looks back on, and a little more: a stretch goes with
            // its last reading.
            highs.push((to_s, high));
            depths.push((to_s, -low));
            let oldest_s = from_s.saturating_sub(WINDOW_S);
            let (highest, deepest) = (highs.since(oldest_s)?, depths.since(oldest_s)?);
            let most_k = (high + deepest).max(highest - low);
            let most_k = (to_s >= counts_from_s).then_some(most_k);
            Some(Changing { stretch, from_s, to_s, ends: [low, high], most_k })
        };
        Self {
            scene,
            stretches: scene.stretches(span).filter_map(changing).collect(),
            counts_from_s,
        }
    }

    /// The largest change.
    fn fastest(&self) -> Option<f64> {
        let counting = || self.stretches.iter().enumerate().filter(|(_, s)| s.most_k.is_some());
        let most_k = |at: &(usize, &Changing<'_>)| at.1.most_k.unwrap_or(f64::NEG_INFINITY);
        // The one that may have it first: hardly any other can have a larger one then.
        let first = counting().max_by(|a, b| most_k(a).total_cmp(&most_k(b)))?.0;
        let largest = |known: Option<f64>, at: usize| {
            self.of(at).into_iter().map(|change| change.1).chain(known).max_by(f64::total_cmp)
        };
        let known = largest(None, first);
        counting().fold(known, |known, at| {
            let can_be_larger = known.is_none_or(|known| most_k(&at) > known);
            if can_be_larger && at.0 != first { largest(known, at.0) } else { known }
        })
    }

    /// Time and change of the readings, for finding those above a bound: where it was not reached, one
    /// stands for many.
    fn above(&self, bound_k: f64) -> Vec<(i64, f64)> {
        let mut changes = Vec::new();
        for (at, stretch) in self.stretches.iter().enumerate() {
            match stretch.most_k {
                Some(most_k) if most_k > bound_k => changes.extend(self.of(at)),
                Some(_) => changes.push((stretch.from_s, 0.0)),
                None => {}
            }
        }
        changes
    }

    /// Time and change of each reading of a stretch that counts.
    fn of(&self, at: usize) -> Vec<(i64, f64)> {
        let Some(own) = self.stretches.get(at) else { return Vec::new() };
        let earlier = self.stretches.get(..at).unwrap_or_default();
        let first = earlier.partition_point(|e| e.to_s < own.from_s.saturating_sub(WINDOW_S));
        let mut extremes = Extremes::default();
        for other in earlier.get(first..).unwrap_or_default() {
            if other.from_s >= own.to_s.saturating_sub(WINDOW_S) {
                // Each reading of the stretch looks back on all of these.
                for slab_c in other.ends {
                    extremes.push((other.from_s, slab_c));
                }
            } else {
                self.points(other).for_each(|point| extremes.push(point));
            }
        }
        let change = |(time_s, slab_c)| {
            extremes.push((time_s, slab_c));
            let (rise, fall) = extremes.rise_and_fall((time_s, slab_c), WINDOW_S);
            (time_s >= self.counts_from_s).then(|| (time_s, rise.max(fall)))
        };
        self.points(own).filter_map(change).collect()
    }

    fn points(&self, of: &Changing<'_>) -> impl DoubleEndedIterator<Item = Point> + use<'a> {
        self.scene.points_of(Channel::Slab, &of.stretch)
    }
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
