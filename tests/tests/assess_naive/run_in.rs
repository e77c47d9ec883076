//! "The stages in the supply readings, in this order and without a gap longer than the limit: the concrete
//! is old enough; the supply holds the first range for its time; then, never below that range, it holds
//! the highest design supply, less the tolerance, for its time; then it is turned down (below that,
//! and either the supply is back under the first maximum or the slab in the laying range). Supply above
//! the first maximum and 3 K above the air at a younger age is first heat too early, and not mended
//! later. When the log does not show it whole, the times entered in the job are taken at the contractor's
//! word, if they leave room for both stages and no reading of that time contradicts: beside the readings
//! that do, there must still be room for both."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::{Outcome, Step};
use glueday::limits::LimitId;
use proptest::prelude::*;

use super::agree::{Floors, agree, hours};
use super::assess_world::{D0, DAY, HOUR, Reads};
use super::case::{Log, Shape, any_moment, any_short_log, bare_job, limits, readings, stamp};

const GAP_S: i64 = HOUR;
const FIRST: (f64, f64) = (20.0, 25.0);
/// 42 °C less 2 K.
const DESIGN_C: f64 = 40.0;
const AGE_S: i64 = 24 * HOUR;

const SHAPE: Shape = Shape {
    good: [(1900, 2300), (2000, 2300), (4000, 4000), (2100, 2400)],
    edges: [
        &[1700, 1799, 1800, 2200, 2201, 2400],
        &[2000, 2199, 2200, 2201],
        &[4000],
        &[1999, 2000, 2500, 2501, 2600, 3999, 4000, 4200],
    ],
    intervals_s: &[600, 1800],
    samples: (20, 120),
};

/// What the supply does in a stage of the run-in: so many samples of so much.
type Stage = (usize, i32);

/// Mostly a run-in in its order; else anything.
fn any_stages() -> impl Strategy<Value = Vec<Stage>> {
    let len = 5_usize..40;
    let whole = (len.clone(), len.clone(), len).prop_map(|(first, design, down)| {
        vec![(first, 2300), (2, 3200), (design, 4200), (2, 3000), (down, 2400)]
    });
    let supply = prop::sample::select(vec![1800, 2300, 2501, 3200, 4000, 4200, 2400]);
    prop_oneof![3 => whole, 1 => prop::collection::vec((1_usize..40, supply), 1..6)]
}

/// Puts the stages in place of the good readings of the supply.
fn with_stages(log: &Log, stages: &[Stage]) -> Log {
    let mut log = log.clone();
    let supplies = stages.iter().flat_map(|(count, supply)| std::iter::repeat_n(*supply, *count));
    let good = |c: f64| (21.0..=24.0).contains(&c);
    for (sample, supply) in log.samples.iter_mut().zip(supplies) {
        if sample.supply.is_some_and(good) {
            sample.supply = Some(f64::from(supply) / 100.0);
        }
    }
    log
}

struct Job {
    poured_s: i64,
    first_s: i64,
    design_s: i64,
    by_hand: Option<(i64, i64)>,
}

/// What the rule says: outcome, and the figure with its limit when it names one.
type Said = (Outcome, Option<(LimitId, f64)>);

fn judge(samples: &[Reads], job: &Job, now_s: i64) -> Said {
    let old_enough_s = job.poured_s + AGE_S;
    let too_early = samples.iter().find(|s| {
        let hot = s.supply.is_some_and(|c| c > FIRST.1 && s.air.is_none_or(|air| c > air + 3.0));
        hot && s.time_s >= job.poured_s && s.time_s < old_enough_s
    });
    if let Some(sample) = too_early {
        let age_h = hours(sample.time_s - job.poured_s);
        return (NotMet, Some((LimitId::RunInAgeCement, age_h)));
    }
    let mut supply = readings(samples, |s| s.supply);
    supply.retain(|r| r.0 >= old_enough_s);
    let (first_s, design_s) = longest(&supply, job.first_s);
    let shown = first_s >= job.first_s && design_s >= job.design_s;
    if let Some((start_s, end_s)) = job.by_hand.filter(|(_, end_s)| *end_s <= now_s && !shown) {
        let at_start_s = start_s - job.poured_s;
        if at_start_s < AGE_S {
            return (NotMet, Some((LimitId::RunInAgeCement, hours(at_start_s))));
        }
        let left_s = end_s - start_s - job.first_s;
        let mut entered = readings(samples, |s| s.supply);
        entered.retain(|r| (start_s..=end_s).contains(&r.0));
        let agrees = entered.is_empty() || has_room(&entered, start_s, end_s, job);
        let outcome = if left_s >= job.design_s && agrees { Met } else { NotMet };
        return (outcome, Some((LimitId::RunInDesignHold, hours(left_s))));
    }
    if !supply.iter().any(|r| r.1 > FIRST.1) {
        return (NoEvidence, None);
    }
    if first_s < job.first_s {
        return (NotMet, Some((LimitId::RunInFirstHold, hours(first_s))));
    }
    let figure = Some((LimitId::RunInDesignHold, hours(design_s)));
    if design_s < job.design_s {
        return (NotMet, figure);
    }
    let Some((last_s, supply_c)) = readings(samples, |s| s.supply).last().copied() else {
        return (NoEvidence, None);
    };
    if now_s - last_s > GAP_S {
        return (NoEvidence, None);
    }
    let slab = readings(samples, |s| s.slab);
    let slab_c = slab.last().filter(|r| r.0 >= now_s - DAY).map(|r| r.1);
    let in_laying_range = slab_c.is_some_and(|c| (18.0..=22.0).contains(&c));
    let down = supply_c < DESIGN_C && (supply_c <= FIRST.1 || in_laying_range);
    (if down { Met } else { NotMet }, figure)
}

/// The longest first stage, and the longest hold at design supply after one that was long enough, by
/// trying every first and last reading of both.
fn longest(supply: &[(i64, f64)], first_hold_s: i64) -> (i64, i64) {
    let no_gap = |of: &[(i64, f64)]| of.windows(2).all(|pair| pair[1].0 - pair[0].0 <= GAP_S);
    let holds = |of: &[(i64, f64)], is: &dyn Fn(f64) -> bool| of.iter().all(|r| is(r.1));
    let length_s = |of: &[(i64, f64)]| of[of.len() - 1].0 - of[0].0;
    let (mut first_s, mut design_s) = (0, 0);
    for a in 0..supply.len() {
        for b in a..supply.len() {
            let first = &supply[a..=b];
            if !no_gap(first) || !holds(first, &|c| FIRST.0 <= c && c <= FIRST.1) {
                break;
            }
            first_s = first_s.max(length_s(first));
            // A longer first stage leaves no more room for what comes after: the shortest will do.
            let before = &supply[a..b];
            if length_s(first) < first_hold_s
                || before.last().is_some_and(|last| last.0 - supply[a].0 >= first_hold_s)
            {
                continue;
            }
            for c in b + 1..supply.len() {
                if !no_gap(&supply[b..=c]) || !holds(&supply[b..=c], &|c| c >= FIRST.0) {
                    break;
                }
                for d in c..supply.len() {
                    let design = &supply[c..=d];
                    if !no_gap(design) || !holds(design, &|c| c >= DESIGN_C) {
                        break;
                    }
                    design_s = design_s.max(length_s(design));
                }
            }
        }
    }
    (first_s, design_s)
}

/// Whether both holds fit between the readings that contradict them, by trying every beginning of both:
/// that of the time entered, or a reading that does not fit the hold.
fn has_room(supply: &[(i64, f64)], start_s: i64, end_s: i64, job: &Job) -> bool {
    let in_first = |c: f64| FIRST.0 <= c && c <= FIRST.1;
    let between = |from_s: i64, to_s: i64, is: &dyn Fn(f64) -> bool| {
        supply.iter().filter(|r| from_s < r.0 && r.0 < to_s).all(|r| is(r.1))
    };
    let unfit = supply.iter().filter(|r| !in_first(r.1)).map(|r| r.0);
    std::iter::once(start_s).chain(unfit).any(|a_s| {
        let over_s = a_s + job.first_s;
        let cool = supply.iter().filter(|r| r.0 >= over_s && r.1 < DESIGN_C).map(|r| r.0);
        between(a_s, over_s, &in_first)
            && std::iter::once(over_s).chain(cool).any(|b_s| {
                let warm_until =
                    supply.iter().filter(|r| over_s <= r.0 && r.0 <= b_s).all(|r| r.1 >= FIRST.0);
                let until_s = b_s + job.design_s;
                warm_until && until_s <= end_s && between(b_s, until_s, &|c| c >= DESIGN_C)
            })
    })
}

#[test]
fn run_in() {
    let by_hand = prop::option::weighted(0.3, (0_i64..200_000, 1_i64..80_000));
    let day = prop::sample::select(vec![-2_i64, -2, -1, -1, 0]);
    let case = (any_short_log(SHAPE), any_stages(), any_moment(), day, 1_i64..8, 1_i64..8, by_hand);
    let floors = Floors { met: 10, not_met: 20, no_evidence: 10 };
    agree(case, floors, |(log, stages, at, day, first_h, design_h, by_hand)| {
        let log = with_stages(log, stages);
        let now_s = log.at(*at);
        let poured_s = D0 + day * DAY;
        let poured =
            ["2026-02-27", "2026-02-28", "2026-03-01"][usize::try_from(day + 2).unwrap_or(0)];
        let mut job = bare_job()
            + &limits(&[
                ("run-in-age-cement", "24 h"),
                ("run-in-first-hold", &format!("{first_h} h")),
                ("run-in-design-hold", &format!("{design_h} h")),
            ])
            + &format!("[concrete]\npoured = {poured}\n[heating]\ndesign-supply = \"42 C\"\n");
        let by_hand = by_hand.map(|(start_s, length_s)| (D0 + start_s, D0 + start_s + length_s));
        if let Some((start_s, end_s)) = by_hand {
            let (start, end) = (stamp(start_s), stamp(end_s));
            job += &format!("run-in-start = {start}\nrun-in-end = {end}\n");
        }
        let found = log.finding("run-in", &job, Step::GlueDown, now_s);
        let (first_s, design_s) = (first_h * HOUR, design_h * HOUR);
        let rules = Job { poured_s, first_s, design_s, by_hand };
        let (outcome, figure) = judge(&log.until(now_s), &rules, now_s);
        prop_assert_eq!(found.outcome, outcome, "{:#?}", found);
        if let Some((limit, observed)) = figure {
            let same = found
                .figure
                .as_ref()
                .is_some_and(|f| f.limit == limit && (f.observed - observed).abs() < 1e-9);
            prop_assert!(same, "not {limit:?} {observed}: {found:#?}");
        }
        prop_assert_eq!(found.clears_at_s, None);
        Ok(found.outcome)
    });
}
