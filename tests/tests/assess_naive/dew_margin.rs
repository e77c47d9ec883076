//! "Slab surface minus dew point of the air, on the worst sample: until gluing of the last day and of all
//! the time since the barrier was rolled, after it of the time since gluing started. For each sample the limit is raised by the expanded
//! uncertainty of the difference, from those of the three probes. A gap longer than the limit since the
//! barrier was rolled is no evidence. A reading that has no dew point is no evidence. Dew point over
//! water from air temperature and RH by a Magnus formula."

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;
use proptest::prelude::*;

use super::agree::{Floors, Twin, agree, clears, is_fresh, runs};
use super::assess_world::{DAY, HOUR, Reads};
use super::case::{
    Shape, any_early_moment, any_log, any_moment, bare_job, grown, limits, readings, stamp,
};

const GAP_S: i64 = HOUR;
const LEAST_K: f64 = 3.0;

const SHAPE: Shape = Shape {
    good: [(1900, 2300), (1900, 2300), (3000, 6300), (2000, 2000)],
    edges: [
        &[1400, 1500, 1650, 1800],
        &[2000, 2600, 6100],
        &[0, 1, 2500, 7000, 7500, 8000, 9999, 10_000, 12_000, 12_001],
        &[2000],
    ],
    intervals_s: &[600, 1800, 3600],
    samples: (1, 120),
};

/// Magnus form of WMO-No. 8 over water: 17.62 and 243.12 °C. Valid from -40 to 60 °C and up to the
/// 120 %RH that a wet probe may read; 0 %RH has no dew point.
fn dew_c(air_c: f64, rh_pct: f64) -> Option<f64> {
    if !(-40.0..=60.0).contains(&air_c) || !(0.01..=120.0).contains(&rh_pct) {
        return None;
    }
    let gamma = (rh_pct / 100.0).ln() + 17.62 * air_c / (243.12 + air_c);
    Some(243.12 * gamma / (17.62 - gamma))
}

/// Root of the sum of squares of what 0.5 K of slab, 0.5 K of air and 3 %RH do to the difference. The
/// humidity that is moved stays between 0.5 and 100 %.
fn guard_k(air_c: f64, rh_pct: f64) -> f64 {
    let dew = |air_c: f64, rh_pct: f64| dew_c(air_c, rh_pct.clamp(0.5, 100.0));
    let moved = |there: Option<f64>| match (there, dew(air_c, rh_pct)) {
        (Some(there), Some(here)) => there - here,
        _ => 0.0,
    };
    let by_air = moved(dew(air_c + 0.5, rh_pct));
    let by_rh = moved(dew(air_c, rh_pct + 3.0));
    (0.25 + by_air.powi(2) + by_rh.powi(2)).sqrt()
}

#[derive(Clone, Copy, Debug)]
struct Margin {
    is_k: f64,
    guard_k: f64,
}

fn judge(samples: &[Reads], from_s: i64, rolled_s: Option<i64>, now_s: i64) -> Twin {
    let samples: Vec<Reads> = samples.iter().copied().filter(|s| s.time_s <= now_s).collect();
    let channels: [fn(&Reads) -> Option<f64>; 3] = [|s| s.slab, |s| s.air, |s| s.rh];
    if !channels.into_iter().all(|of| is_fresh(&readings(&samples, of), now_s, GAP_S)) {
        return Twin::no_evidence();
    }
    let mut margins: Vec<(i64, Margin)> = Vec::new();
    for sample in samples.iter().filter(|s| s.time_s >= from_s) {
        if let (Some(slab_c), Some(air_c), Some(rh_pct)) = (sample.slab, sample.air, sample.rh) {
            let Some(dew_c) = dew_c(air_c, rh_pct) else { return Twin::no_evidence() };
            let margin = Margin { is_k: slab_c - dew_c, guard_k: guard_k(air_c, rh_pct) };
            margins.push((sample.time_s, margin));
        }
    }
    let left = |m: Margin| m.is_k - m.guard_k - LEAST_K;
    let Some(worst) = margins.iter().map(|m| m.1).min_by(|a, b| left(*a).total_cmp(&left(*b)))
    else {
        return Twin::no_evidence();
    };
    let broken = runs(&margins, |m| -left(m), |m| m.is_k);
    // Of a run the lowest margin itself is shown, which need not be that with the least left.
    let broken = broken
        .into_iter()
        .map(|(first_s, last_s, _)| {
            let of_run = margins.iter().filter(|m| (first_s..=last_s).contains(&m.0));
            (first_s, last_s, of_run.map(|m| m.1.is_k).fold(f64::INFINITY, f64::min))
        })
        .collect();
    if left(worst) >= -1e-9
        && let Some(rolled_s) = rolled_s
        && let Some((gap_from_s, gap_s)) = longest_gap(&margins, rolled_s, now_s)
    {
        let mut broken: Vec<(i64, i64, f64)> = broken;
        broken.push((gap_from_s, gap_from_s + gap_s, gap_s as f64 / 3600.0));
        return Twin { outcomes: vec![NoEvidence], ..Twin::new(Met, worst.is_k) }
            .with_broken(broken);
    }
    let outcome = if left(worst) < -1e-9 { NotMet } else { Met };
    Twin::new(outcome, worst.is_k).with_broken(broken)
}

/// The longest time without a reading since the barrier was rolled, if it is too long: when, how long.
fn longest_gap(margins: &[(i64, Margin)], rolled_s: i64, now_s: i64) -> Option<(i64, i64)> {
    let mut times_s: Vec<i64> = margins.iter().map(|m| m.0).collect();
    // The reading before it was rolled still stands; without one, the gap begins with the barrier.
    match times_s.iter().rposition(|time_s| *time_s <= rolled_s) {
        Some(before) => drop(times_s.drain(..before)),
        None => times_s.insert(0, rolled_s),
    }
    times_s.push(now_s);
    let gaps = times_s.windows(2).map(|pair| (pair[0], pair[1] - pair[0]));
    gaps.filter(|gap| gap.1 > GAP_S).max_by_key(|gap| gap.1)
}

#[test]
fn dew_margin() {
    let step = prop::sample::select(vec![Step::Membrane, Step::GlueDown, Step::Traffic]);
    let case = (any_log(SHAPE), any_moment(), any_early_moment(), step, any::<bool>());
    let floors = Floors { met: 20, not_met: 10, no_evidence: 20 };
    agree(case, floors, |(log, at, done, step, is_done)| {
        let (now_s, done_s) = (log.at(*at), log.at(*done));
        let mut job = bare_job() + &limits(&[]);
        if *is_done {
            let what = if *step == Step::Traffic { "glue-started" } else { "barrier-rolled" };
            job += &format!("[milestones]\n{what} = {}\n", stamp(done_s));
        }
        let is_done = *is_done && done_s <= now_s;
        let from_s = match step {
            Step::Traffic => done_s,
            _ if is_done => done_s.min(now_s - DAY),
            _ => now_s - DAY,
        };
        let found = log.finding("dew-margin", &job, *step, now_s);
        let twin = if *step == Step::Traffic && !is_done {
            Twin::no_evidence()
        } else {
            let rolled_s = (is_done && *step != Step::Traffic).then_some(done_s);
            judge(&log.samples, from_s, rolled_s, now_s)
        };
        twin.is_like(&found)?;
        if let (Some(figure), Some(worst)) = (&found.figure, twin.observed) {
            let samples = log.until(now_s);
            let same = samples.iter().filter(|s| s.time_s >= from_s).any(|s| {
                let (Some(slab_c), Some(air_c), Some(rh_pct)) = (s.slab, s.air, s.rh) else {
                    return false;
                };
                let is_k = dew_c(air_c, rh_pct).map(|dew_c| slab_c - dew_c);
                is_k.is_some_and(|is_k| (is_k - worst).abs() < 1e-9)
                    && (guard_k(air_c, rh_pct) - figure.guard).abs() < 1e-9
            });
            prop_assert!(same, "no sample has this margin and this guard: {figure:#?}");
        }
        let samples = log.until(now_s);
        let (slab, air, rh) = (Some(22.0), Some(21.0), Some(42.0));
        let good = Reads { time_s: 0, slab, air, rh, supply: None };
        let met_at = |then_s: i64| {
            let grown = grown(&samples, now_s, then_s, good);
            judge(&grown, then_s - DAY, None, then_s).outcomes == [Met]
        };
        // What was rolled or glued in condensation is not mended by waiting, and what goes on at the
        // last reading has no end that anybody knows.
        let whole = |s: &&Reads| s.slab.is_some() && s.air.is_some() && s.rh.is_some();
        let last_s = samples.iter().rfind(whole).map(|s| s.time_s);
        let is_out = found.broken.last().is_some_and(|b| Some(b.to_s) == last_s);
        let waits = found.outcome == NotMet && !is_done && !is_out;
        clears(&found, waits, met_at)?;
        Ok(found.outcome)
    });
}
