//! Starts of the logger, and what it is told of the time.

use glueday::assess::Outcome::{self, Met, NoEvidence, NotMet};

use super::add_sample;
use crate::assess_world::{D0, DAY, HOUR, MIN, Of, STEP_S, World, t};
use crate::rows::Clears::{Any, At, Never};
use crate::rows::{Clears, Rows};

/// A gap of so many minutes from 6:00 on day 12, in the middle of what must hold without a break.
fn broken_by_a_gap(minutes: i64) -> (Outcome, Clears) {
    let end_s = t(12, 6, 0) + minutes * MIN;
    if minutes <= 60 { (Met, Any) } else { (NoEvidence, At(end_s + 72 * HOUR)) }
}

#[test]
fn starts_of_the_logger() {
    let mut rows = Rows::default();
    for (minutes, off_s) in [(59, 0), (60, 0), (61, 0), (59, 60), (59, 120), (61, -60)] {
        let (outcome, _) = broken_by_a_gap(minutes + off_s / MIN);
        rows.ready(
            "acclimation",
            "a power cut: the gap is as long as the two boots' syncs say, a wrong clock included",
            move |w| {
                let on_s = t(12, 6, 0) + minutes * MIN;
                w.gap(t(12, 6, 0), minutes * MIN);
                w.reboot(on_s, &[(on_s, on_s + off_s)]);
                // The last sample of a clock that is fast is later than the time asked about.
                w.at_s += off_s.max(0);
            },
            outcome,
            Any,
        );
    }
    for minutes in [60, 61] {
        let (outcome, clears) = broken_by_a_gap(minutes);
        rows.ready(
            "acclimation",
            "a boot that was never synced lies between two that were: its samples do not fill the gap",
            move |w| {
                let on_s = t(12, 6, 0) + minutes * MIN;
                add_sample(w, on_s);
                w.reboot(t(12, 6, 5), &[]);
                w.reboot(on_s, &[(on_s, on_s)]);
            },
            outcome,
            clears,
        );
    }
    rows.ready(
        "acclimation",
        "the boot in the middle was synced in its last minute, and that dates all of it",
        |w| {
            let (on_s, off_s) = (t(12, 6, 5), t(12, 9, 5));
            w.reboot(on_s, &[(off_s - MIN, off_s - MIN)]);
            w.reboot(off_s, &[(off_s + 10 * HOUR, off_s + 10 * HOUR)]);
        },
        Met,
        Any,
    );
    rows.ready(
        "acclimation",
        "a logger that is only synced when it is pulled: all of its log is dated",
        |w| w.first_syncs(&[(t(13, 23, 59), t(13, 23, 59))]),
        Met,
        Any,
    );
    let late = t(12, 0, 10);
    for id in ["slab-surface", "log-coverage"] {
        rows.ready(
            id,
            "twelve days that nobody dated, then two and a day of the 72 h are missing",
            move |w| {
                w.first_syncs(&[]);
                w.reboot(late, &[(late, late)]);
            },
            NoEvidence,
            if id == "slab-surface" { At(late + 71 * HOUR) } else { Any },
        );
    }
    for id in ["acclimation", "slab-surface", "probes", "run-in", "log-coverage", "dew-margin"] {
        rows.ready(
            id,
            "a fortnight of samples and no sync: none of them is evidence",
            |w| w.first_syncs(&[]),
            NoEvidence,
            Never,
        );
    }
    rows.ready(
        "slab-surface",
        "a sample too cold in a boot that nobody dated is not held against the slab either",
        |w| {
            w.set(Of::Slab, t(12, 6, 10), t(12, 6, 10), 10.0);
            w.reboot(t(12, 6, 5), &[]);
            w.reboot(t(12, 6, 15), &[(t(12, 7, 0), t(12, 7, 0))]);
        },
        Met,
        Any,
    );
    rows.check(18);
}

/// 72 h before the time asked about.
fn delivered_on_day_11(world: &mut World) {
    world.edit("delivered = 2026-03-11T00:00", "delivered = 2026-03-13T00:00");
}

#[test]
fn corrections_of_the_clock() {
    let mut rows = Rows::default();
    let held_s = t(14, 0, 0);
    for (off_s, clears_s, because) in [
        (60, held_s + 60, "a minute fast: the first sample after the delivery came a minute late"),
        (-60, held_s + 540, "a minute slow: that sample came before the delivery, the next counts"),
    ] {
        rows.ready(
            "acclimation",
            because,
            move |w| {
                delivered_on_day_11(w);
                w.first_syncs(&[(D0, D0 + off_s)]);
            },
            NotMet,
            At(clears_s),
        );
    }
    for (off_s, outcome) in [(599, Met), (600, NotMet)] {
        rows.ready(
            "slab-surface",
            "a cold sample ten minutes before the 72 h: a clock ten minutes fast puts it into them",
            move |w| {
                w.set(Of::Slab, t(10, 23, 50), t(10, 23, 50), 17.0);
                w.first_syncs(&[(D0, D0 + off_s)]);
            },
            outcome,
            if outcome == Met { Any } else { At(t(11, 0, 0) + 72 * HOUR + 1) },
        );
    }
    // Fourteen days: 61 s of drift and a minute. Two minutes over the fortnight are 94 s on day 11.
    rows.ready(
        "acclimation",
        "a sync that moves the clock within its drift stretches the time between: 94 s are missing",
        |w| {
            delivered_on_day_11(w);
            w.first_syncs(&[(D0, D0), (t(14, 0, 0), t(14, 0, 2))]);
        },
        NotMet,
        At(held_s + 94),
    );
    // 200,000 s apart: ten seconds of drift and a minute.
    for (off_s, outcome, because) in [
        (
            70,
            Met,
            "two syncs 70 s apart are both believed: the sample at the delivery keeps its time",
        ),
        (
            71,
            NotMet,
            "at 71 s they contradict each other: the later wins, and all of the log moves",
        ),
        (-71, NotMet, "the same of a clock that is slow: the sample comes before the delivery"),
    ] {
        rows.ready(
            "acclimation",
            because,
            move |w| {
                delivered_on_day_11(w);
                let (first_s, later_s) = (t(11, 0, 0), t(11, 0, 0) + 200_000);
                w.first_syncs(&[(first_s, first_s), (later_s, later_s + off_s)]);
            },
            outcome,
            match off_s {
                71 => At(held_s + 71),
                -71 => At(held_s + STEP_S - 71),
                _ => Any,
            },
        );
    }
    for (first_off_s, later_off_s, outcome, clears, because) in [
        (HOUR, 0, Met, Any, "the first computer was an hour fast: the later sync puts it right"),
        (
            0,
            HOUR,
            NotMet,
            At(t(14, 1, 0)),
            "the later one was: the damp sample is now after the delivery",
        ),
        (-DAY, 0, Met, Any, "a day slow at first"),
    ] {
        rows.ready(
            "acclimation",
            because,
            move |w| {
                delivered_on_day_11(w);
                w.set(Of::Rh, t(10, 23, 50), t(10, 23, 50), 60.0);
                let later_s = t(13, 0, 0);
                w.first_syncs(&[(D0, D0 + first_off_s), (later_s, later_s + later_off_s)]);
            },
            outcome,
            clears,
        );
    }
    rows.ready(
        "acclimation",
        "of three syncs the one in the middle is wrong: the last two contradict, the first agrees",
        |w| {
            delivered_on_day_11(w);
            w.set(Of::Rh, t(10, 23, 50), t(10, 23, 50), 60.0);
            let (middle_s, last_s) = (t(6, 0, 0), t(13, 0, 0));
            w.first_syncs(&[(D0, D0), (middle_s, middle_s + HOUR), (last_s, last_s)]);
        },
        Met,
        Any,
    );
    rows.check(12);
}
