//! The figures, over rows as they are read: hundredths, in which limits are exact.

use glueday::intake::Row;
use glueday::physics::air::{magnus_of_air, magnus_of_rh, magnus_over_water_c};
use glueday::physics::concrete::{GAS_CONSTANT_J_MOL_K, Maturity};
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::ops::RangeInclusive;

const MAX_GAP_S: i64 = 150;
const LAST_S: i64 = 60;
const DAY_S: i64 = 86_400;
const HOUR_S: f64 = 3600.0;

/// One row, in hundredths of a degree or a percent.
#[derive(Clone, Copy)]
struct At {
    utc_s: i64,
    surface: i16,
    air: i16,
    rh: u16,
}

/// What a function of a reading comes to, for each hundredth that there can be: a year has many times
/// as many readings.
struct Table {
    least: i32,
    results: Vec<f64>,
}

impl Table {
    fn new(hundredths: RangeInclusive<i32>, of: impl Fn(f64) -> f64) -> Self {
        let least = *hundredths.start();
        Self { least, results: hundredths.map(|value| of(f64::from(value) / 100.0)).collect() }
    }

    fn get(&self, hundredths: impl Into<i32>) -> f64 {
        let place = usize::try_from(hundredths.into() - self.least).unwrap();
        *self.results.get(place).expect("a reading in the range of the formula")
    }
}

/// All figures of a log.
///
/// # Panics
/// When a reading is missing, or is out of the ranges of the formulas.
pub(crate) fn of(rows: &[Row]) -> Value {
    let log: Vec<At> = rows
        .iter()
        .map(|row| At {
            utc_s: row.utc_s,
            surface: row.slab.expect("a surface temperature").0,
            air: row.air.expect("an air temperature").0,
            rh: row.air_rh.expect("a humidity").0,
        })
        .collect();
    let (streak_end_s, streak_max_s) = streaks_s(&log);
    json!({
        "dp_spread_min": dp_spread_min(&log),
        "streak_end_h": streak_end_s as f64 / HOUR_S,
        "streak_max_h": streak_max_s as f64 / HOUR_S,
        "rise24_max": f64::from(rise24_max(&log)) / 100.0,
        "hours_above": above_s(&log, 2700) as f64 / HOUR_S,
        "eq_age_d": eq_age_s(&log) / DAY_S as f64,
    })
}

fn dp_spread_min(log: &[At]) -> f64 {
    let of_air = Table::new(-4000..=6000, |air_c| magnus_of_air(air_c).unwrap());
    let of_rh = Table::new(1..=12_000, |rh_pct| magnus_of_rh(rh_pct).unwrap());
    log.iter()
        .map(|at| {
            let dew_c = magnus_over_water_c(of_rh.get(at.rh) + of_air.get(at.air));
            f64::from(at.surface) / 100.0 - dew_c
        })
        .fold(f64::INFINITY, f64::min)
}

fn in_range(at: &At) -> bool {
    (1800..=2700).contains(&at.air)
        && (3500..=6500).contains(&at.rh)
        && (1500..=2700).contains(&at.surface)
}

/// The streak up to the last row, and the longest.
fn streaks_s(log: &[At]) -> (i64, i64) {
    let (mut streak_s, mut longest_s) = (0, 0);
    let mut first_s: Option<i64> = None;
    let mut before_s = i64::MIN;
    for at in log {
        let joined = first_s.filter(|_| at.utc_s - before_s <= MAX_GAP_S);
        first_s = in_range(at).then(|| joined.unwrap_or(at.utc_s));
        streak_s = first_s.map_or(0, |first_s| at.utc_s - first_s);
        longest_s = longest_s.max(streak_s);
        before_s = at.utc_s;
    }
    (streak_s, longest_s)
}

/// The most that a row is above the least of its day, in hundredths. The queue holds rows that can still
/// be the least: each is below all that came after it.
fn rise24_max(log: &[At]) -> i32 {
    let mut rise = 0;
    let mut least: VecDeque<&At> = VecDeque::new();
    for at in log {
        while least.back().is_some_and(|last| last.surface >= at.surface) {
            least.pop_back();
        }
        least.push_back(at);
        while least.front().is_some_and(|first| first.utc_s < at.utc_s - DAY_S) {
            least.pop_front();
        }
        let lowest = least.front().map_or(at.surface, |first| first.surface);
        rise = rise.max(i32::from(at.surface) - i32::from(lowest));
    }
    rise
}

/// How long each row lasts.
fn durations_s(log: &[At]) -> impl Iterator<Item = (&At, i64)> {
    let next_s = log.iter().skip(1).map(|at| Some(at.utc_s)).chain([None]);
    log.iter().zip(next_s).map(|(at, next_s)| {
        (at, next_s.map_or(LAST_S, |next_s| (next_s - at.utc_s).min(MAX_GAP_S)))
    })
}

fn above_s(log: &[At], limit: i16) -> i64 {
    durations_s(log).filter(|(at, _)| at.surface > limit).map(|(_, dt_s)| dt_s).sum()
}

fn eq_age_s(log: &[At]) -> f64 {
    let maturity = Maturity {
        activation_k: 40_000.0 / GAS_CONSTANT_J_MOL_K,
        reference_c: 20.0,
        counts_from_c: None,
    };
    let factor = Table::new(-4000..=9000, |concrete_c| maturity.age_factor(concrete_c).unwrap());
    durations_s(log).map(|(at, dt_s)| factor.get(at.surface) * dt_s as f64).sum()
}
