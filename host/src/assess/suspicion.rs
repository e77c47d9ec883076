//! What the signals say against the place of a probe. Suspicions, never a verdict: there can be other
//! reasons, and a person has to look.

use super::scene::{HOUR_S, Scene, Span};
use super::window::{Highs, Point};
use crate::history::{Channel, Stretch};
use glueday_types::{CentiCelsius, Reading};

/// The log is looked at in stretches of this length.
const STRETCH_S: i64 = 12 * HOUR_S;
/// The air has to move by so much in all, K, before it tells anything.
const AIR_PATH_MIN_K: f64 = 2.0;
/// Steps of the air smaller than this are noise of the probe, K.
const AIR_STEP_MIN_K: f64 = 0.05;
/// A surface that takes so large a part of each step of the air is no slab.
///
/// A slab that is warmed and cooled by the air alone takes h / |h + e sqrt(i w)| of a swing of the air
/// (half-infinite solid, periodic; Carslaw and Jaeger, from memory). With h = 8 W/m²K and e = 1800
/// W s^0.5/m²K that is 0.37 for a swing of a day and 0.10 for one of an hour; 65 mm of screed on
/// insulation take 0.65 of a swing of a day, a quarter of a cycle late, so that step for step it is 0.4.
const FOLLOWS_SHARE: f64 = 0.6;
/// More than this is not following either: something else moves both, such as the heating.
const FOLLOWS_SHARE_MAX: f64 = 1.4;
/// A probe in the air is no further from it on average, K.
const FOLLOWS_WITHIN_K: f64 = 1.5;
/// What warmed the slab did so at most this long ago.
const MEMORY_S: i64 = 48 * HOUR_S;

/// Stretches in which the slab probe followed the air step for step, as one that lies on a slab
/// cannot: it may have been lifted. Neighbouring stretches are told as one.
pub(super) fn slab_probe_in_air(scene: &Scene<'_>, span: Span) -> Vec<Span> {
    let mut found: Vec<Span> = Vec::new();
    let mut to_s = span.to_s;
    while to_s - STRETCH_S >= span.from_s {
        let stretch = Span { from_s: to_s - STRETCH_S, to_s };
        if may_follow_air(scene, stretch) && follows_air(scene, stretch) {
            match found.last_mut() {
                Some(later) if later.from_s == stretch.to_s => later.from_s = stretch.from_s,
                _ => found.push(stretch),
            }
        }
        to_s = stretch.from_s;
    }
    found.reverse();
    found
}

/// Whether [`follows_air`] has to be asked: `false` where it is sure to say no, by hundredths of a degree,
/// which are added up much faster.
fn may_follow_air(scene: &Scene<'_>, span: Span) -> bool {
    let history = scene.history;
    let gap_max_s = scene.gap_max_s();
    let mut sums = Steps::default();
    let mut before: Option<usize> = None;
    for stretch in scene.stretches(span) {
        let samples = stretch.samples();
        let from = before.unwrap_or(samples.start);
        let columns = (history.slab.get(from..samples.end), history.air.get(from..samples.end));
        let (Some(slab), Some(air)) = columns else { return true };
        let is_joined = match [from, samples.start].map(|i| history.time_s.get(i)) {
            [Some(last_s), Some(first_s)] => first_s - last_s <= gap_max_s,
            _ => false,
        };
        let is_plain = is_joined
            && stretch.around().is_some_and(|around| {
                let is_full = |channel| around.full(channel).is_some();
                around.is_joined(gap_max_s) && is_full(Channel::Slab) && is_full(Channel::Air)
            });
        if !is_plain {
            return true;
        }
        sums.add(slab, air);
        before = samples.end.checked_sub(1);
    }
    sums.may_follow()
}

/// Sums over the steps from sample to sample, in hundredths of a degree. Of the air's steps that are just
/// [`AIR_STEP_MIN_K`] the last digit of a fraction decides whether they count: here they do where that
/// speaks for following, and else not.
#[derive(Default)]
struct Steps {
    count: i64,
    /// Of the air.
    path: i64,
    /// Products of the steps less [`FOLLOWS_SHARE`] of the squares of those of the air, times 5: negative
    /// where the slab took a smaller share.
    over_least: i64,
    /// The same with [`FOLLOWS_SHARE_MAX`]: positive where it took a larger one.
    over_most: i64,
    /// Between slab and air, at the end of each step.
    apart: i64,
}

impl Steps {
    /// Adds the steps between neighbouring samples.
    fn add(&mut self, slab: &[Reading<CentiCelsius>], air: &[Reading<CentiCelsius>]) {
        const LEAST: i64 = 5;
        let value = |reading: &Reading<CentiCelsius>| reading.map_or(0, |c| i64::from(c.0));
        let mut samples = slab.iter().zip(air).map(|(slab, air)| (value(slab), value(air)));
        let Some((mut slab_before, mut air_before)) = samples.next() else { return };
        let mut apart = 0;
        for (slab, air) in samples {
            let step = air - air_before;
            apart += (slab - air).abs();
            if step.abs() >= LEAST {
                let (product, square) = (5 * (slab - slab_before) * step, step * step);
                let (over_least, over_most) = (product - 3 * square, product - 7 * square);
                let is_sure = step.abs() > LEAST;
                self.path += step.abs();
                self.over_least += if is_sure { over_least } else { over_least.max(0) };
                self.over_most += if is_sure { over_most } else { over_most.min(0) };
            }
            (slab_before, air_before) = (slab, air);
        }
        self.apart += apart;
        self.count += i64::try_from(slab.len()).unwrap_or(0) - 1;
    }

    /// With room for the last digits of sums of fractions: a hundredth of a K².
    fn may_follow(&self) -> bool {
        const ROUNDING: i64 = 100;
        self.path >= 200
            && self.over_least >= -ROUNDING
            && self.over_most <= ROUNDING
            && self.apart <= 150 * (self.count + 2)
    }
}

fn follows_air(scene: &Scene<'_>, stretch: Span) -> bool {
    let history = scene.history;
    let gap_max_s = scene.gap_max_s();
    let mut before: Option<(i64, f64, f64)> = None;
    let (mut path_k, mut square, mut product) = (0.0, 0.0, 0.0);
    let (mut apart_k, mut count) = (0.0, 0.0);
    let samples = history.range(stretch.from_s, stretch.to_s);
    let columns = (
        history.time_s.get(samples.clone()).unwrap_or_default(),
        history.slab.get(samples.clone()).unwrap_or_default(),
        history.air.get(samples).unwrap_or_default(),
    );
    for ((&time_s, slab), air) in columns.0.iter().zip(columns.1).zip(columns.2) {
        let (Ok(slab), Ok(air)) = (slab, air) else { continue };
        let (slab_c, air_c) = (slab.celsius(), air.celsius());
        apart_k += (slab_c - air_c).abs();
        count += 1.0;
        if let Some((before_s, slab_before_c, air_before_c)) = before {
            let (slab_k, air_k) = (slab_c - slab_before_c, air_c - air_before_c);
            if time_s - before_s <= gap_max_s && air_k.abs() >= AIR_STEP_MIN_K {
                path_k += air_k.abs();
                square += air_k * air_k;
                product += air_k * slab_k;
            }
        }
        before = Some((time_s, slab_c, air_c));
    }
    if path_k < AIR_PATH_MIN_K || count < 1.0 {
        return false;
    }
    // The slope of the regression through the origin of the slab's steps on those of the air.
    let share = product / square;
    (FOLLOWS_SHARE..=FOLLOWS_SHARE_MAX).contains(&share) && apart_k / count <= FOLLOWS_WITHIN_K
}

/// The moment when the slab read furthest above all that could have warmed it, air and supply of the
/// last two days, and by how much more than the probes' expanded uncertainty, in K: either the sun was
/// on the probe, or the probes disagree. `None` when it never did.
pub(super) fn slab_above_sources(scene: &Scene<'_>, span: Span) -> Option<(i64, f64)> {
    let first_s = *scene.history.time_s.first()?;
    let sources = Sources::new(scene, span);
    let air = scene.uncertainty(Channel::Air).max(scene.uncertainty(Channel::Supply));
    let guard_k = air.hypot(scene.uncertainty(Channel::Slab));
    let mut worst: Option<(i64, f64)> = None;
    for (at, beside) in sources.stretches.iter().enumerate() {
        let Some([_, slab_c]) = beside.stretch.ends(Channel::Slab) else { continue };
        let known_k = worst.map_or(0.0, |(_, above_k)| above_k);
        let most_k = beside.least_c.map(|source_c| slab_c - source_c - guard_k);
        if beside.to_s < span.from_s || most_k.is_some_and(|k| k + ROUNDING_K <= known_k) {
            continue;
        }
        for (time_s, slab_c, source_c) in sources.of(at) {
            // Only with a log that goes back as far as it must.
            if time_s < span.from_s || time_s - first_s < MEMORY_S {
                continue;
            }
            let above_k = slab_c - source_c - guard_k;
            if above_k > 0.0 && worst.is_none_or(|(_, other)| above_k > other) {
                worst = Some((time_s, above_k));
            }
        }
    }
    worst
}

/// More than the last digits of a difference, in K.
const ROUNDING_K: f64 = 1e-6;

/// What could have warmed the slab, air or supply, whichever is warmer. Both have to be read: an unknown
/// supply may have been warm.
struct Sources<'a> {
    scene: &'a Scene<'a>,
    stretches: Vec<Beside<'a>>,
}

/// A stretch, and its sources.
struct Beside<'a> {
    stretch: Stretch<'a>,
    from_s: i64,
    to_s: i64,
    /// The warmest source, when both were always read.
    most_c: Option<f64>,
    /// At each of its samples a source of the last two days was at least so warm, when that is known.
    least_c: Option<f64>,
}

impl<'a> Sources<'a> {
    /// Of a span and of the time that is remembered before it.
    fn new(scene: &'a Scene<'a>, span: Span) -> Self {
        let mut highs = Highs::default();
        let beside = |stretch: Stretch<'a>| {
            let (from_s, to_s) = stretch.times()?;
            let whole = stretch.whole();
            let full = |channel| whole.and_then(|whole| whole.full(channel));
            let ends = full(Channel::Air).zip(full(Channel::Supply));
            let least_c = ends.map(|(air, supply)| {
                // What every one of its samples looks back on.
                let before = highs.since(to_s.saturating_sub(MEMORY_S));
                before.into_iter().fold(air[0].max(supply[0]), f64::max)
            });
            let most_c = ends.map(|(air, supply)| air[1].max(supply[1]));
            most_c.into_iter().for_each(|most_c| highs.push((from_s, most_c)));
            Some(Beside { stretch, from_s, to_s, most_c, least_c })
        };
        let wide = Span { from_s: span.from_s.saturating_sub(MEMORY_S), ..span };
        Self { scene, stretches: scene.stretches(wide).filter_map(beside).collect() }
    }

    /// Time and slab of each sample of a stretch that has a source beside it, with the warmest source of
    /// the last two days.
    fn of(&self, at: usize) -> Vec<(i64, f64, f64)> {
        let Some(own) = self.stretches.get(at) else { return Vec::new() };
        let (history, gap_max_s) = (self.scene.history, self.scene.gap_max_s());
        let source = |i: usize| {
            let air_c = history.value(Channel::Air, i).ok()?;
            let supply_c = history.value(Channel::Supply, i).ok()?;
            Some((*history.time_s.get(i)?, air_c.max(supply_c)))
        };
        let mut highs = Highs::default();
        let mut now: Option<Point> = None;
        // A source is beside a sample up to a gap before it, and remembers from there on.
        let near_s = own.from_s.saturating_sub(gap_max_s);
        let earlier = self.stretches.get(..at).unwrap_or_default();
        let first = earlier.partition_point(|e| e.to_s < near_s.saturating_sub(MEMORY_S));
        for other in earlier.get(first..).unwrap_or_default() {
            let in_memory_of_all = other.from_s >= own.to_s.saturating_sub(MEMORY_S);
            match other.most_c {
                Some(most_c) if in_memory_of_all && other.to_s < near_s => {
                    highs.push((other.from_s, most_c));
                }
                _ => other.stretch.samples().filter_map(source).for_each(|point| {
                    highs.push(point);
                    now = Some(point);
                }),
            }
        }
        let until = history.range(own.from_s, own.to_s).end;
        let mut sources = (own.stretch.samples().start..until).filter_map(source).peekable();
        let warmest = |(time_s, slab_c): Point| {
            while let Some(point) = sources.next_if(|point| point.0 <= time_s) {
                highs.push(point);
                now = Some(point);
            }
            let (known_s, now_c) = now.filter(|now| time_s - now.0 <= gap_max_s)?;
            let high_c = highs.since(known_s.saturating_sub(MEMORY_S)).unwrap_or(now_c);
            Some((time_s, slab_c, now_c + (high_c - now_c)))
        };
        self.scene.points_of(Channel::Slab, &own.stretch).filter_map(warmest).collect()
    }
}
