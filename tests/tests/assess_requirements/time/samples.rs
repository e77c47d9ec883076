//! Intervals between samples, channels that are missing for a while, the second asked about.

use glueday::assess::Outcome::{self, Met, NoEvidence, NotMet};
use glueday::assess::Step;

use super::add_sample;
use crate::assess_world::{HOUR, MIN, Of, World, t};
use crate::rows::Clears::Any;
use crate::rows::Rows;

/// From day 12 on a sample each `step_s`, where the logger says that one is due each `due_s`.
fn sampled(world: &mut World, step_s: i64, due_s: u16) {
    let from_s = t(12, 0, 0);
    let step = usize::try_from(step_s).expect("a step forwards");
    let times = || (from_s..=world.at_s).step_by(step);
    let mut samples = world.samples.clone();
    samples.retain(|sample| sample.time_s < from_s);
    samples.extend(times().map(crate::assess_world::good));
    world.samples = samples;
    world.intervals.push((from_s, due_s));
}

#[test]
fn a_sampling_interval_changed_in_the_middle() {
    let mut rows = Rows::default();
    for (step_s, due_s, outcome, because) in [
        (600, 600, Met, "told the same interval once more"),
        (3600, 3600, Met, "an hour from then on: a gap of an hour is none, and each was due then"),
        (
            3600,
            600,
            NoEvidence,
            "an hour that nobody set: each reading stands for ten minutes of it",
        ),
        (3600, 2400, Met, "each comes after exactly one and a half intervals, and is not late"),
        (3600, 2399, NoEvidence, "a second later than that, and each stands for forty minutes"),
        (3601, 3601, NoEvidence, "every gap is a second too long, however slow the logger is set"),
        (60, 60, Met, "a minute from then on"),
        (600, 60, NoEvidence, "set to a minute, but nine of ten samples did not come"),
        (60, 600, Met, "more samples than were due"),
    ] {
        rows.ready("log-coverage", because, move |w| sampled(w, step_s, due_s), outcome, Any);
    }
    rows.ready(
        "log-coverage",
        "an hour on day 12, and ten minutes again from day 13 on",
        |w| {
            let rest: Vec<_> =
                w.samples.iter().copied().filter(|s| s.time_s > t(13, 0, 0)).collect();
            sampled(w, 3600, 3600);
            w.samples.retain(|sample| sample.time_s <= t(13, 0, 0));
            w.samples.extend(rest);
            w.intervals.push((t(13, 0, 0), 600));
        },
        Met,
        Any,
    );
    for id in ["acclimation", "barrier-cure", "slab-surface"] {
        for (step_s, outcome) in [(3600, Met), (3601, NoEvidence)] {
            rows.ready(
                id,
                "what holds without a break asks for no more than a reading each hour",
                move |w| {
                    sampled(w, step_s, 3600);
                    let at_s = w.at_s;
                    add_sample(w, at_s);
                },
                // The slab's own rule looks only at readings; holes are the business of log-coverage.
                if id == "slab-surface" { Met } else { outcome },
                Any,
            );
        }
    }
    rows.check(16);
}

/// Takes a channel away after a reading, so that the next one comes so many minutes later.
fn missing(world: &mut World, of: Of, from_s: i64, minutes: i64) {
    let back_s = from_s + minutes * MIN;
    add_sample(world, back_s);
    world.set(of, from_s + 1, back_s - 1, None);
}

#[test]
fn a_channel_that_is_missing_for_an_hour_and_for_a_minute_more() {
    let mut rows = Rows::default();
    let unseen = |id: &str| if id == "run-in" { NotMet } else { NoEvidence };
    for (id, of, from_s) in [
        ("acclimation", Of::Air, t(12, 6, 0)),
        ("acclimation", Of::Rh, t(12, 6, 0)),
        ("test-conditions", Of::Slab, t(9, 12, 0)),
        ("test-conditions", Of::Air, t(9, 12, 0)),
        ("test-conditions", Of::Rh, t(10, 12, 0)),
        ("run-in", Of::Supply, t(1, 0, 0)),
        ("run-in", Of::Supply, t(5, 0, 0)),
        ("log-coverage", Of::Supply, t(12, 6, 0)),
    ] {
        for (minutes, outcome) in [(60, Met), (61, unseen(id))] {
            rows.ready(
                id,
                "the other channels read on, but this one has a gap in what must not break",
                move |w| missing(w, of, from_s, minutes),
                outcome,
                Any,
            );
        }
    }
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.ready(
            "barrier-cure",
            "of 24 h there is just enough, but for an hour and a minute that nobody saw",
            move |w| {
                w.edit("barrier-rolled = 2026-03-14T00:00", "barrier-rolled = 2026-03-15T00:00");
                missing(w, Of::Rh, t(13, 6, 0), minutes);
            },
            outcome,
            Any,
        );
        rows.on(
            World::glued(Step::Traffic),
            "glue-conditions",
            "while the floor was glued",
            move |w| missing(w, Of::Slab, t(14, 10, 0), minutes),
            outcome,
            Any,
        );
    }
    // The end of the log counts as a gap as well.
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        for (id, of) in
            [("acclimation", Of::Rh), ("barrier-cure", Of::Slab), ("supply-max", Of::Supply)]
        {
            rows.ready(
                id,
                "the last reading is an hour old, or a minute more",
                move |w| {
                    let last_s = w.at_s - minutes * MIN;
                    add_sample(w, last_s);
                    w.set(of, last_s + 1, w.at_s, None);
                },
                outcome,
                Any,
            );
        }
    }
    rows.check(26);
}

/// A sample that spoils a rule, at the time asked about or a second after.
#[test]
fn the_second_asked_about() {
    let mut rows = Rows::default();
    let spoilt: [(&'static str, Of, Option<f64>, Outcome); 8] = [
        ("acclimation", Of::Rh, Some(60.0), NotMet),
        ("slab-surface", Of::Slab, Some(17.0), NotMet),
        ("surface-change", Of::Slab, Some(24.0), NotMet),
        ("dew-margin", Of::Rh, Some(90.0), NotMet),
        ("supply-max", Of::Supply, Some(60.0), NotMet),
        ("probes", Of::Air, None, NotMet),
        ("run-in", Of::Supply, Some(42.0), NotMet),
        ("concrete-age", Of::Slab, Some(-10.0), Met),
    ];
    for (id, of, value, outcome) in spoilt {
        for (after_s, outcome) in [(0, outcome), (1, Met)] {
            rows.ready(
                id,
                "what the sample at the second asked about says counts, a second later it does not",
                move |w| {
                    let time_s = w.at_s + after_s;
                    add_sample(w, time_s);
                    w.set(of, time_s, time_s, value);
                },
                outcome,
                Any,
            );
        }
    }
    for (after_s, outcome) in [(0, Met), (1, NoEvidence)] {
        rows.ready(
            "log-coverage",
            "the reading that would end a gap of just an hour",
            move |w| {
                let back_s = w.at_s + after_s;
                w.samples.retain(|sample| sample.time_s <= w.at_s - HOUR - after_s);
                let last_s = w.at_s - HOUR - after_s;
                add_sample(w, last_s);
                add_sample(w, back_s);
            },
            outcome,
            Any,
        );
    }
    // What the job says counts by the same second.
    for (local, outcome) in [("2026-03-15T00:00:00", Met), ("2026-03-15T00:00:01", NotMet)] {
        rows.ready(
            "moisture-tests",
            "a hole read at the second asked about is one, a second later there are only two",
            move |w| {
                w.edit_first("read = 2026-03-13T00:00", &format!("read = {local}"));
                w.at_s = t(13, 0, 0);
            },
            outcome,
            Any,
        );
        rows.ready(
            "acclimation",
            "wood that is delivered a second later is not there yet",
            move |w| {
                w.edit("delivered = 2026-03-11T00:00", &format!("delivered = {local}"));
                w.limit("acclimation", "0 h");
                w.at_s = t(13, 0, 0);
            },
            if outcome == Met { Met } else { NoEvidence },
            Any,
        );
    }
    rows.check(22);
}
