//! "The last sample has a reading of every channel, and no channel has read the same to the last digit
//! for longer than the limit, counted from the last reading that was another one. One that has not been
//! seen to move at all is no evidence."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;
use proptest::prelude::*;

use super::agree::{Floors, Twin, agree, hours, is_fresh};
use super::assess_world::{DAY, HOUR, Reads};
use super::case::{Shape, any_log, any_moment, bare_job, limits, readings};

const GAP_S: i64 = HOUR;

const SHAPE: Shape = Shape {
    good: [(2000, 2001), (2000, 2002), (4000, 4002), (2000, 2002)],
    edges: [&[2000, 2001], &[2000, 2001], &[4000, 4001], &[2000, 2001]],
    intervals_s: &[600, 1800],
    samples: (1, 120),
};

const CHANNELS: [fn(&Reads) -> Option<f64>; 4] = [|s| s.slab, |s| s.air, |s| s.rh, |s| s.supply];

/// For how long a channel has read the same: since its last reading that was another one, if any was.
#[derive(Clone, Copy, Debug)]
struct Quiet {
    since_other_s: Option<i64>,
    since_first_s: i64,
}

fn quiet(all: &[(i64, f64)], now_s: i64) -> Option<Quiet> {
    let now = all.last()?.1;
    let since_first_s = now_s - all.first()?.0;
    let mut since_other_s = None;
    for (time_s, value) in all {
        if (value - now).abs() > 0.001 {
            since_other_s = Some(now_s - time_s);
        }
    }
    Some(Quiet { since_other_s, since_first_s })
}

fn judge(samples: &[Reads], limit_s: i64, now_s: i64) -> Twin {
    let all = CHANNELS.map(|of| readings(samples, of));
    let Some(last) = samples.last() else { return Twin::no_evidence() };
    if !all.iter().all(|of| is_fresh(of, now_s, GAP_S)) {
        return Twin::no_evidence();
    }
    if CHANNELS.into_iter().any(|of| of(last).is_none()) {
        return Twin { outcomes: vec![NotMet], observed: None, broken: None };
    }
    let quiet: Vec<Quiet> = all.iter().filter_map(|of| quiet(of, now_s)).collect();
    // One that never moved, and not for long enough to be called stuck.
    let unseen = quiet.iter().any(|q| q.since_other_s.is_none() && q.since_first_s <= limit_s);
    let longest_s = quiet.iter().map(|q| q.since_other_s.unwrap_or(q.since_first_s)).max();
    let longest_s = longest_s.unwrap_or(0);
    match (unseen, longest_s > limit_s) {
        // One is stuck and another may be: the rule does not say which counts more.
        (true, true) => Twin { outcomes: vec![NotMet, NoEvidence], observed: None, broken: None },
        (true, false) => Twin::no_evidence(),
        (false, is_stuck) => Twin::new(if is_stuck { NotMet } else { Met }, hours(longest_s)),
    }
}

#[test]
fn probes() {
    let case = (any_log(SHAPE), any_moment(), 1_i64..5);
    let floors = Floors { met: 25, not_met: 10, no_evidence: 20 };
    agree(case, floors, |(log, at, limit_h)| {
        let now_s = log.at(*at);
        let job = bare_job() + &limits(&[("probe-unchanged-max", &format!("{limit_h} h"))]);
        let found = log.finding("probes", &job, Step::Membrane, now_s);
        let samples = log.until(now_s);
        let twin = judge(&samples, limit_h * HOUR, now_s);
        // Further back than a day before the limit nobody looks: then only that it is stuck is known.
        let seen_s = limit_h * HOUR + DAY;
        let looks_further = samples.first().is_some_and(|first| now_s - first.time_s > seen_s);
        if looks_further && found.outcome != Met {
            let twin = judge(&samples, limit_h * HOUR, now_s);
            prop_assert!(!twin.outcomes.contains(&Met), "{twin:?} {found:#?}");
        } else {
            twin.is_like(&found)?;
        }
        prop_assert_eq!(found.clears_at_s, None);
        Ok(found.outcome)
    });
}
