//! "Calendar age from the end of the day of the pour. Besides, equivalent age at 20 °C by Arrhenius
//! (5000 K, nothing below 0 °C) from the slab surface, each stretch at the colder of its two readings.
//! Both must reach their limit. Where the log covers the time since the pour as well as the coverage
//! limit asks, hours without log count nothing. Where it does not, hours without log count hour for hour."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::{Outcome, Step};
use glueday::limits::LimitId;
use proptest::prelude::*;

use super::agree::{Floors, agree, hours};
use super::assess_world::{D0, DAY, HOUR, Reads};
use super::case::{Shape, any_log, any_moment, bare_job, grown, limits, readings};

const GAP_S: i64 = HOUR;

const SHAPE: Shape = Shape {
    good: [(1500, 2500), (2000, 2000), (4000, 4000), (2000, 2000)],
    edges: [&[-100, -1, 0, 1, 500, 2000, 3500], &[2000], &[4000], &[2000]],
    intervals_s: &[600, 1800, 3600],
    samples: (1, 140),
};

/// What an hour at this temperature is worth at 20 °C.
fn factor(slab_c: f64) -> f64 {
    if slab_c < 0.0 { 0.0 } else { (-5000.0 * (1.0 / (slab_c + 273.15) - 1.0 / 293.15)).exp() }
}

struct Ages {
    calendar_h: f64,
    equivalent_h: f64,
    covered: bool,
}

fn ages(samples: &[Reads], poured_s: i64, now_s: i64) -> Ages {
    let mut ends = readings(samples, |s| s.slab);
    ends.retain(|r| (poured_s..=now_s).contains(&r.0));
    // The last reading stands for the time since.
    ends.extend(ends.last().map(|last| (now_s, last.1)));
    let stretches = ends.windows(2).filter(|pair| pair[1].0 - pair[0].0 <= GAP_S);
    let (mut logged_s, mut worth_h) = (0, 0.0);
    for pair in stretches {
        logged_s += pair[1].0 - pair[0].0;
        worth_h += hours(pair[1].0 - pair[0].0) * factor(pair[0].1.min(pair[1].1));
    }
    let age_s = now_s - poured_s;
    let covered = age_s > 0 && hours(logged_s) * 100.0 >= 95.0 * hours(age_s) - 1e-7;
    let unlogged_h = if covered { 0.0 } else { hours((age_s - logged_s).max(0)) };
    Ages { calendar_h: hours(age_s), equivalent_h: worth_h + unlogged_h, covered }
}

fn outcome(ages: &Ages, calendar_h: f64, equivalent_h: f64) -> Outcome {
    let old_enough =
        ages.calendar_h >= calendar_h - 1e-9 && ages.equivalent_h >= equivalent_h - 1e-9;
    if old_enough { Met } else { NotMet }
}

#[test]
fn concrete_age() {
    let day = prop::sample::select(vec![-2_i64, -1, 0, 1]);
    let case = (any_log(SHAPE), any_moment(), day, 10_i32..70, 10_i32..70);
    let floors = Floors { met: 25, not_met: 25, no_evidence: 0 };
    agree(case, floors, |(log, at, day, calendar_h, equivalent_h)| {
        let now_s = log.at(*at);
        // Days end at midnight UTC: poured the day before, the concrete ages from this one on.
        let poured_s = D0 + day * DAY;
        let poured = ["2026-02-27", "2026-02-28", "2026-03-01", "2026-03-02"]
            [usize::try_from(day + 2).unwrap_or(0)];
        let job = bare_job()
            + &format!("[concrete]\npoured = {poured}\n")
            + &limits(&[
                ("concrete-age", &format!("{calendar_h} h")),
                ("concrete-equivalent-age", &format!("{equivalent_h} h")),
            ]);
        let found = log.finding("concrete-age", &job, Step::GlueDown, now_s);
        let (calendar_h, equivalent_h) = (f64::from(*calendar_h), f64::from(*equivalent_h));
        let twin = ages(&log.samples, poured_s, now_s);
        prop_assert_eq!(found.outcome, outcome(&twin, calendar_h, equivalent_h), "{:#?}", found);
        prop_assert_eq!(!found.warnings.is_empty(), !twin.covered, "{:#?}", found);
        // Of the two ages the one is shown that has less left; it is never one that is old enough
        // while the other is not.
        let figure = found.figure.as_ref();
        let Some(figure) = figure else { return Err(TestCaseError::fail("no figure")) };
        let wanted = match figure.limit {
            LimitId::ConcreteEquivalentAge => twin.equivalent_h,
            _ => twin.calendar_h,
        };
        prop_assert!((figure.observed - wanted).abs() < 1e-9, "not {wanted}: {figure:#?}");
        prop_assert_eq!(figure.margin >= -1e-9, found.outcome == Met, "{:#?}", figure);
        if let Some(clears_s) = found.clears_at_s {
            prop_assert!(found.outcome == NotMet);
            let samples = log.until(now_s);
            let slab = readings(&samples, |s| s.slab).last().map(|r| r.1);
            // The slab stays as warm as it is.
            let held = Reads { time_s: 0, slab, air: None, rh: None, supply: None };
            let then = |then_s: i64| ages(&grown(&samples, now_s, then_s, held), poured_s, then_s);
            // A log that becomes good enough takes away hours that counted without one.
            if then(clears_s).covered == twin.covered {
                let at = |s: i64| outcome(&then(s), calendar_h, equivalent_h);
                prop_assert!(at(clears_s) == Met, "not met at {} {found:#?}", clears_s - D0);
                prop_assert!(at(clears_s - 1) == NotMet, "met before it clears {found:#?}");
            }
        }
        prop_assert!(found.outcome != NoEvidence);
        Ok(found.outcome)
    });
}
