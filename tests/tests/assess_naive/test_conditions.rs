//! "For each moisture test: every reading in range, without a gap longer than the limit, from so many
//! hours before it (before the hole was drilled; before the dome was sealed) to its end, and the log
//! covers that time. In-situ tests: air in the range of the job; slab surface between the lowest air
//! temperature and the surface maximum. Calcium chloride tests: air in the ranges of that method. A test
//! that no log covers is no evidence."

use std::collections::BTreeSet;

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::{Outcome, Step};
use glueday::limits::LimitId;
use proptest::prelude::*;

use super::agree::{Floors, Twin, agree, hours, runs};
use super::assess_world::{HOUR, Reads};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, limits, readings, stamp,
};
use super::coverage::missing;

const GAP_S: i64 = HOUR;

const SHAPE: Shape = Shape {
    good: [(1900, 2500), (1900, 2500), (4100, 4900), (2000, 2000)],
    edges: [
        &[1799, 1800, 2600, 2601],
        &[1799, 1800, 2600, 2601, 2801],
        &[2999, 3999, 4000, 5000, 5001, 6001],
        &[2000],
    ],
    intervals_s: &[600, 1800],
    samples: (1, 120),
};

/// What it reads, and its lowest and highest with the limits that say so.
type Channel = (fn(&Reads) -> Option<f64>, (f64, LimitId), (f64, LimitId));

const IN_SITU: [Channel; 3] = [
    (|s| s.slab, (18.0, LimitId::AirMin), (26.0, LimitId::SurfaceMax)),
    (|s| s.air, (18.0, LimitId::AirMin), (26.0, LimitId::AirMax)),
    (|s| s.rh, (30.0, LimitId::AirRhMin), (50.0, LimitId::AirRhMax)),
];
const CHLORIDE: [Channel; 2] = [
    (|s| s.air, (19.0, LimitId::ChlorideAirMin), (28.0, LimitId::ChlorideAirMax)),
    (|s| s.rh, (40.0, LimitId::ChlorideRhMin), (60.0, LimitId::ChlorideRhMax)),
];

/// A run out of range: first and last second, worst hundredth, limit.
type Run = (i64, i64, i64, LimitId);

/// A test that ran from one time to another.
#[derive(Clone, Copy, Debug)]
struct Ran {
    is_dish: bool,
    from_s: i64,
    to_s: i64,
}

struct Judged {
    outcome: Outcome,
    held_h: f64,
    broken: Vec<Run>,
}

fn judge(samples: &[Reads], ran: Ran, needed_s: i64, interval_s: i64) -> Judged {
    let channels: &[Channel] = if ran.is_dish { &CHLORIDE } else { &IN_SITU };
    let begins_s = ran.from_s - needed_s;
    let mut broken = Vec::new();
    let mut covered = true;
    for (of, low, high) in channels {
        let mut all = readings(samples, *of);
        all.retain(|r| (begins_s..=ran.to_s).contains(&r.0));
        broken.extend(named(runs(&all, |v| low.0 - v, |v| v), low.1));
        broken.extend(named(runs(&all, |v| v - high.0, |v| v), high.1));
        let times: Vec<i64> = readings(samples, *of).iter().map(|r| r.0).collect();
        let (missing_s, _) = missing(&times, interval_s, begins_s, ran.to_s);
        covered &= 100.0 * hours(missing_s) <= 5.0 * hours(ran.to_s - begins_s) + 1e-7;
    }
    // Samples that tell something: one channel out, or all of them in range.
    let mut told: Vec<(i64, bool)> = Vec::new();
    for sample in samples.iter().filter(|s| s.time_s <= ran.to_s) {
        let values: Vec<_> =
            channels.iter().map(|(of, low, high)| (of(sample), low.0, high.0)).collect();
        let out = values.iter().any(|(v, low, high)| v.is_some_and(|v| v < *low || v > *high));
        if out || values.iter().all(|(v, ..)| v.is_some()) {
            told.push((sample.time_s, !out));
        }
    }
    // Every one of them as the first from which all were in range to the end of the test.
    let held_from_s = (0..told.len()).find_map(|start| {
        let rest = &told[start..];
        let held = rest.iter().all(|t| t.1)
            && rest.windows(2).all(|pair| pair[1].0 - pair[0].0 <= GAP_S)
            && ran.to_s - rest[rest.len() - 1].0 <= GAP_S;
        held.then_some(rest[0].0)
    });
    let held_s = held_from_s.map_or(0, |from_s| (ran.from_s - from_s).clamp(0, needed_s));
    let outcome = if !broken.is_empty() {
        NotMet
    } else if held_s >= needed_s && covered {
        Met
    } else {
        NoEvidence
    };
    Judged { outcome, held_h: hours(held_s), broken }
}

fn named(runs: Vec<(i64, i64, f64)>, limit: LimitId) -> impl Iterator<Item = Run> {
    runs.into_iter().map(move |(from_s, to_s, worst)| (from_s, to_s, hundredths(worst), limit))
}

fn hundredths(value: f64) -> i64 {
    #[allow(clippy::cast_possible_truncation)] // Readings are of a few thousand hundredths.
    let hundredths = (value * 100.0).round() as i64;
    hundredths
}

/// The worst of all tests that had ended, and the runs of all of them.
fn judge_all(judged: &[Judged]) -> (Twin, BTreeSet<Run>) {
    // What was out of range first, then what nobody knows; of equals the one that held less.
    let broken = judged.iter().flat_map(|j| j.broken.clone()).collect();
    for outcome in [NotMet, NoEvidence, Met] {
        let held = judged.iter().filter(|j| j.outcome == outcome).map(|j| j.held_h);
        if let Some(held_h) = held.min_by(f64::total_cmp) {
            return (Twin::new(outcome, held_h), broken);
        }
    }
    (Twin::no_evidence(), broken)
}

#[test]
fn test_conditions() {
    let ran = (any::<bool>(), any_early_moment(), 0_i64..40_000);
    let tests = prop::collection::vec(ran, 1..3);
    let case = (any_log(SHAPE), any_moment(), tests, 1_i64..12);
    let floors = Floors { met: 10, not_met: 15, no_evidence: 25 };
    agree(case, floors, |(log, at, tests, needed_h)| {
        let now_s = log.at(*at);
        let mut job = bare_job()
            + &limits(&[
                ("test-conditions", &format!("{needed_h} h")),
                ("air-max", "26 C"),
                ("surface-max", "26 C"),
                ("calcium-chloride-air-min", "19 C"),
                ("calcium-chloride-air-max", "28 C"),
            ]);
        let mut ran = Vec::new();
        for (i, (is_dish, start, length_s)) in tests.iter().enumerate() {
            let from_s = log.at(*start);
            let to_s = from_s + length_s;
            let (from, to) = (stamp(from_s), stamp(to_s));
            job += &if *is_dish {
                format!("[[calcium-chloride-test]]\ndish = \"{i}\"\nstart = {from}\nend = {to}\n")
            } else {
                // Drilled and sealed at once: it counts from the drilling.
                format!("[[in-situ-test]]\nhole = \"{i}\"\ndrilled = {from}\nread = {to}\n")
            };
            ran.push(Ran { is_dish: *is_dish, from_s, to_s });
        }
        let found = log.finding("test-conditions", &job, Step::GlueDown, now_s);
        let interval_s = i64::from(log.interval_s);
        let ended = ran.iter().filter(|ran| ran.to_s <= now_s);
        let judged: Vec<Judged> =
            ended.map(|ran| judge(&log.samples, *ran, needed_h * HOUR, interval_s)).collect();
        let (twin, broken) = judge_all(&judged);
        twin.is_like(&found)?;
        let shown = found.broken.iter().map(|b| (b.from_s, b.to_s, hundredths(b.worst), b.limit));
        prop_assert_eq!(shown.collect::<BTreeSet<_>>(), broken);
        prop_assert!(found.broken.is_sorted_by_key(|b| b.from_s));
        prop_assert_eq!(found.clears_at_s, None);
        Ok(found.outcome)
    });
}
