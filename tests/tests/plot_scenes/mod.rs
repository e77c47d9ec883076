//! Invented jobs and logs to draw.

use glueday::history::History;
use glueday::job::Job;
use glueday_types::{Absent, CentiCelsius, CentiPercent};

/// 2026-03-02T00:00 in Denver, in seconds of UTC; the clocks go forward on 8 March.
pub(crate) const START_S: i64 = 1_772_434_800;
pub(crate) const HOUR_S: i64 = 3600;
pub(crate) const DAY_S: i64 = 24 * HOUR_S;

/// A job in three units of text: units, site name and what else.
pub(crate) fn job(units: &str, site: &str, more: &str) -> Job {
    let text = format!(
        "[site]\nname = '{site}'\ntime-zone = \"America/Denver\"\nunits = \"{units}\"\n\
         [[room]]\nname = \"North wing\"\n\
         [concrete]\npoured = 2026-01-12\n\
         [adhesive]\nproduct = \"floor adhesive\"\n{more}"
    );
    Job::parse(&text, "job.toml").unwrap_or_else(|errors| panic!("{errors}"))
}

pub(crate) const MILESTONES: &str = "[milestones]\ndelivered = 2026-03-12T09:00\n\
    barrier-rolled = 2026-03-17T10:00\nglue-started = 2026-03-19T08:00\n\
    glue-finished = 2026-03-19T16:30\nheat-on = 2026-03-27T09:00\n";

/// One sample: slab, air, RH, supply; `NAN` is not fitted.
pub(crate) fn push(history: &mut History, time_s: i64, interval_s: u16, values: [f64; 4]) {
    let [slab, air, rh, supply] = values;
    let celsius = |c: f64| {
        if c.is_nan() { Err(Absent::NotFitted) } else { Ok(CentiCelsius::from_celsius(c).unwrap()) }
    };
    let rh = if rh.is_nan() {
        Err(Absent::NotFitted)
    } else {
        Ok(CentiPercent::from_percent(rh).unwrap())
    };
    history.time_s.push(time_s);
    history.interval_s.push(interval_s);
    history.slab.push(celsius(slab));
    history.air.push(celsius(air));
    history.air_rh.push(rh);
    history.supply.push(celsius(supply));
}

/// A small wobble that is the same each time.
fn wobble(i: i64) -> f64 {
    let x = (i.wrapping_mul(2_654_435_761)) & 0xffff;
    f64::from(i32::try_from(x).unwrap()) / 65_536.0 - 0.5
}

/// Four weeks: run-in with heat, turned down, a wet spell, two gaps, gluing, heat back up.
pub(crate) fn four_weeks() -> History {
    let mut history = History::default();
    let every = 600;
    for i in 0..28 * DAY_S / every {
        let time_s = START_S + i * every;
        let day = (i * every) as f64 / DAY_S as f64;
        if (9.2..9.9).contains(&day) || (20.0..20.2).contains(&day) {
            continue;
        }
        let daily = (day * std::f64::consts::TAU - 2.0).sin();
        let heat = if day < 4.0 {
            0.3
        } else if day < 9.0 {
            1.0
        } else if day < 11.0 {
            (11.0 - day) / 2.0
        } else if day > 25.0 {
            (day - 25.0) / 4.0
        } else {
            0.05
        };
        let wet: f64 = if (14.0..15.8).contains(&day) { 28.0 } else { 0.0 };
        let slab = 18.2 + 9.0 * heat + 0.6 * daily + 0.2 * wobble(i);
        let air = 19.2 + 4.0 * heat + 1.6 * daily + 0.5 * wobble(i + 7);
        let rh = (44.0 - 10.0 * heat + wet - 3.0 * daily + 2.0 * wobble(i + 13)).clamp(5.0, 99.0);
        let cycle = if (i / 4) % 2 == 0 { 3.0 } else { -3.0 };
        let supply = 20.0 + 24.0 * heat + cycle * heat + 0.3 * wobble(i + 29);
        push(&mut history, time_s, 600, [slab, air, rh, supply]);
    }
    history
}
