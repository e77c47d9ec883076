//! "Suspicions, never a verdict: the slab probe takes each step of the air as a slab never does (within
//! 1.5 K of it, and at least 0.6 of each step over 12 h): it may have been lifted. The slab reads warmer
//! than air and supply were in two days, by more than the probes' expanded uncertainty: sun, or probes
//! that disagree."
//!
//! What the rule leaves open is as in the code: of the air's steps those of 0.05 K and more count, they
//! have to come to 2 K in all, and more than 1.4 of them is not following either.

use glueday::assess::{Outcome, Step};
use proptest::prelude::*;

use super::agree::{Floors, agree};
use super::assess_world::{DAY, HOUR, Reads};
use super::case::{Log, Shape, any_early_moment, any_log, any_moment, bare_job, stamp};

const GAP_S: i64 = HOUR;
const STRETCH_S: i64 = 12 * HOUR;
/// Of a temperature probe that the job says nothing of, K.
const U: f64 = 0.5;

const SHAPE: Shape = Shape {
    good: [(2050, 2210), (2000, 2100), (4000, 4000), (1950, 2080)],
    edges: [&[1900, 2171, 2200, 2400], &[1800, 2300, 2500], &[4000], &[1900, 2200, 2600]],
    intervals_s: &[600, 1800, 3600],
    samples: (60, 250),
};

/// The slab as the air, and a little above it.
fn lifted(log: &Log, from: usize, len: usize) -> Log {
    let mut log = log.clone();
    for sample in log.samples.iter_mut().skip(from).take(len) {
        sample.slab = sample.slab.and(sample.air.map(|air_c| air_c + 0.25));
    }
    log
}

fn follows(samples: &[Reads], from_s: i64, to_s: i64) -> bool {
    let both: Vec<(i64, f64, f64)> = samples
        .iter()
        .filter(|s| (from_s..=to_s).contains(&s.time_s))
        .filter_map(|s| Some((s.time_s, s.slab?, s.air?)))
        .collect();
    let steps: Vec<(f64, f64)> = both
        .windows(2)
        .filter(|pair| pair[1].0 - pair[0].0 <= GAP_S)
        .map(|pair| (pair[1].1 - pair[0].1, pair[1].2 - pair[0].2))
        .filter(|(_, air_k)| air_k.abs() >= 0.05)
        .collect();
    let path_k: f64 = steps.iter().map(|(_, air_k)| air_k.abs()).sum();
    let share = steps.iter().map(|(slab_k, air_k)| slab_k * air_k).sum::<f64>()
        / steps.iter().map(|(_, air_k)| air_k * air_k).sum::<f64>();
    let apart_k = both.iter().map(|(_, slab_c, air_c)| (slab_c - air_c).abs()).sum::<f64>();
    #[allow(clippy::cast_precision_loss)]
    let count = both.len() as f64;
    path_k >= 2.0 && (0.6..=1.4).contains(&share) && apart_k / count <= 1.5
}

/// When the slab was furthest above the sources, and by how much: each time, to the last digits.
fn above(samples: &[Reads], from_s: i64, now_s: i64) -> Vec<(i64, f64)> {
    let warmest = |s: &Reads| Some((s.time_s, s.air?.max(s.supply?)));
    let sources: Vec<(i64, f64)> = samples.iter().filter_map(warmest).collect();
    let first_s = samples.first().map_or(0, |s| s.time_s);
    let mut all: Vec<(i64, f64)> = Vec::new();
    for sample in samples.iter().filter(|s| (from_s..=now_s).contains(&s.time_s)) {
        let Some(slab_c) = sample.slab else { continue };
        let Some(known) = sources.iter().rfind(|s| s.0 <= sample.time_s) else { continue };
        if sample.time_s - known.0 > GAP_S || sample.time_s - first_s < 2 * DAY {
            continue;
        }
        let within = sources.iter().filter(|s| s.0 <= known.0 && s.0 >= known.0 - 2 * DAY);
        let source_c = within.map(|s| s.1).fold(f64::MIN, f64::max);
        let above_k = slab_c - source_c - U.hypot(U);
        if above_k > 0.0 {
            all.push((sample.time_s, above_k));
        }
    }
    let most_k = all.iter().map(|(_, above_k)| *above_k).fold(0.0, f64::max);
    all.retain(|(_, above_k)| *above_k > most_k - 1e-9);
    all
}

#[test]
fn suspicions() {
    let lift = prop::option::of((0_usize..200, 20_usize..120));
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), lift);
    // Here "met" is a log without a suspicion, and "not met" one with any.
    let floors = Floors { met: 10, not_met: 30, no_evidence: 0 };
    agree(case, floors, |(log, at, started, lift)| {
        let log = lift.map_or_else(|| log.clone(), |(from, len)| lifted(log, from, len));
        let (now_s, started_s) = (log.at(*at), log.at(*started));
        let job = bare_job() + &format!("[milestones]\nglue-started = {}\n", stamp(started_s));
        let found = log.finding("probes", &job, Step::Traffic, now_s);
        let samples = log.until(now_s);
        let mut wanted = Vec::new();
        let mut spans: Vec<(i64, i64)> = Vec::new();
        let mut to_s = now_s;
        while started_s <= now_s && to_s - STRETCH_S >= started_s {
            let from_s = to_s - STRETCH_S;
            if follows(&samples, from_s, to_s) {
                match spans.last_mut() {
                    Some(later) if later.0 == to_s => later.0 = from_s,
                    _ => spans.push((from_s, to_s)),
                }
            }
            to_s = from_s;
        }
        for (from_s, to_s) in spans.iter().rev() {
            let (from, to) = (local(*from_s), local(*to_s));
            let what = "the slab probe followed the air; see whether it still lies on the slab";
            wanted.push(format!("{from} to {to}: {what}"));
        }
        let told = |(time_s, by_k): (i64, f64)| {
            format!(
                "{}: the slab read {by_k:.1} °C ({:.1} °F) more than air, supply and probe errors \
                 explain; sun on the probe, or probes that disagree",
                local(time_s),
                by_k * 1.8
            )
        };
        let above = if started_s <= now_s { above(&samples, started_s, now_s) } else { Vec::new() };
        let either = above.into_iter().map(told).collect::<Vec<String>>();
        let last = found.warnings.last().filter(|last| either.contains(last));
        wanted.extend(last.or(either.first()).cloned());
        prop_assert_eq!(&found.warnings, &wanted);
        Ok(if wanted.is_empty() { Outcome::Met } else { Outcome::NotMet })
    });
}

fn local(time_s: i64) -> String {
    let time = jiff::Timestamp::from_second(time_s).unwrap_or_default();
    time.strftime("%a %Y-%m-%d %H:%M").to_string()
}
