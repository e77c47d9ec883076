//! "Calendar age from the end of the day of the pour. Besides, equivalent age at 20 °C by Arrhenius
//! (5000 K, nothing below 0 °C) from the slab surface, each stretch at the colder of its two readings.
//! Both must reach their limit. Hours without log, also those before the logger came, count as the
//! colder of the readings on either side, at most hour for hour as the calendar counts them, and a
//! warning says how many they were; without any slab reading there is no evidence."

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

/// A slab so warm that the calendar decides.
const WARM: Shape =
    Shape { good: [(2200, 2500), (2000, 2000), (4000, 4000), (2000, 2000)], ..SHAPE };

/// What an hour at this temperature is worth at 20 °C.
fn factor(slab_c: f64) -> f64 {
    if slab_c < 0.0 { 0.0 } else { (-5000.0 * (1.0 / (slab_c + 273.15) - 1.0 / 293.15)).exp() }
}

struct Ages {
    calendar_h: f64,
    /// `None` without any reading.
    equivalent_h: Option<f64>,
    unlogged_s: i64,
}

fn ages(samples: &[Reads], poured_s: i64, now_s: i64) -> Ages {
    let mut ends = readings(samples, |s| s.slab);
    ends.retain(|r| (poured_s..=now_s).contains(&r.0));
    let calendar_h = hours(now_s - poured_s);
    let (Some(first), Some(last)) = (ends.first().copied(), ends.last().copied()) else {
        return Ages { calendar_h, equivalent_h: None, unlogged_s: 0 };
    };
    let mut twin = Ages { calendar_h, equivalent_h: None, unlogged_s: first.0 - poured_s };
    let mut worth_h = hours(twin.unlogged_s) * factor(first.1).min(1.0);
    // The last reading stands for the time since.
    ends.push((now_s, last.1));
    for pair in ends.windows(2) {
        let step_s = pair[1].0 - pair[0].0;
        let worth = factor(pair[0].1.min(pair[1].1));
        if step_s > GAP_S {
            twin.unlogged_s += step_s;
            worth_h += hours(step_s) * worth.min(1.0);
        } else {
            worth_h += hours(step_s) * worth;
        }
    }
    twin.equivalent_h = Some(worth_h);
    twin
}

fn outcome(ages: &Ages, calendar_h: f64, equivalent_h: f64) -> Outcome {
    let by_calendar = ages.calendar_h >= calendar_h - 1e-9;
    match ages.equivalent_h {
        None if by_calendar => NoEvidence,
        Some(age_h) if by_calendar && age_h >= equivalent_h - 1e-9 => Met,
        _ => NotMet,
    }
}

#[test]
fn concrete_age() {
    let day = prop::sample::select(vec![-2_i64, -1, 0, 1]);
    let log = prop_oneof![any_log(SHAPE), any_log(WARM)];
    let case = (log, any_moment(), day, 10_i32..70, 10_i32..70);
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
        prop_assert_eq!(!found.warnings.is_empty(), twin.unlogged_s > GAP_S, "{:#?}", found);
        if found.outcome == NoEvidence {
            prop_assert_eq!(found.figure, None);
            return Ok(NoEvidence);
        }
        // Of the two ages the one is shown that has less left; it is never one that is old enough
        // while the other is not.
        let figure = found.figure.as_ref();
        let Some(figure) = figure else { return Err(TestCaseError::fail("no figure")) };
        let wanted = match figure.limit {
            LimitId::ConcreteEquivalentAge => twin.equivalent_h.unwrap_or(f64::NAN),
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
            let at = |s: i64| outcome(&then(s), calendar_h, equivalent_h);
            prop_assert!(at(clears_s) == Met, "not met at {} {found:#?}", clears_s - D0);
            prop_assert!(at(clears_s - 1) == NotMet, "met before it clears {found:#?}");
        }
        Ok(found.outcome)
    });
}
