//! Running two ways of judging on the same logs, and comparing what they say.

use std::cell::Cell;

use glueday::assess::{Finding, Outcome};
use proptest::prelude::*;
use proptest::test_runner::{RngAlgorithm, TestCaseError, TestError, TestRng, TestRunner};

use super::assess_world::D0;

const CASES: u32 = 128;

pub(crate) type Checked = Result<Outcome, TestCaseError>;

/// How many of the logs of a fixed seed must end in each outcome, so that none is never seen.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Floors {
    pub(crate) met: u32,
    pub(crate) not_met: u32,
    pub(crate) no_evidence: u32,
}

/// Checks logs of a fixed seed, with floors for the outcomes, and then logs that are new each time.
pub(crate) fn agree<S: Strategy>(
    strategy: S,
    floors: Floors,
    check: impl Fn(&S::Value) -> Checked,
) {
    let config = ProptestConfig {
        cases: CASES,
        failure_persistence: None,
        max_shrink_iters: 4096,
        ..ProptestConfig::default()
    };
    let (met, not_met, no_evidence) = (Cell::new(0), Cell::new(0), Cell::new(0));
    let seed = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let fixed = TestRunner::new_with_rng(config.clone(), seed).run(&strategy, |case| {
        let count = match check(&case)? {
            Outcome::Met => &met,
            Outcome::NotMet => &not_met,
            Outcome::NoEvidence => &no_evidence,
        };
        count.set(count.get() + 1);
        Ok(())
    });
    report(fixed);
    let seen = (met.get(), not_met.get(), no_evidence.get());
    let enough = seen.0 >= floors.met && seen.1 >= floors.not_met && seen.2 >= floors.no_evidence;
    assert!(enough, "met, not met, no evidence: {seen:?} of {CASES}, wanted {floors:?}");
    report(TestRunner::new(config).run(&strategy, |case| check(&case).map(|_| ())));
}

fn report<T: std::fmt::Debug>(result: Result<(), TestError<T>>) {
    match result {
        Ok(()) => {}
        Err(TestError::Fail(reason, case)) => panic!("{reason}\nwith {case:#?}"),
        Err(TestError::Abort(reason)) => panic!("{reason}"),
    }
}

/// What the letter of a rule says.
#[derive(Clone, Debug)]
pub(crate) struct Twin {
    /// More than one where the rule leaves it open.
    pub(crate) outcomes: Vec<Outcome>,
    /// What was observed, when the rule names a figure.
    pub(crate) observed: Option<f64>,
    /// First time, last time and worst value of each run beyond a limit, when the rule names them.
    pub(crate) broken: Option<Vec<(i64, i64, f64)>>,
}

impl Twin {
    pub(crate) fn new(outcome: Outcome, observed: f64) -> Self {
        Self { outcomes: vec![outcome], observed: Some(observed), broken: None }
    }

    pub(crate) fn no_evidence() -> Self {
        Self { outcomes: vec![Outcome::NoEvidence], observed: None, broken: None }
    }

    pub(crate) fn with_broken(self, broken: Vec<(i64, i64, f64)>) -> Self {
        Self { broken: Some(broken), ..self }
    }

    /// Whether a finding says the same.
    pub(crate) fn is_like(&self, found: &Finding) -> Result<(), TestCaseError> {
        prop_assert!(self.outcomes.contains(&found.outcome), "{self:?}\nfound {found:#?}");
        if let Some(observed) = self.observed {
            let figure = found.figure.as_ref().map(|figure| figure.observed);
            let same = figure.is_some_and(|figure| (figure - observed).abs() < 1e-9);
            prop_assert!(same, "observed {figure:?}, not {observed}\nfound {found:#?}");
        }
        if let Some(broken) = &self.broken {
            let mut wanted = broken.clone();
            let mut spans: Vec<_> =
                found.broken.iter().map(|b| (b.from_s, b.to_s, b.worst)).collect();
            prop_assert!(spans.is_sorted_by_key(|span| span.0), "not in order of time: {spans:?}");
            let order = |a: &(i64, i64, f64), b: &(i64, i64, f64)| {
                (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2))
            };
            wanted.sort_by(order);
            spans.sort_by(order);
            let same = |(a, b): (&(i64, i64, f64), &(i64, i64, f64))| {
                (a.0, a.1) == (b.0, b.1) && (a.2 - b.2).abs() < 1e-9
            };
            let all = wanted.len() == spans.len() && wanted.iter().zip(&spans).all(same);
            prop_assert!(all, "broken {spans:?}, not {wanted:?}");
        }
        Ok(())
    }
}

/// That a rule clears when it is said to: it is met then, and was not a second before.
pub(crate) fn clears(
    found: &Finding,
    wanted: bool,
    met_at: impl Fn(i64) -> bool,
) -> Result<(), TestCaseError> {
    let at_s = found.clears_at_s;
    prop_assert_eq!(at_s.is_some(), wanted, "clears {:?}\n{:#?}", at_s.map(|s| s - D0), found);
    if let Some(at_s) = at_s {
        prop_assert!(met_at(at_s), "not met when it should clear, {}\n{found:#?}", at_s - D0);
        prop_assert!(!met_at(at_s - 1), "met before it clears, {}\n{found:#?}", at_s - D0);
    }
    Ok(())
}

/// Runs of neighbouring readings beyond a limit, by trying every first and last one. `beyond` says
/// by how much; the run is named by its first and last time and `shown` of the reading that is
/// furthest beyond.
pub(crate) fn runs<T: Copy>(
    readings: &[(i64, T)],
    beyond: impl Fn(T) -> f64,
    shown: impl Fn(T) -> f64,
) -> Vec<(i64, i64, f64)> {
    let is = |i: usize| beyond(readings[i].1) > 1e-9;
    let mut runs = Vec::new();
    for first in 0..readings.len() {
        for last in first..readings.len() {
            let whole = (first..=last).all(is)
                && (first == 0 || !is(first - 1))
                && (last + 1 == readings.len() || !is(last + 1));
            if whole {
                let most = readings[first..=last].iter().map(|r| beyond(r.1)).fold(0.0, f64::max);
                let worst = readings[first..=last].iter().find(|r| beyond(r.1) >= most);
                runs.push((readings[first].0, readings[last].0, worst.map_or(0.0, |r| shown(r.1))));
            }
        }
    }
    runs
}

/// The runs below one limit and above another.
pub(crate) fn runs_outside(readings: &[(i64, f64)], low: f64, high: f64) -> Vec<(i64, i64, f64)> {
    let mut all = runs(readings, |value| low - value, |value| value);
    all.extend(runs(readings, |value| value - high, |value| value));
    all
}

/// Whether the last reading of a channel is no older than a gap may be.
pub(crate) fn is_fresh(readings: &[(i64, f64)], now_s: i64, gap_s: i64) -> bool {
    readings.last().is_some_and(|last| now_s - last.0 <= gap_s)
}

pub(crate) fn hours(seconds: i64) -> f64 {
    seconds as f64 / 3600.0
}
