//! "Of the time that counts, the share for which there are readings of the worst channel: each reading
//! stands for the time to the next when that comes within one and a half nominal intervals, else for
//! one interval. No gap is longer than the limit. Before work starts the time that counts is two days, and
//! for gluing the hold before laying or the acclimation where they are longer."
//!
//! At its ends: the last reading before the time that counts stands for its beginning as for any other, and
//! the time asked about stands for the next reading after the last.

use glueday::assess::Outcome::{Met, NoEvidence};
use glueday::assess::Step;
use proptest::prelude::*;

use super::agree::{Checked, Floors, Twin, agree, clears, hours};
use super::assess_world::{DAY, HOUR, Reads};
use super::case::{
    Log, Shape, any_early_moment, any_log, any_moment, bare_job, grown, limits, stamp,
};

const GAP_S: i64 = HOUR;
const LEAST_PCT: f64 = 95.0;

const SHAPE: Shape = Shape {
    good: [(2000, 2100), (2000, 2100), (4000, 4100), (2000, 2100)],
    edges: [&[2000, 2001], &[2000, 2001], &[4000, 4001], &[2000, 2001]],
    intervals_s: &[600, 1800, 3600],
    samples: (1, 150),
};

const CHANNELS: [fn(&Reads) -> Option<f64>; 4] = [|s| s.slab, |s| s.air, |s| s.rh, |s| s.supply];

/// Seconds of the span that no reading of the channel stands for, and the longest stretch without one.
pub(crate) fn missing(times: &[i64], interval_s: i64, from_s: i64, to_s: i64) -> (i64, (i64, i64)) {
    let within: Vec<i64> = times.iter().copied().filter(|t| (from_s..=to_s).contains(t)).collect();
    // The last reading before may stand for the beginning.
    let mut ends: Vec<i64> =
        times.iter().copied().filter(|t| *t < from_s).max().into_iter().collect();
    ends.extend(&within);
    ends.push(to_s);
    let mut missing_s = ends[0].max(from_s) - from_s;
    for pair in ends.windows(2) {
        let step_s = pair[1] - pair[0];
        let reach_s = if step_s * 2 > interval_s * 3 { interval_s } else { step_s };
        missing_s += pair[1] - (pair[0] + reach_s).max(from_s);
    }
    let (Some(first_s), Some(last_s)) = (within.first(), within.last()) else {
        return (missing_s, (from_s, to_s));
    };
    // Every pair of ends between which there is nothing.
    let mut gaps = vec![(from_s, *first_s), (*last_s, to_s)];
    for (i, a_s) in within.iter().enumerate() {
        gaps.extend(within.get(i + 1).map(|b_s| (*a_s, *b_s)));
    }
    let longest_s = gaps.iter().map(|gap| gap.1 - gap.0).max().unwrap_or(0);
    gaps.retain(|gap| gap.1 - gap.0 == longest_s);
    (missing_s, gaps.into_iter().min().unwrap_or((from_s, to_s)))
}

fn judge(samples: &[Reads], interval_s: i64, from_s: i64, to_s: i64) -> Twin {
    let of_channels = CHANNELS.map(|of| {
        let times: Vec<i64> =
            samples.iter().filter(|s| of(s).is_some()).map(|s| s.time_s).collect();
        missing(&times, interval_s, from_s, to_s)
    });
    let most_s = of_channels.iter().map(|m| m.0).max().unwrap_or(0);
    let share_pct =
        if to_s > from_s { 100.0 - 100.0 * hours(most_s) / hours(to_s - from_s) } else { 100.0 };
    let longest_s = of_channels.iter().map(|(_, (a_s, b_s))| b_s - a_s).max().unwrap_or(0);
    let within = |s: &&Reads| (from_s..=to_s).contains(&s.time_s);
    let nothing =
        CHANNELS.into_iter().any(|of| !samples.iter().filter(within).any(|s| of(s).is_some()));
    if nothing {
        return Twin::no_evidence();
    }
    let good = share_pct >= LEAST_PCT - 1e-9 && longest_s <= GAP_S;
    Twin::new(if good { Met } else { NoEvidence }, share_pct)
}

fn check(
    log: &Log,
    step: Step,
    now_s: i64,
    started_s: i64,
    hold_h: i64,
    acclimation_h: i64,
) -> Checked {
    let job = bare_job()
        + &limits(&[
            ("laying-hold-before", &format!("{hold_h} h")),
            ("acclimation", &format!("{acclimation_h} h")),
        ])
        + &format!("[milestones]\nglue-started = {}\n", stamp(started_s));
    let back_s = match step {
        Step::Membrane => 2 * DAY,
        Step::GlueDown => 48.max(hold_h).max(acclimation_h) * HOUR,
        _ => now_s - started_s,
    };
    let found = log.finding("log-coverage", &job, step, now_s);
    let (samples, interval_s) = (log.until(now_s), i64::from(log.interval_s));
    let twin = if back_s < 0 {
        Twin::no_evidence()
    } else {
        judge(&samples, interval_s, now_s - back_s, now_s)
    };
    twin.is_like(&found)?;
    if found.outcome == Met {
        return Ok(found.outcome);
    }
    // The longest gap of all channels is the one that is shown, if it is too long.
    let longest = CHANNELS.into_iter().map(|of| {
        let times: Vec<i64> =
            samples.iter().filter(|s| of(s).is_some()).map(|s| s.time_s).collect();
        missing(&times, interval_s, now_s - back_s, now_s).1
    });
    let longest_s = longest.map(|gap| gap.1 - gap.0).max().unwrap_or(0);
    if twin.observed.is_some() && longest_s > GAP_S {
        let shown = found.broken.iter().any(|b| b.to_s - b.from_s == longest_s);
        prop_assert!(shown, "a gap of {longest_s} s is not shown: {:?}", found.broken);
    }
    let is_working = matches!(step, Step::Membrane | Step::GlueDown);
    let is_fresh = CHANNELS.into_iter().all(|of| {
        samples.iter().rev().find(|s| of(s).is_some()).is_some_and(|s| now_s - s.time_s <= GAP_S)
    });
    let (slab, air, rh, supply) = (Some(20.0), Some(21.0), Some(42.0), Some(24.0));
    let good = Reads { time_s: 0, slab, air, rh, supply };
    let met_at = |then_s: i64| {
        let grown = grown(&samples, now_s, then_s, good);
        judge(&grown, interval_s, then_s - back_s, then_s).outcomes == [Met]
    };
    let waits = twin.observed.is_some() && is_working && is_fresh;
    clears(&found, waits, met_at)?;
    Ok(found.outcome)
}

#[test]
fn coverage() {
    let step = prop::sample::select(vec![Step::Membrane, Step::GlueDown, Step::Traffic]);
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), step, 1_i64..80, 1_i64..80);
    let floors = Floors { met: 10, not_met: 0, no_evidence: 40 };
    agree(case, floors, |(log, at, started, step, hold_h, acclimation_h)| {
        let (now_s, started_s) = (log.at(*at), log.at(*started));
        check(log, *step, now_s, started_s, *hold_h, *acclimation_h)
    });
}
