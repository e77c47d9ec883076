//! What the signals say against the place of a probe. Suspicions, never a verdict: there can be other
//! reasons, and a person has to look.

use super::scene::{HOUR_S, Scene, Span};
use super::window::highest;
use crate::history::Channel;

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
        if follows_air(scene, stretch) {
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

fn follows_air(scene: &Scene<'_>, stretch: Span) -> bool {
    let history = scene.history;
    let gap_max_s = scene.gap_max_s();
    let mut before: Option<(i64, f64, f64)> = None;
    let (mut path_k, mut square, mut product) = (0.0, 0.0, 0.0);
    let (mut apart_k, mut count) = (0.0, 0.0);
    for i in history.range(stretch.from_s, stretch.to_s) {
        let (Ok(slab_c), Ok(air_c), Some(&time_s)) = (
            history.value(Channel::Slab, i),
            history.value(Channel::Air, i),
            history.time_s.get(i),
        ) else {
            continue;
        };
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
    let history = scene.history;
    let wide = history.range(span.from_s.saturating_sub(MEMORY_S), span.to_s);
    // Both have to be there: an unknown supply may have been warm.
    let sources = wide.filter_map(|i| {
        let air_c = history.value(Channel::Air, i).ok()?;
        let supply_c = history.value(Channel::Supply, i).ok()?;
        Some((*history.time_s.get(i)?, air_c.max(supply_c)))
    });
    let mut warmest = highest(sources, MEMORY_S)
        .map(|(time_s, now_c, high_c)| (time_s, now_c + (high_c - now_c)))
        .peekable();
    let air = scene.uncertainty(Channel::Air).max(scene.uncertainty(Channel::Supply));
    let guard_k = air.hypot(scene.uncertainty(Channel::Slab));
    let mut worst: Option<(i64, f64)> = None;
    let mut source: Option<(i64, f64)> = None;
    for (time_s, slab_c) in scene.points(Channel::Slab, span) {
        while let Some(known) = warmest.next_if(|(known_s, _)| *known_s <= time_s) {
            source = Some(known);
        }
        // Only with a reading of the sources beside it, and a log that goes back as far as it must.
        let Some((known_s, source_c)) = source else { continue };
        let first_s = history.time_s.first().copied().unwrap_or(time_s);
        if time_s - known_s > scene.gap_max_s() || time_s - first_s < MEMORY_S {
            continue;
        }
        let above_k = slab_c - source_c - guard_k;
        if above_k > 0.0 && worst.is_none_or(|(_, other)| above_k > other) {
            worst = Some((time_s, above_k));
        }
    }
    worst
}
