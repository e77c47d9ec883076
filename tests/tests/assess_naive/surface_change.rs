//! "For each slab surface reading of the time that counts: its rise above the lowest and its fall below
//! the highest of the 24 h before it, whichever is larger. The time that counts is the last day before
//! work starts, all of the time since gluing after it."
//!
//! After gluing nothing before it counts: what the bare slab did does not strain the floor.

use glueday::assess::Outcome::{Met, NotMet};
use glueday::assess::Step;
use proptest::prelude::*;

use super::agree::{Floors, Twin, agree, clears, is_fresh, runs};
use super::assess_world::{DAY, HOUR};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, limits, readings, stamp,
};

const GAP_S: i64 = HOUR;
const MOST_K: f64 = 3.0;

const SHAPE: Shape = Shape {
    good: [(1950, 2150), (2000, 2000), (4000, 4000), (2000, 2000)],
    edges: [&[1749, 1850, 1851, 2249, 2250, 2251, 2400], &[2000], &[4000], &[2000]],
    intervals_s: &[600, 1800, 3600],
    samples: (1, 120),
};

/// `from_s`: where the time that counts begins; `sees_from_s`: the first reading that is looked at.
fn judge(all: Vec<(i64, f64)>, from_s: i64, sees_from_s: i64, now_s: i64) -> Twin {
    let all: Vec<_> = all.into_iter().filter(|r| r.0 <= now_s).collect();
    if !is_fresh(&all, now_s, GAP_S) {
        return Twin::no_evidence();
    }
    let seen: Vec<_> = all.into_iter().filter(|r| r.0 >= sees_from_s).collect();
    // Every pair of readings not more than a day apart.
    let mut changes: Vec<(i64, f64)> = Vec::new();
    for (i, later) in seen.iter().enumerate().filter(|(_, r)| r.0 >= from_s) {
        let within = seen[..=i].iter().filter(|earlier| later.0 - earlier.0 <= DAY);
        let largest = within.map(|earlier| (later.1 - earlier.1).abs()).fold(0.0, f64::max);
        changes.push((later.0, largest));
    }
    let Some(fastest) = changes.iter().map(|c| c.1).max_by(f64::total_cmp) else {
        return Twin::no_evidence();
    };
    let broken = runs(&changes, |change| change - MOST_K, |change| change);
    let outcome = if broken.is_empty() { Met } else { NotMet };
    Twin::new(outcome, fastest).with_broken(broken)
}

#[test]
fn surface_change() {
    let step = prop::sample::select(vec![Step::GlueDown, Step::Traffic, Step::Service]);
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), step);
    let floors = Floors { met: 25, not_met: 15, no_evidence: 10 };
    agree(case, floors, |(log, at, started, step)| {
        let (now_s, started_s) = (log.at(*at), log.at(*started));
        let job = bare_job()
            + &limits(&[("surface-change-24h-max", "3 K")])
            + &format!("[milestones]\nglue-started = {}\n", stamp(started_s));
        let glued = *step != Step::GlueDown && started_s <= now_s;
        let (from_s, sees_from_s) =
            if glued { (started_s, started_s) } else { (now_s - DAY, now_s - 2 * DAY) };
        let found = log.finding("surface-change", &job, *step, now_s);
        let twin = if *step != Step::GlueDown && !glued {
            Twin::no_evidence()
        } else {
            judge(readings(&log.samples, |s| s.slab), from_s, sees_from_s, now_s)
        };
        twin.is_like(&found)?;
        if found.outcome == Met || *step != Step::GlueDown {
            prop_assert_eq!(found.clears_at_s, None);
        } else if let (Some(clears_s), Some(last)) = (found.clears_at_s, found.broken.last()) {
            prop_assert!(clears_s > last.to_s + DAY, "{found:#?}");
            // As long as the slab stays as it is now, and is read at its interval.
            let samples = log.until(now_s);
            let seen = readings(&samples, |s| s.slab);
            let (last_s, now_c) = seen.last().copied().unwrap_or((now_s, 0.0));
            let met_at = |then_s: i64| {
                let held = (last_s..=then_s).step_by(usize::from(log.interval_s)).skip(1);
                let held = held.filter(|time_s| *time_s >= now_s).map(|time_s| (time_s, now_c));
                let all: Vec<_> = seen.iter().copied().chain(held).collect();
                judge(all, then_s - DAY, then_s - 2 * DAY, then_s).outcomes == [Met]
            };
            clears(&found, true, met_at)?;
        }
        Ok(found.outcome)
    });
}
