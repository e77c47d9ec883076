//! Age of the concrete and run-in of its heating.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};

use super::assess_world::{D0, HOUR, MIN, Of, World, t};
use super::rows::Clears::{Any, At, Never};
use super::rows::Rows;

#[test]
fn concrete_age() {
    let id = "concrete-age";
    let mut rows = Rows::default();
    let poured = |day: &'static str| {
        move |w: &mut World| w.edit("poured = 2026-01-12", &format!("poured = {day}"))
    };
    rows.ready(
        id,
        "poured 15 February, counted from midnight after: 28 d to 16 March 0:00, to the second",
        poured("2026-02-15"),
        Met,
        Any,
    );
    rows.ready(
        id,
        "one second before the 28 d are over",
        |w| {
            poured("2026-02-15")(w);
            w.until(t(14, 0, 0) - 1);
        },
        NotMet,
        At(t(14, 0, 0)),
    );
    rows.ready(id, "no pour date", |w| w.edit("poured = 2026-01-12", ""), NoEvidence, Never);
    for (seconds, outcome) in [(0, Met), (-1, NotMet)] {
        rows.ready(
            id,
            "in Denver the day ends at 7:00 UTC; 672 h later clocks have gone forward, hours count",
            |w| {
                poured("2026-02-15")(w);
                w.edit("time-zone = \"UTC\"", "time-zone = \"America/Denver\"");
                w.until(t(14, 7, 0) + seconds);
            },
            outcome,
            Any,
        );
    }
    let from_the_pour = |slab_c: f64, days: i64| {
        move |w: &mut World| {
            poured("2026-03-01")(w);
            w.until(t(days, 0, 0));
            w.set(Of::Slab, D0, w.at_s, slab_c);
        }
    };
    rows.ready(
        id,
        "logged from the pour at 20 °C: an hour is an hour, 28 d are 28 d",
        from_the_pour(20.0, 28),
        Met,
        Any,
    );
    rows.ready(
        id,
        "logged from the pour at 19.99 °C: a little younger than the calendar says",
        from_the_pour(19.99, 28),
        NotMet,
        Any,
    );
    // 672 h / 0.744 at 15 °C (factor of ASTM C1074 for 5000 K and 20 °C) is 37.6 d.
    rows.ready(id, "37 d at 15 °C are too few", from_the_pour(15.0, 37), NotMet, Any);
    rows.ready(id, "38 d at 15 °C are enough", from_the_pour(15.0, 38), Met, Any);
    rows.ready(
        id,
        "a late log of a freezing slab takes from the calendar age: 14 d at 0.287",
        |w| {
            poured("2026-02-15")(w);
            w.set(Of::Slab, D0, w.at_s, 0.0);
        },
        NotMet,
        Any,
    );
    rows.ready(
        id,
        "a slab that nobody measured has no equivalent age",
        |w| w.set(Of::Slab, D0, w.at_s, None),
        NoEvidence,
        Never,
    );
    for (slab_c, outcome) in [(20.0, Met), (15.0, NotMet)] {
        rows.ready(
            id,
            "days without log count as the colder reading beside them: 28 d at 15 °C are 20.8 d",
            move |w| {
                poured("2026-02-15")(w);
                w.start_log_at(t(9, 0, 0));
                w.set(Of::Slab, t(9, 0, 0), t(9, 0, 0), slab_c);
            },
            outcome,
            Any,
        );
    }
    rows.ready(
        id,
        "a warm reading before a gap is no reason to count more than the calendar",
        |w| {
            from_the_pour(20.0, 27)(w);
            w.set(Of::Slab, D0, t(13, 0, 0), 40.0);
            w.samples.retain(|s| s.time_s == D0 || s.time_s > t(26, 0, 0));
        },
        NotMet,
        Any,
    );
    rows.check(14);
}

#[test]
fn run_in() {
    let id = "run-in";
    let mut rows = Rows::default();
    rows.ready(id, "72 h at 23 °C, then 96 h at 42 °C, then 24 °C", |_| {}, Met, Any);
    rows.ready(
        id,
        "the last sample of the first stage is already hot: 71 h 50 min",
        |w| w.set(Of::Supply, t(3, 0, 0), t(3, 0, 0), 42.0),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "the last sample at design supply is not: 95 h 50 min",
        |w| w.set(Of::Supply, t(7, 0, 10), t(7, 0, 10), 24.0),
        NotMet,
        Never,
    );
    for (supply_c, outcome) in [(40.0, Met), (39.99, NotMet)] {
        rows.ready(
            id,
            "the tolerance of 2 K below 42 °C is in, a hundredth more starts the hold anew",
            move |w| w.set(Of::Supply, t(5, 0, 0), t(5, 0, 0), supply_c),
            outcome,
            Any,
        );
    }
    for (supply_c, outcome) in [(20.0, Met), (19.99, NotMet), (25.0, Met), (25.01, NotMet)] {
        rows.ready(
            id,
            "one sample at, or a hundredth beyond, the edges of the first stage",
            move |w| w.set(Of::Supply, t(1, 0, 0), t(1, 0, 0), supply_c),
            outcome,
            Any,
        );
    }
    for (minutes, outcome) in [(60, Met), (61, NotMet)] {
        rows.ready(
            id,
            "a gap in the first stage: of an hour it holds, of a minute more it is broken",
            move |w| w.gap(t(1, 0, 0), minutes * MIN),
            outcome,
            Any,
        );
    }
    rows.ready(
        id,
        "the cement screed was 21 d old only after the first day of the first stage",
        |w| w.edit("poured = 2026-01-12", "poured = 2026-02-09"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "the screed was 21 d old on the second the log began",
        |w| w.edit("poured = 2026-01-12", "poured = 2026-02-08"),
        Met,
        Any,
    );
    rows.ready(
        id,
        "42 °C on a screed of 11 d is heat too early, whatever comes after",
        |w| w.edit("poured = 2026-01-12", "poured = 2026-02-20"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "calcium sulphate may be heated after 7 d",
        |w| {
            w.edit("poured = 2026-01-12", "poured = 2026-02-22");
            w.edit("cement screed", "calcium sulphate screed");
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "nobody knows what the design supply is",
        |w| w.edit("design-supply = \"42 C\"", ""),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "a log that began after the run-in shows none: 24 °C is only a supply turned down",
        |w| w.start_log_at(t(7, 1, 0)),
        NoEvidence,
        Any,
    );
    let entered_for_the_first_week = |w: &mut World| {
        w.edit(
            "[milestones]",
            "run-in-start = 2026-03-02T00:00\nrun-in-end = 2026-03-09T00:10\n[milestones]",
        );
    };
    let by_hand = |end: &'static str| {
        move |w: &mut World| {
            w.start_log_at(t(8, 0, 0));
            w.edit(
                "design-supply = \"42 C\"",
                &format!("run-in-start = 2026-02-20T00:00\nrun-in-end = {end}"),
            );
        }
    };
    rows.ready(
        id,
        "entered by hand, 168 h for both stages, no log of it: the contractor's word",
        by_hand("2026-02-27T00:00"),
        Met,
        Any,
    );
    rows.ready(
        id,
        "entered by hand, a minute too short for both stages",
        by_hand("2026-02-26T23:59"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "entered by hand for days that the log saw, and it saw no design supply",
        |w| {
            w.set(Of::Supply, D0, w.at_s, 23.0);
            entered_for_the_first_week(w);
        },
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "the log of it has a gap, which breaks its proof; with what it shows the word agrees",
        |w| {
            entered_for_the_first_week(w);
            w.gap(t(1, 0, 0), 3 * HOUR);
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "the time entered goes on into the cooling down, which comes after both stages",
        |w| {
            entered_for_the_first_week(w);
            w.edit("run-in-end = 2026-03-09T00:10", "run-in-end = 2026-03-12T00:00");
            w.gap(t(1, 0, 0), 3 * HOUR);
        },
        Met,
        Any,
    );
    for (reading, outcome) in [(None, Met), (Some(39.0), NotMet)] {
        rows.ready(
            id,
            "one reading too cool in the middle of the 96 h that the word leaves contradicts it",
            move |w| {
                entered_for_the_first_week(w);
                w.gap(t(1, 0, 0), 3 * HOUR);
                w.set(Of::Supply, t(5, 0, 0), t(5, 0, 0), reading);
            },
            outcome,
            Any,
        );
    }
    rows.ready(
        id,
        "nobody knows the design supply, and there are readings that only it could judge",
        |w| {
            entered_for_the_first_week(w);
            w.edit("design-supply = \"42 C\"", "");
        },
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "run in, but the supply is hot now",
        |w| w.set(Of::Supply, t(13, 0, 0), w.at_s, 42.0),
        NotMet,
        Never,
    );
    rows.check(24);
}
