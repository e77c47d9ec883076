//! "Hours since the last coat of the barrier" (the last board laid), "counted only while the log shows
//! slab surface, air and RH in the ranges of the barrier. Time next to a reading out of range, and gaps
//! longer than the limit, do not count; the hours before and after them do."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;

use super::agree::{Floors, Twin, agree, clears, hours, is_fresh, runs_outside};
use super::assess_world::{HOUR, Reads};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, grown, limits, readings, stamp,
};

const GAP_S: i64 = HOUR;
const FREE: f64 = 1e6;

const SHAPE: Shape = Shape {
    good: [(1600, 2200), (1900, 2500), (4000, 7000), (2000, 2000)],
    edges: [
        &[1499, 1500, 2600, 2601],
        &[1799, 1800, 2800, 2801],
        &[7499, 7500, 7501, 8500, 8501],
        &[2000],
    ],
    intervals_s: &[600, 1800],
    samples: (1, 120),
};

/// Lowest and highest of slab, air and RH; beyond ±[`FREE`] there is no limit.
type Ranges = [(f64, f64); 3];

/// One sample that tells something: when, and whether all that it reads is in range. `None` when a
/// channel with a range does not read and no other is out.
fn told(sample: &Reads, ranges: &Ranges) -> Option<(i64, bool)> {
    let mut missing = false;
    for (value, (low, high)) in [sample.slab, sample.air, sample.rh].into_iter().zip(ranges) {
        match value {
            Some(value) if value < *low || value > *high => return Some((sample.time_s, false)),
            None if *low > -FREE || *high < FREE => missing = true,
            _ => {}
        }
    }
    (!missing).then_some((sample.time_s, true))
}

/// What the twin counted, and whether it goes on counting.
struct Counted {
    twin: Twin,
    goes_on: bool,
}

fn judge(samples: &[Reads], ranges: &Ranges, done_s: i64, needed_s: i64, now_s: i64) -> Counted {
    let samples: Vec<Reads> = samples.iter().copied().filter(|s| s.time_s <= now_s).collect();
    let nothing = Counted { twin: Twin::no_evidence(), goes_on: false };
    let channels: [fn(&Reads) -> Option<f64>; 3] = [|s| s.slab, |s| s.air, |s| s.rh];
    let mut broken = Vec::new();
    for (of, (low, high)) in channels.into_iter().zip(ranges) {
        let all = readings(&samples, of);
        if (*low > -FREE || *high < FREE) && !is_fresh(&all, now_s, GAP_S) {
            return nothing;
        }
        let since: Vec<_> = all.into_iter().filter(|r| r.0 >= done_s).collect();
        broken.extend(runs_outside(&since, *low, *high));
    }
    if done_s > now_s {
        return nothing;
    }
    let mut told: Vec<(i64, bool)> = samples.iter().filter_map(|s| told(s, ranges)).collect();
    let last = told.last().copied();
    // The time asked about stands for the reading that is to come.
    told.push((now_s, true));
    // Second by second it would be the same: how much of the time since is in no stretch that counts.
    let since = |from_s: i64, to_s: i64| (to_s - from_s.max(done_s)).max(0);
    let (mut kept_s, mut known_s) = (0, 0);
    for pair in told.windows(2) {
        let ((a_s, a), (b_s, b)) = (pair[0], pair[1]);
        if b_s - a_s <= GAP_S {
            known_s += since(a_s, b_s);
            if a && b {
                kept_s += since(a_s, b_s);
            }
        }
    }
    let unknown_s = now_s - done_s - known_s;
    let outcome = if kept_s >= needed_s {
        Met
    } else if kept_s + unknown_s >= needed_s {
        // Enough time may have passed, but nobody can tell.
        NoEvidence
    } else {
        NotMet
    };
    let goes_on = last.is_some_and(|last| last.1 && now_s - last.0 <= GAP_S);
    Counted { twin: Twin::new(outcome, hours(kept_s)).with_broken(broken), goes_on }
}

/// A cure that is judged, in these ranges, from a milestone.
struct Cure {
    id: &'static str,
    step: Step,
    job: String,
    milestone: &'static str,
    limit: &'static str,
    ranges: Ranges,
}

fn agrees(cure: &Cure, floors: Floors) {
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), 1_i64..16);
    agree(case, floors, |(log, at, done, needed_h)| {
        let (now_s, done_s) = (log.at(*at), log.at(*done));
        let job = cure.job.clone()
            + &limits(&[(cure.limit, &format!("{needed_h} h"))])
            + &format!("[milestones]\n{} = {}\n", cure.milestone, stamp(done_s));
        let found = log.finding(cure.id, &job, cure.step, now_s);
        let needed_s = needed_h * HOUR;
        let Counted { twin, goes_on } = judge(&log.samples, &cure.ranges, done_s, needed_s, now_s);
        twin.is_like(&found)?;
        let samples = log.until(now_s);
        let good =
            Reads { time_s: 0, slab: Some(20.0), air: Some(21.0), rh: Some(50.0), supply: None };
        let met_at = |then_s: i64| {
            let grown = grown(&samples, now_s, then_s, good);
            judge(&grown, &cure.ranges, done_s, needed_s, then_s).twin.outcomes == [Met]
        };
        let waits = twin.observed.is_some() && found.outcome != Met && goes_on;
        clears(&found, waits, met_at)?;
        Ok(found.outcome)
    });
}

#[test]
fn barrier_cure() {
    // Shipped: slab from 15 °C, RH up to 85 %; the data sheet here adds the rest but for the air's maximum.
    let sheet = [("barrier-surface-max", "26 C"), ("barrier-air-min", "18 C")];
    agrees(
        &Cure {
            id: "barrier-cure",
            step: Step::GlueDown,
            job: bare_job() + "[barrier]\nproduct = \"two-part barrier\"\n" + &limits(&sheet),
            milestone: "barrier-rolled",
            limit: "barrier-cure",
            ranges: [(15.0, 26.0), (18.0, FREE), (-FREE, 85.0)],
        },
        Floors { met: 25, not_met: 20, no_evidence: 20 },
    );
}

#[test]
fn barrier_cure_without_a_range_for_air() {
    agrees(
        &Cure {
            id: "barrier-cure",
            step: Step::GlueDown,
            job: bare_job() + "[barrier]\nproduct = \"two-part barrier\"\n",
            milestone: "barrier-rolled",
            limit: "barrier-cure",
            ranges: [(15.0, FREE), (-FREE, FREE), (-FREE, 85.0)],
        },
        Floors { met: 25, not_met: 20, no_evidence: 20 },
    );
}

#[test]
fn adhesive_cure() {
    for (step, limit) in [(Step::Traffic, "traffic-cure"), (Step::HeatUp, "heat-up-cure")] {
        let sheet = [("adhesive-air-max", "28 C")];
        agrees(
            &Cure {
                id: "adhesive-cure",
                step,
                job: bare_job() + &limits(&sheet),
                milestone: "glue-finished",
                limit,
                // Shipped: slab from 15 °C, air from 18 °C, RH up to 75 %.
                ranges: [(15.0, FREE), (18.0, 28.0), (-FREE, 75.0)],
            },
            Floors { met: 25, not_met: 20, no_evidence: 20 },
        );
    }
}
