//! Nights on which clocks change: hours are hours that passed, and a job's times are those of its site.

use glueday::assess::Outcome::{Met, NotMet};
use glueday::job::Job;

use crate::assess_world::{DAY, HOUR, Of, World, good, t};
use crate::rows::Clears::{Any, At, Never};
use crate::rows::Rows;

/// Days from the first of the log to 2026-11-01, when clocks go back in Denver and Havana.
const AUTUMN: i64 = 244;

fn in_zone(zone: &str) -> World {
    let mut world = World::ready();
    world.edit("time-zone = \"UTC\"", &format!("time-zone = \"{zone}\""));
    world
}

/// A log around 1 November instead of the one of March.
fn in_autumn(zone: &str) -> World {
    let mut world = in_zone(zone);
    world.samples = (t(AUTUMN - 8, 0, 0)..=t(AUTUMN + 4, 0, 0)).step_by(600).map(good).collect();
    world
}

fn delivered(world: &mut World, local: &str) {
    world.edit("delivered = 2026-03-11T00:00", &format!("delivered = {local}"));
}

fn rolled(world: &mut World, local: &str) {
    world.edit("barrier-rolled = 2026-03-14T00:00", &format!("barrier-rolled = {local}"));
}

fn tested(world: &mut World, drilled: &str, sealed: &str, read: &str) {
    world.edit("drilled = 2026-03-11T23:30", &format!("drilled = {drilled}"));
    world.edit("sealed = 2026-03-12T00:00", &format!("sealed = {sealed}"));
    world.edit("read = 2026-03-13T00:00", &format!("read = {read}"));
}

/// The night of 8 March in Denver: at 2:00 MST, 9:00 UTC, clocks go forward to 3:00 MDT.
#[test]
fn the_night_in_spring() {
    let mut rows = Rows::default();
    let noon_and_72_h = t(8, 19, 0);
    for (seconds, outcome, clears, because) in [
        (0, Met, Any, "delivered at noon, MST; 72 h later it is 13:00, MDT"),
        (-1, NotMet, At(noon_and_72_h), "a second less"),
        (-HOUR, NotMet, At(noon_and_72_h), "at noon by the clock on the wall it is only 71 h"),
    ] {
        rows.on(
            in_zone("America/Denver"),
            "acclimation",
            because,
            move |w| {
                delivered(w, "2026-03-07T12:00");
                w.at_s = noon_and_72_h + seconds;
            },
            outcome,
            clears,
        );
    }
    for (back_s, outcome) in [(72 * HOUR, NotMet), (72 * HOUR + 600, Met)] {
        rows.on(
            in_zone("America/Denver"),
            "slab-surface",
            "the hold before laying reaches 72 h back, to noon, not to 13:00",
            move |w| {
                w.at_s = noon_and_72_h;
                w.set(Of::Slab, w.at_s - back_s, w.at_s - back_s, 17.0);
            },
            outcome,
            if outcome == Met { Any } else { At(noon_and_72_h + 1) },
        );
    }
    // 1:59 MST is 8:59 UTC; the minute after it is 3:00 MDT, 9:00 UTC.
    for (local, cured_s) in [
        ("2026-03-07T20:00", t(7, 3, 0)),
        ("2026-03-08T01:59", t(7, 8, 59)),
        ("2026-03-08T03:00", t(7, 9, 0)),
        ("2026-03-08T02:30-07:00", t(7, 9, 30)),
    ] {
        for (seconds, outcome) in [(0, Met), (-1, NotMet)] {
            rows.on(
                in_zone("America/Denver"),
                "barrier-cure",
                "24 h after it was rolled, in hours that passed",
                move |w| {
                    rolled(w, local);
                    w.at_s = cured_s + seconds;
                },
                outcome,
                if outcome == Met { Any } else { At(cured_s) },
            );
        }
    }
    for (read, outcome) in
        [("2026-03-08T10:00", NotMet), ("2026-03-08T10:59", NotMet), ("2026-03-08T11:00", Met)]
    {
        rows.on(
            in_zone("America/Denver"),
            "moisture-tests",
            "sealed at 10:00, MST: the 24 h of a hole are over at 11:00, MDT",
            move |w| tested(w, "2026-03-07T09:30", "2026-03-07T10:00", read),
            outcome,
            Never,
        );
    }
    for (bad_s, outcome) in [(t(4, 18, 0), NotMet), (t(4, 17, 50), Met)] {
        rows.on(
            in_zone("America/Denver"),
            "test-conditions",
            "drilled at 12:00, MDT, 18:00 UTC: 48 h before it was 11:00, MST",
            move |w| {
                tested(w, "2026-03-08T12:00", "2026-03-08T12:30", "2026-03-09T13:00");
                w.set(Of::Slab, bad_s, bad_s, 17.0);
            },
            outcome,
            Never,
        );
    }
    // In Havana there is no midnight then: at 0:00, 5:00 UTC, it is 1:00.
    for (zone, ended_s) in [("America/Denver", t(6, 7, 0)), ("America/Havana", t(6, 5, 0))] {
        for (seconds, outcome) in [(0, Met), (-1, NotMet)] {
            rows.on(
                in_zone(zone),
                "concrete-age",
                "poured on the 7th: 24 h from the end of that day, with or without a midnight",
                move |w| {
                    w.edit("poured = 2026-01-12", "poured = 2026-03-07");
                    w.limit("concrete-age", "24 h");
                    w.limit("concrete-equivalent-age", "20 h");
                    w.at_s = ended_s + DAY + seconds;
                },
                outcome,
                if outcome == Met { Any } else { At(ended_s + DAY) },
            );
        }
    }
    rows.check(22);
}

/// The night of 1 November in Denver: at 2:00 MDT, 8:00 UTC, clocks go back to 1:00 MST.
#[test]
fn the_night_in_autumn() {
    let mut rows = Rows::default();
    let noon_and_72_h = t(AUTUMN + 2, 18, 0);
    for (seconds, outcome, because) in [
        (0, Met, "delivered at noon, MDT; 72 h later it is 11:00, MST"),
        (-1, NotMet, "a second less"),
    ] {
        rows.on(
            in_autumn("America/Denver"),
            "acclimation",
            because,
            move |w| {
                delivered(w, "2026-10-31T12:00");
                w.at_s = noon_and_72_h + seconds;
            },
            outcome,
            if outcome == Met { Any } else { At(noon_and_72_h) },
        );
    }
    for (back_s, outcome) in [(72 * HOUR, NotMet), (72 * HOUR + 600, Met)] {
        rows.on(
            in_autumn("America/Denver"),
            "slab-surface",
            "the hold before laying reaches 72 h back from 11:00 to noon, not to 11:00",
            move |w| {
                w.at_s = noon_and_72_h;
                w.set(Of::Slab, w.at_s - back_s, w.at_s - back_s, 17.0);
            },
            outcome,
            Any,
        );
    }
    // Only an offset says which 1:30 is meant; 0:59 and 2:00 came once, 3 h apart by no clock.
    for (local, cured_s) in [
        ("2026-10-31T20:00", t(AUTUMN + 1, 2, 0)),
        ("2026-11-01T00:59", t(AUTUMN + 1, 6, 59)),
        ("2026-11-01T01:30-06:00", t(AUTUMN + 1, 7, 30)),
        ("2026-11-01T01:30-07:00", t(AUTUMN + 1, 8, 30)),
        ("2026-11-01T02:00", t(AUTUMN + 1, 9, 0)),
    ] {
        for (seconds, outcome) in [(0, Met), (-1, NotMet)] {
            rows.on(
                in_autumn("America/Denver"),
                "barrier-cure",
                "24 h after it was rolled, in hours that passed",
                move |w| {
                    rolled(w, local);
                    w.at_s = cured_s + seconds;
                },
                outcome,
                if outcome == Met { Any } else { At(cured_s) },
            );
        }
    }
    for (read, outcome) in [("2026-11-01T09:00", Met), ("2026-11-01T08:59", NotMet)] {
        rows.on(
            in_autumn("America/Denver"),
            "moisture-tests",
            "sealed at 10:00, MDT: the 24 h of a hole are over at 9:00, MST",
            move |w| {
                tested(w, "2026-10-31T09:30", "2026-10-31T10:00", read);
                w.at_s = t(AUTUMN + 3, 0, 0);
            },
            outcome,
            Never,
        );
    }
    // In Havana midnight comes twice, at 4:00 and 5:00 UTC; the day before ends with the first.
    for (zone, ended_s) in
        [("America/Denver", t(AUTUMN, 6, 0)), ("America/Havana", t(AUTUMN, 4, 0))]
    {
        for (seconds, outcome) in [(0, Met), (-1, NotMet)] {
            rows.on(
                in_autumn(zone),
                "concrete-age",
                "poured on 31 October: 24 h from the end of that day",
                move |w| {
                    // What was done in March cannot stand in the job of a slab of October.
                    let end = w.job.find("[milestones]").expect("milestones");
                    w.job.truncate(end);
                    w.edit("poured = 2026-01-12", "poured = 2026-10-31");
                    w.limit("concrete-age", "24 h");
                    w.limit("concrete-equivalent-age", "20 h");
                    w.at_s = ended_s + DAY + seconds;
                },
                outcome,
                if outcome == Met { Any } else { At(ended_s + DAY) },
            );
        }
    }
    rows.check(20);
}

/// A job must not guess which moment is meant.
#[test]
fn a_time_that_no_clock_showed_or_that_came_twice_is_asked_about() {
    type Put = fn(&mut World, &str);
    let all: [Put; 5] = [
        delivered,
        rolled,
        |w, time| tested(w, time, "2026-12-01T00:00", "2026-12-03T00:00"),
        |w, time| tested(w, "2026-01-20T00:00", time, "2026-12-03T00:00"),
        |w, time| tested(w, "2026-01-20T00:00", "2026-01-21T00:00", time),
    ];
    for (zone, local, problem, offsets) in [
        ("America/Denver", "2026-03-08T02:00", "does not exist", ["-07:00", "-06:00"]),
        ("America/Denver", "2026-03-08T02:59", "does not exist", ["-07:00", "-06:00"]),
        ("America/Denver", "2026-11-01T01:00", "came twice", ["-06:00", "-07:00"]),
        ("America/Denver", "2026-11-01T01:59", "came twice", ["-06:00", "-07:00"]),
        ("Europe/Berlin", "2026-03-29T02:30", "does not exist", ["+01:00", "+02:00"]),
        ("Europe/Berlin", "2026-10-25T02:30", "came twice", ["+02:00", "+01:00"]),
    ] {
        for put in all {
            let mut world = in_zone(zone);
            put(&mut world, local);
            let errors = Job::parse(&world.job, "job.toml").expect_err(local);
            let shown = format!("{errors:?}");
            assert!(shown.contains(problem), "{local}: {shown}");
            for offset in offsets {
                assert!(shown.contains(&format!("{local}{offset}")), "{local}: {shown}");
                let mut mended = in_zone(zone);
                put(&mut mended, &format!("{local}{offset}"));
                let parsed = Job::parse(&mended.job, "job.toml");
                assert!(parsed.is_ok(), "{local}{offset}: {parsed:?}");
            }
        }
    }
}
