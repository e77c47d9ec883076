//! Wood, barrier, adhesive and the finished floor.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};
use glueday::assess::Step;

use super::assess_world::{HOUR, MIN, Of, World, t};
use super::rows::Clears::{Any, At, Never};
use super::rows::Rows;

#[test]
fn wood_moisture() {
    let id = "wood-moisture";
    let mut rows = Rows::default();
    rows.ready(
        id,
        "39 readings where 40 are asked for",
        |w| w.edit_first("readings = [\"7.5 %\", ", "readings = ["),
        NotMet,
        Never,
    );
    for (mc, outcome) in [("9 %", Met), ("9.1 %", NotMet), ("6 %", Met), ("5.9 %", NotMet)] {
        rows.ready(
            id,
            "milled to 6 to 9 %; air of 21 °C and 42 % keeps wood at about 8 %",
            move |w| w.edit("7.5 %", mc),
            // At 6 % the wood is just 2 % under the air: see the next rows for that limit.
            if mc == "6 %" { NotMet } else { outcome },
            Never,
        );
    }
    // Wood Handbook, table 4-2 at 70 °F (21.1 °C): 6.2 % at 30 %RH, 9.2 % at 50 %RH.
    for (rh_pct, mc, outcome) in [
        (30.0, "8.1 %", Met),
        (30.0, "8.3 %", NotMet),
        (50.0, "7.3 %", Met),
        (50.0, "7.1 %", NotMet),
    ] {
        rows.ready(
            id,
            "by the handbook's table the wood is less, or more, than 2 % away from the air",
            move |w| {
                w.edit("7.5 %", mc);
                w.set(Of::Rh, t(12, 0, 0), w.at_s, rh_pct);
                w.set(Of::Air, t(12, 0, 0), w.at_s, 21.1);
            },
            outcome,
            Never,
        );
    }
    // The equation gives 9.243 % for 21.1 °C and 50 %RH, and 7.25 % is just near enough. An hour of
    // the day without log is taken at 18 °C and 50 %RH (9.320 %), further from the wood than 80 °F and
    // 30 %RH (6.061 %): 2.3 h of that are the last 0.007 %.
    for (mc, gap_h, outcome) in
        [("7.25 %", 0, Met), ("7.25 %", 2, Met), ("7.25 %", 3, NotMet), ("7.24 %", 0, NotMet)]
    {
        rows.ready(
            id,
            "time without log is taken at the end of the range that is further from the wood",
            move |w| {
                w.edit("7.5 %", mc);
                w.set(Of::Rh, t(12, 0, 0), w.at_s, 50.0);
                w.set(Of::Air, t(12, 0, 0), w.at_s, 21.1);
                if gap_h > 0 {
                    w.gap(t(13, 6, 0), gap_h * HOUR);
                }
            },
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "measured before it was delivered: not the wood as it is in the room",
        |w| w.edit("date = 2026-03-15", "date = 2026-03-10"),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "measured on the day of the delivery",
        |w| w.edit("date = 2026-03-15", "date = 2026-03-11"),
        Met,
        Any,
    );
    rows.ready(
        id,
        "measured on a day that nobody wrote down",
        |w| w.edit("date = 2026-03-15", ""),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "measured the day after the time asked about",
        |w| w.edit("date = 2026-03-15", "date = 2026-03-17"),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "readings of a subfloor are none of the flooring",
        |w| w.edit("of = \"wood\"", "of = \"subfloor\""),
        NoEvidence,
        Never,
    );
    rows.check(12);
}

#[test]
fn barrier_cure() {
    let id = "barrier-cure";
    let mut rows = Rows::default();
    // Rolled on day 12 at 0:00; asked about 24 h later.
    let a_day_later = |seconds: i64| {
        move |w: &mut World| {
            w.samples.retain(|s| s.time_s <= t(13, 0, 0) + seconds);
            w.until(t(13, 0, 0) + seconds);
        }
    };
    rows.ready(id, "24 h, to the second", a_day_later(0), Met, Any);
    rows.ready(id, "one second short", a_day_later(-1), NotMet, At(t(13, 0, 0)));
    rows.ready(
        id,
        "one sample too cold: the ten minutes on both sides of it do not count",
        |w| {
            a_day_later(0)(w);
            w.set(Of::Slab, t(12, 6, 0), t(12, 6, 0), 14.99);
        },
        NotMet,
        At(t(13, 0, 20)),
    );
    rows.ready(
        id,
        "15.00 °C is warm enough",
        |w| {
            a_day_later(0)(w);
            w.set(Of::Slab, t(12, 6, 0), t(12, 6, 0), 15.0);
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "a gap of an hour counts",
        |w| {
            a_day_later(0)(w);
            w.gap(t(12, 6, 0), 60 * MIN);
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "a gap of 61 minutes does not, and nobody knows what was in it",
        |w| {
            a_day_later(0)(w);
            w.gap(t(12, 6, 0), 61 * MIN);
        },
        NoEvidence,
        At(t(13, 1, 1)),
    );
    rows.ready(
        id,
        "out of range now: time alone does not help",
        |w| {
            a_day_later(0)(w);
            w.set(Of::Rh, t(13, 0, 0), t(13, 0, 0), 85.01);
        },
        NotMet,
        Never,
    );
    for gone in
        ["product = \"two-part barrier\"", "cure = \"24 h\"", "barrier-rolled = 2026-03-14T00:00"]
    {
        rows.ready(id, "a fact that the job lacks", move |w| w.edit(gone, ""), NoEvidence, Never);
    }
    rows.check(10);
}

#[test]
fn adhesive_cure_and_conditions_while_gluing() {
    let id = "adhesive-cure";
    let mut rows = Rows::default();
    let glued = t(14, 16, 0);
    for (step, cure_s) in
        [(Step::Traffic, 24 * HOUR), (Step::Sanding, 72 * HOUR), (Step::HeatUp, 168 * HOUR)]
    {
        for (seconds, outcome, clears) in [(0, Met, Any), (-1, NotMet, At(glued + cure_s))] {
            rows.on(
                World::glued(step),
                id,
                "the time of the data sheet, or of the shipped limit for heat, to the second",
                move |w| {
                    w.samples.retain(|s| s.time_s <= glued + cure_s + seconds);
                    w.at_s = glued + cure_s + seconds;
                },
                outcome,
                clears,
            );
        }
    }
    rows.on(
        World::glued(Step::Traffic),
        id,
        "two hours too damp, and the twenty minutes beside them, only cost time",
        |w| {
            w.samples.retain(|s| s.time_s <= glued + 24 * HOUR);
            w.at_s = glued + 24 * HOUR;
            w.set(Of::Rh, t(14, 20, 0), t(14, 22, 0), 75.01);
        },
        NotMet,
        At(glued + 26 * HOUR + 20 * MIN),
    );
    rows.on(
        World::glued(Step::Sanding),
        id,
        "no data sheet says when it may be sanded",
        |w| w.edit("sanding = \"72 h\"", ""),
        NoEvidence,
        Never,
    );
    let id = "glue-conditions";
    for (slab_c, time_s, outcome, because) in [
        (15.0, t(14, 12, 0), Met, "15.00 °C while gluing is warm enough"),
        (14.99, t(14, 12, 0), NotMet, "a hundredth less is not, and waiting does not mend it"),
        (14.99, t(14, 8, 0), NotMet, "the second gluing started counts"),
        (14.99, t(14, 7, 50), Met, "the sample before it does not"),
        (14.99, t(14, 16, 10), Met, "nor the sample after it was finished"),
    ] {
        rows.on(
            World::glued(Step::Traffic),
            id,
            because,
            move |w| w.set(Of::Slab, time_s, time_s, slab_c),
            outcome,
            Never,
        );
    }
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.on(
            World::glued(Step::HeatUp),
            id,
            "a gap while gluing",
            move |w| w.gap(t(14, 10, 0), minutes * MIN),
            outcome,
            Never,
        );
    }
    rows.on(
        World::glued(Step::HeatUp),
        id,
        "nobody wrote down when gluing finished",
        |w| w.edit("glue-finished = 2026-03-16T16:00", ""),
        NoEvidence,
        Never,
    );
    rows.check(16);
}

#[test]
fn laying_hold() {
    let id = "laying-hold";
    let mut rows = Rows::default();
    let glued = World::glued;
    // Glued on day 14 from 8 to 16 h; TKB leaflet July 2004: 18 to 22 °C, kept for 7 d.
    rows.on(
        glued(Step::Traffic),
        id,
        "a day and a half in range is enough to walk",
        |_| {},
        Met,
        Any,
    );
    for (hour, minute, outcome, clears) in [(16, 0, Met, Any), (15, 59, NotMet, At(t(21, 16, 0)))] {
        rows.on(
            glued(Step::HeatUp),
            id,
            "seven days from the last board, to the minute",
            move |w| w.at_s = t(21, hour, minute),
            outcome,
            clears,
        );
    }
    for (step, slab_c, outcome) in [
        (Step::Sanding, 22.0, Met),
        (Step::Sanding, 22.01, NotMet),
        (Step::HeatUp, 18.0, Met),
        (Step::HeatUp, 17.99, NotMet),
    ] {
        rows.on(
            glued(step),
            id,
            "one sample at, or a hundredth beyond, the range; waiting does not mend it",
            move |w| w.set(Of::Slab, t(17, 0, 0), t(17, 0, 0), slab_c),
            outcome,
            Never,
        );
    }
    rows.on(
        glued(Step::HeatUp),
        id,
        "what happens after the seven days is no matter of the hold",
        |w| w.set(Of::Slab, t(21, 16, 10), w.at_s, 25.0),
        Met,
        Any,
    );
    rows.on(
        glued(Step::HeatUp),
        id,
        "ten minutes before the first adhesive the slab may have been what it liked",
        |w| w.set(Of::Slab, t(14, 7, 50), t(14, 7, 50), 25.0),
        Met,
        Any,
    );
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.on(
            glued(Step::Sanding),
            id,
            "a gap of an hour, and of a minute more",
            move |w| w.gap(t(17, 0, 0), minutes * MIN),
            outcome,
            Never,
        );
    }
    rows.on(
        glued(Step::Traffic),
        id,
        "nobody wrote down when gluing was finished",
        |w| w.edit("glue-finished = 2026-03-16T16:00", ""),
        NoEvidence,
        Never,
    );
    rows.check(12);
}

/// JCGM 106: with guarded acceptance the range is smaller by the expanded uncertainty at both ends.
#[test]
fn guarded_acceptance_tightens_ranges_by_the_uncertainty() {
    let mut rows = Rows::default();
    let guarded = |w: &mut World| {
        w.edit("units = \"metric\"", "units = \"metric\"\ndecision-rule = \"guarded\"");
    };
    let hour = t(13, 12, 0);
    for (id, of, simple_edge, guarded_edge, up) in [
        // 22 °C less 0.5 K, 18 °C plus 0.5 K, 50 % less 3 %, 18 °C plus 0.5 K: assumed, from memory.
        ("slab-surface", Of::Slab, 22.0, 21.5, 1.0),
        ("slab-surface", Of::Slab, 18.0, 18.5, -1.0),
        ("acclimation", Of::Rh, 50.0, 47.0, 1.0),
        ("acclimation", Of::Air, 18.0, 18.5, -1.0),
        ("barrier-cure", Of::Rh, 85.0, 82.0, 1.0),
        ("test-conditions", Of::Rh, 50.0, 47.0, 1.0),
    ] {
        let at_s = if id == "test-conditions" { t(10, 12, 0) } else { hour };
        for (edge, rule_is_guarded) in [(simple_edge, false), (guarded_edge, true)] {
            for (beyond, outcome) in [(0.0, Met), (0.01, NotMet)] {
                rows.ready(
                    id,
                    "at the edge of the range by the decision rule, and a hundredth beyond",
                    move |w| {
                        if rule_is_guarded {
                            guarded(w);
                        }
                        if id == "barrier-cure" {
                            // A cure that just fits: an hour out of range is missing from it.
                            w.edit("cure = \"24 h\"", "cure = \"48 h\"");
                        }
                        w.set(of, at_s, at_s, edge + up * beyond);
                    },
                    outcome,
                    Any,
                );
            }
        }
    }
    rows.ready(
        "surface-max",
        "what is guarded in any case is not guarded twice",
        move |w| {
            guarded(w);
            w.set(Of::Slab, hour, hour, 26.16);
        },
        Met,
        Any,
    );
    rows.check(25);
}

#[test]
fn floor_surface() {
    let id = "surface-max";
    let mut rows = Rows::default();
    let noon = t(18, 12, 0);
    for (slab_c, outcome) in [(26.16, Met), (26.17, NoEvidence)] {
        rows.on(
            World::glued(Step::Service),
            id,
            "of unknown wood only a slab under 80 °F (26.67 °C) less 0.5 K of probe proves anything",
            move |w| {
                w.edit("conductivity = \"0.15 W/mK\"", "");
                w.set(Of::Slab, noon, noon, slab_c);
            },
            outcome,
            Never,
        );
    }
    rows.on(
        World::glued(Step::Service),
        id,
        "of unknown wood under air of 27 °C: the wood may be as warm as the air",
        move |w| {
            w.edit("conductivity = \"0.15 W/mK\"", "");
            w.set(Of::Air, noon, noon, 27.0);
        },
        NoEvidence,
        Never,
    );
    // EN 1264-2 by hand, R = 0.1 m²K/W, air 20 °C: a wood surface of 26 °C gives off
    // 8.92 * 6^1.1 = 64.0 W/m², which needs a slab of 26 + 6.4 = 32.4 °C.
    for (slab_c, outcome) in [(32.4, Met), (34.0, NotMet)] {
        rows.on(
            World::glued(Step::Service),
            id,
            "15 mm at 0.15 W/mK: a slab of 32.4 °C makes 26.0 °C on top; of 34 °C about 26.8 °C",
            move |w| {
                w.set(Of::Slab, noon, noon, slab_c);
                w.set(Of::Air, noon, noon, 20.0);
            },
            outcome,
            Never,
        );
    }
    rows.check(5);
}
