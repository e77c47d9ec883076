//! "Every slab surface reading of the time that counts is within the range: for the barrier over the
//! last day, for gluing over the hold before laying, up to now."
//!
//! That days which nobody saw are no evidence is the invariant that no data is never a pass.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;
use proptest::prelude::*;

use super::agree::{Floors, Twin, agree, clears, is_fresh, runs_outside};
use super::assess_world::{DAY, HOUR, Reads};
use super::case::{Shape, any_log, any_moment, bare_job, grown, limits, readings};

const GAP_S: i64 = HOUR;

const SHAPE: Shape = Shape {
    good: [(1850, 2150), (2000, 2000), (4000, 4000), (2000, 2000)],
    edges: [&[1499, 1500, 1799, 1800, 2200, 2201, 2400, 2401], &[2000], &[4000], &[2000]],
    intervals_s: &[600, 1800, 3600],
    samples: (1, 120),
};

/// `low`: what is left to the lowest reading; `high`: to the highest.
fn judge(samples: &[Reads], (low, high): (f64, f64), back_s: i64, now_s: i64) -> Twin {
    let samples: Vec<Reads> = samples.iter().copied().filter(|s| s.time_s <= now_s).collect();
    let all = readings(&samples, |s| s.slab);
    if !is_fresh(&all, now_s, GAP_S) {
        return Twin::no_evidence();
    }
    let counted: Vec<_> = all.into_iter().filter(|r| r.0 >= now_s - back_s).collect();
    if counted.is_empty() {
        return Twin::no_evidence();
    }
    // The reading with the least left to either limit.
    let left = |value: f64| (value - low).min(high - value);
    let worst = counted.iter().map(|r| r.1).min_by(|a, b| left(*a).total_cmp(&left(*b)));
    let worst = worst.unwrap_or_default();
    let broken = runs_outside(&counted, low, high);
    let outcome = if !broken.is_empty() {
        NotMet
    } else if counted[0].0 - (now_s - back_s) > GAP_S {
        NoEvidence
    } else {
        Met
    };
    Twin::new(outcome, worst).with_broken(broken)
}

#[test]
fn slab_surface() {
    let step = prop::sample::select(vec![Step::Membrane, Step::GlueDown]);
    let case = (any_log(SHAPE), any_moment(), step, 1_i64..40);
    let floors = Floors { met: 20, not_met: 10, no_evidence: 20 };
    agree(case, floors, |(log, at, step, hold_h)| {
        let now_s = log.at(*at);
        let hold = format!("{hold_h} h");
        let job = bare_job()
            + &limits(&[
                ("laying-hold-before", &hold),
                ("barrier-surface-max", "24.003 C"),
                // Not in the middle between two readings, so that one of two is the nearer.
                ("laying-surface-max", "22.003 C"),
            ]);
        // Shipped: slab surface from 15 °C, laying from 18 °C.
        let (range, back_s) = match step {
            Step::Membrane => ((15.0, 24.003), DAY),
            _ => ((18.0, 22.003), hold_h * HOUR),
        };
        let found = log.finding("slab-surface", &job, *step, now_s);
        let twin = judge(&log.samples, range, back_s, now_s);
        twin.is_like(&found)?;
        let samples = log.until(now_s);
        let good = Reads { time_s: 0, slab: Some(20.0), air: None, rh: None, supply: None };
        let met_at = |then_s: i64| {
            let grown = grown(&samples, now_s, then_s, good);
            judge(&grown, range, back_s, then_s).outcomes == [Met]
        };
        // Out of range at the last reading, nobody knows when that ends.
        let last = readings(&samples, |s| s.slab).last().copied();
        let is_out = found.broken.iter().any(|b| last.is_some_and(|last| last.0 == b.to_s));
        let waits = twin.observed.is_some() && found.outcome != Met && !is_out;
        clears(&found, waits, met_at)?;
        Ok(found.outcome)
    });
}
