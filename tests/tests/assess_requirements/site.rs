//! Slab and air of the site, the log and its probes.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;

use super::assess_world::{D0, DAY, HOUR, MIN, Of, World, t};
use super::rows::Clears::{Any, At, Never};
use super::rows::Rows;

#[test]
fn dew_margin() {
    let id = "dew-margin";
    let mut rows = Rows::default();
    let night = t(13, 3, 0);
    // Dew point of 21 °C and 70 % is 15.4 °C, of 80 % 17.4 °C (Magnus); the probes may be off by 0.9 K.
    for (rh_pct, outcome) in [(70.0, Met), (80.0, NotMet)] {
        rows.ready(
            id,
            "20 °C over a dew point of 15.4 °C leave 4.6 K; over 17.4 °C they leave 2.6 K",
            move |w| w.set(Of::Rh, night, night, rh_pct),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "not rolled yet: a day and a second after the last damp sample",
        |w| {
            w.edit("barrier-rolled = 2026-03-14T00:00", "");
            w.set(Of::Rh, night, night, 80.0);
        },
        NotMet,
        At(night + DAY + 1),
    );
    rows.ready(
        id,
        "0 %RH has no dew point: the probe has failed, and passing over it proves nothing",
        |w| w.set(Of::Rh, night, night, 0.0),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "150 %RH is no humidity",
        |w| w.set(Of::Rh, night, night, 150.0),
        NoEvidence,
        Never,
    );
    // At 60 % the margin is 4.40 K and the bound 3.98 K; at 25 % they are 4.45 K and 4.68 K: the
    // sample with the larger margin is the one that fails.
    rows.ready(
        id,
        "in dry air the probe's RH moves the dew point further: the drier sample is the worse one",
        |w| {
            w.set(Of::Slab, night, night, 12.97 + 4.4);
            w.set(Of::Rh, night, night, 60.0);
            w.set(Of::Air, night, night, 21.0);
            w.set(Of::Slab, night + 600, night + 600, 0.21 + 4.45);
            w.set(Of::Rh, night + 600, night + 600, 25.0);
            w.set(Of::Air, night + 600, night + 600, 21.0);
        },
        NotMet,
        Never,
    );
    rows.check(6);
}

#[test]
fn slab_surface_and_acclimation() {
    let id = "slab-surface";
    let mut rows = Rows::default();
    let first = t(11, 0, 0);
    for (slab_c, outcome, clears) in [
        (18.0, Met, Any),
        (17.99, NotMet, At(first + 3 * DAY + 1)),
        (22.0, Met, Any),
        (22.01, NotMet, At(first + 3 * DAY + 1)),
    ] {
        rows.ready(
            id,
            "the first sample of the 72 h at, or a hundredth beyond, 18 to 22 °C",
            move |w| w.set(Of::Slab, first, first, slab_c),
            outcome,
            clears,
        );
    }
    rows.ready(
        id,
        "ten minutes before the 72 h",
        |w| w.set(Of::Slab, first - 600, first - 600, 30.0),
        Met,
        Any,
    );
    rows.ready(
        id,
        "the log began an hour and ten minutes after the hold should have",
        |w| w.start_log_at(first + 70 * MIN),
        NoEvidence,
        // It may begin as long before the first reading as a gap may last.
        At(first + 10 * MIN + 3 * DAY),
    );
    let id = "acclimation";
    let delivered = |w: &mut World| {
        w.edit("delivered = 2026-03-11T00:00", "delivered = 2026-03-13T00:00");
    };
    rows.ready(id, "72 h from the delivery, to the second", delivered, Met, Any);
    rows.ready(
        id,
        "one second short",
        |w| {
            delivered(w);
            w.at_s -= 1;
        },
        NotMet,
        At(t(14, 0, 0)),
    );
    for (rh_pct, outcome, clears) in [(50.0, Met, Any), (50.01, NotMet, At(t(15, 6, 10)))] {
        rows.ready(
            id,
            "at 50.00 % it goes on; at 50.01 % it starts anew with the next sample",
            move |w| w.set(Of::Rh, t(12, 6, 0), t(12, 6, 0), rh_pct),
            outcome,
            clears,
        );
    }
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.ready(
            id,
            "a gap of an hour is none; of 61 minutes the count starts anew, for want of evidence",
            move |w| w.gap(t(12, 6, 0), minutes * MIN),
            outcome,
            if outcome == Met { Any } else { At(t(15, 7, 1)) },
        );
    }
    rows.ready(id, "too damp now", |w| w.set(Of::Rh, w.at_s, w.at_s, 50.01), NotMet, Never);
    rows.check(12);
}

#[test]
fn maxima_and_change() {
    let mut rows = Rows::default();
    let hour = t(13, 12, 0);
    for (slab_c, outcome) in [(26.16, Met), (26.17, NotMet)] {
        rows.ready(
            "surface-max",
            "80 °F (26.67 °C) less 0.5 K of probe",
            move |w| w.set(Of::Slab, hour, hour, slab_c),
            outcome,
            if outcome == Met { Any } else { At(hour + DAY + 1) },
        );
    }
    for (supply_c, outcome) in [(54.5, Met), (54.51, NotMet)] {
        rows.ready(
            "supply-max",
            "55 °C less 0.5 K of probe",
            move |w| w.set(Of::Supply, hour, hour, supply_c),
            outcome,
            Any,
        );
    }
    for (slab_c, outcome) in [(22.77, Met), (22.78, NotMet), (17.25, Met), (17.24, NotMet)] {
        rows.ready(
            "surface-change",
            "5 °F (2.78 K) above the lowest (20.00 °C), or below the highest (20.02 °C), of a day",
            move |w| w.set(Of::Slab, hour, hour, slab_c),
            outcome,
            Any,
        );
    }
    rows.on(
        World::glued(Step::Traffic),
        "surface-change",
        "what the bare slab did before gluing does not strain the floor",
        |w| w.set(Of::Slab, t(14, 7, 50), t(14, 7, 50), 25.0),
        Met,
        Any,
    );
    rows.on(
        World::glued(Step::Traffic),
        "supply-max",
        "after gluing all of the time since counts, and waiting does not mend it",
        |w| w.set(Of::Supply, t(15, 0, 0), t(15, 0, 0), 60.0),
        NotMet,
        Never,
    );
    rows.check(10);
}

#[test]
fn coverage_and_probes() {
    let id = "log-coverage";
    let mut rows = Rows::default();
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.ready(
            id,
            "a gap of an hour, and of a minute more",
            move |w| w.gap(t(12, 6, 0), minutes * MIN),
            outcome,
            Any,
        );
    }
    rows.ready(
        id,
        "two gaps: it clears when the later one has left the 72 h but for an hour, not the longer one",
        |w| {
            w.gap(t(12, 0, 0), 3 * HOUR);
            w.gap(t(13, 0, 0), 2 * HOUR);
        },
        NoEvidence,
        At(t(16, 1, 0)),
    );
    for (every, outcome) in [(40, Met), (10, NoEvidence)] {
        rows.ready(
            id,
            "each fortieth sample lost is 2.5 %, each tenth 10 %",
            move |w| {
                let mut i = 0;
                w.samples.retain(|_| {
                    i += 1;
                    i % every != 0
                });
            },
            outcome,
            Any,
        );
    }
    rows.ready(
        id,
        "one channel without readings for two hours is a hole as well",
        |w| w.set(Of::Supply, t(12, 0, 0), t(12, 2, 0), None),
        NoEvidence,
        Any,
    );
    rows.ready(
        id,
        "the log ends more than an hour before the time asked about",
        |w| w.samples.retain(|s| s.time_s < t(13, 23, 0)),
        NoEvidence,
        Never,
    );
    let id = "probes";
    let still = |w: &mut World, since_s: i64| w.set(Of::Slab, since_s, w.at_s, 20.5);
    rows.ready(id, "moved 24 h ago for the last time", move |w| still(w, t(13, 0, 10)), Met, Any);
    rows.ready(
        id,
        "moved 24 h 10 min ago for the last time",
        move |w| still(w, t(13, 0, 0)),
        NotMet,
        Never,
    );
    rows.ready(id, "has not moved for days", move |w| still(w, D0), NotMet, Never);
    rows.ready(
        id,
        "one reading is no movement",
        |w| {
            let at_s = w.at_s;
            w.start_log_at(at_s);
        },
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "the supply probe does not answer in the last sample",
        |w| w.set(Of::Supply, w.at_s, w.at_s, None),
        NotMet,
        Never,
    );
    rows.check(12);
}
