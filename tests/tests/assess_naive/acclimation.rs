//! "Air temperature and RH are both in range in every sample, without a gap longer than the limit, for
//! the acclimation time up to now, counted from when the wood was delivered at the earliest. One sample
//! out of range starts the count anew."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;

use super::agree::{Floors, Twin, agree, clears, hours, is_fresh, runs_outside};
use super::assess_world::{HOUR, Reads};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, grown, limits, readings, stamp,
};

const GAP_S: i64 = HOUR;
const AIR: (f64, f64) = (18.0, 26.0);
const RH: (f64, f64) = (30.0, 50.0);

const SHAPE: Shape = Shape {
    good: [(2000, 2000), (1900, 2500), (3500, 4900), (2000, 2000)],
    edges: [&[2000], &[1799, 1800, 2600, 2601], &[2999, 3000, 5000, 5001], &[2000]],
    intervals_s: &[600, 1800],
    samples: (1, 120),
};

/// Why a count does not reach further back.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Before {
    Nothing,
    Gap,
    OutOfRange,
}

/// Tries every reading as the first of those that were in range up to now without a gap; the earliest.
fn held_from(of: &[(i64, f64)], (low, high): (f64, f64), now_s: i64) -> Option<(i64, Before)> {
    let in_range = |value: f64| low <= value && value <= high;
    (0..of.len()).find_map(|start| {
        let rest = &of[start..];
        let held = rest.iter().all(|r| in_range(r.1))
            && rest.windows(2).all(|pair| pair[1].0 - pair[0].0 <= GAP_S)
            && now_s - rest[rest.len() - 1].0 <= GAP_S;
        let before = match start.checked_sub(1).map(|i| of[i]) {
            None => Before::Nothing,
            Some((_, value)) if in_range(value) => Before::Gap,
            Some(_) => Before::OutOfRange,
        };
        held.then_some((rest[0].0, before))
    })
}

fn judge(samples: &[Reads], delivered_s: i64, needed_s: i64, now_s: i64) -> Twin {
    let samples: Vec<Reads> = samples.iter().copied().filter(|s| s.time_s <= now_s).collect();
    let all = [readings(&samples, |s| s.air), readings(&samples, |s| s.rh)];
    if delivered_s > now_s || !all.iter().all(|of| is_fresh(of, now_s, GAP_S)) {
        return Twin::no_evidence();
    }
    let [air, rh] = all.map(|of| -> Vec<_> {
        of.into_iter().filter(|reading| reading.0 >= delivered_s).collect()
    });
    let mut broken = runs_outside(&air, AIR.0, AIR.1);
    broken.extend(runs_outside(&rh, RH.0, RH.1));
    let (Some(of_air), Some(of_rh)) = (held_from(&air, AIR, now_s), held_from(&rh, RH, now_s))
    else {
        // Out of range now; or not read since the delivery, of which the rule does not speak.
        let outcomes =
            if air.is_empty() || rh.is_empty() { vec![NotMet, NoEvidence] } else { vec![NotMet] };
        return Twin { outcomes, ..Twin::new(NotMet, 0.0) }.with_broken(broken);
    };
    let from_s = of_air.0.max(of_rh.0);
    let held = Twin::new(Met, hours(now_s - from_s)).with_broken(broken);
    if now_s - from_s >= needed_s {
        return held;
    }
    let before: Vec<Before> =
        [of_air, of_rh].into_iter().filter(|of| of.0 == from_s).map(|of| of.1).collect();
    let gap = before.contains(&Before::Gap);
    let other = before.iter().any(|before| *before != Before::Gap);
    let mut outcomes = Vec::new();
    if gap {
        outcomes.push(NoEvidence);
    }
    if other {
        outcomes.push(NotMet);
    }
    Twin { outcomes, ..held }
}

#[test]
fn acclimation() {
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), 1_i64..13);
    let floors = Floors { met: 25, not_met: 25, no_evidence: 15 };
    agree(case, floors, |(log, at, delivered, needed_h)| {
        let (now_s, delivered_s) = (log.at(*at), log.at(*delivered));
        let job = bare_job()
            + &limits(&[
                ("acclimation", &format!("{needed_h} h")),
                ("air-min", "18 C"),
                ("air-max", "26 C"),
            ])
            + &format!("[milestones]\ndelivered = {}\n", stamp(delivered_s));
        let found = log.finding("acclimation", &job, Step::GlueDown, now_s);
        let needed_s = needed_h * HOUR;
        let twin = judge(&log.samples, delivered_s, needed_s, now_s);
        twin.is_like(&found)?;
        let samples = log.until(now_s);
        let since = |of: fn(&Reads) -> Option<f64>| -> Option<f64> {
            readings(&samples, of).into_iter().rfind(|r| r.0 >= delivered_s).map(|r| r.1)
        };
        let (air, rh) = (since(|s| s.air), since(|s| s.rh));
        let good = Reads { time_s: 0, slab: None, air: Some(21.0), rh: Some(42.0), supply: None };
        let met_at = |then_s: i64| {
            let grown = grown(&samples, now_s, then_s, good);
            judge(&grown, delivered_s, needed_s, then_s).outcomes == [Met]
        };
        // Time clears it when both were read since the delivery and are in range now.
        let in_range = air.is_some_and(|c| (AIR.0..=AIR.1).contains(&c))
            && rh.is_some_and(|pct| (RH.0..=RH.1).contains(&pct));
        let waits = twin.observed.is_some() && !twin.outcomes.contains(&Met) && in_range;
        clears(&found, waits, met_at)?;
        Ok(found.outcome)
    });
}
