//! Moisture tests of the slab, and the conditions around them.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};

use super::assess_world::{MIN, Of, t};
use super::rows::Clears::{Any, Never};
use super::rows::Rows;

#[test]
fn test_conditions() {
    let id = "test-conditions";
    let mut rows = Rows::default();
    // Drilled on day 9 at 23:30: 48 h before it is day 7 at 23:30.
    let before = t(7, 23, 30);
    for (air_c, outcome) in [(26.66, Met), (26.67, NotMet), (18.0, Met), (17.99, NotMet)] {
        rows.ready(
            id,
            "the first sample of the 48 h at, or a hundredth beyond, the range of the air",
            move |w| w.set(Of::Air, before, before, air_c),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "ten minutes before the 48 h the air may be what it likes",
        |w| w.set(Of::Air, before - 600, before - 600, 35.0),
        Met,
        Any,
    );
    rows.ready(
        id,
        "a cold hour during the test spoils it",
        |w| w.set(Of::Slab, t(10, 12, 0), t(10, 13, 0), 17.0),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "the last reading of the test is out of range",
        |w| w.set(Of::Rh, t(11, 0, 0), t(11, 0, 0), 50.01),
        NotMet,
        Never,
    );
    for (minutes, outcome) in [(60, Met), (61, NoEvidence)] {
        rows.ready(
            id,
            "a gap before the test: nobody saw what the air did",
            move |w| w.gap(t(9, 0, 0), minutes * MIN),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "the log began ten minutes too late for the 48 h",
        |w| w.start_log_at(before + 600),
        NoEvidence,
        Never,
    );
    rows.ready(
        id,
        "every test is of another room, and one dish is still exposed",
        |w| {
            w.edit_first("[[room]]", "[[room]]\nname = \"Loft\"\n[[room]]");
            w.edit("[[in-situ-test]]", "[[in-situ-test]]\nroom = \"Loft\"");
            w.add(&dish("2026-03-14T00:00", "2026-03-16T12:00", "30.50 g"));
        },
        NoEvidence,
        Never,
    );
    for (rh_pct, outcome) in [(40.0, Met), (39.99, NotMet)] {
        rows.ready(
            id,
            "a dish has ranges of its own: 40 to 60 %RH",
            move |w| {
                w.add(&dish("2026-03-12T00:00", "2026-03-15T00:00", "31.00 g"));
                w.set(Of::Rh, t(12, 0, 0), t(12, 0, 0), rh_pct);
            },
            outcome,
            Never,
        );
    }
    rows.check(10);
}

/// A calcium chloride test that began with 30 g.
fn dish(start: &str, end: &str, end_weight: &str) -> String {
    format!(
        "\n[[calcium-chloride-test]]\ndish = \"D\"\nstart = {start}\nend = {end}\n\
         area = \"0.44486 ft2\"\nstart-weight = \"30.00 g\"\nend-weight = \"{end_weight}\"\nheat = \"off\"\n"
    )
}

#[test]
fn moisture_tests() {
    let id = "moisture-tests";
    let mut rows = Rows::default();
    rows.ready(id, "three holes for exactly 1000 ft²", |_| {}, Met, Any);
    for (area, outcome) in [("1001 ft2", NotMet), ("2000 ft2", NotMet), ("900 ft2", Met)] {
        rows.ready(
            id,
            "a further 1000 ft², once started, asks for a fourth hole",
            move |w| w.edit("area = \"1000 ft2\"", &format!("area = \"{area}\"")),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "2000 ft² ask for four holes, not for five by a rounding error",
        |w| {
            w.edit("area = \"1000 ft2\"", "area = \"2000 ft2\"");
            w.add(&hole("D", "72 %"));
        },
        Met,
        Any,
    );
    rows.ready(id, "area unknown", |w| w.edit("area = \"1000 ft2\"", ""), NoEvidence, Never);
    for (reading, outcome) in [("75 %", Met), ("75.1 %", NotMet)] {
        rows.ready(
            id,
            "one hole at, or a tenth over, 75 %RH",
            move |w| w.edit_first("reading = \"72 %\"", &format!("reading = \"{reading}\"")),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "a hole of 39.9 mm in 100 mm is shallower than 40 %",
        |w| w.edit_first("depth = \"40 mm\"", "depth = \"39.9 mm\""),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "drying on both sides a hole of 20 mm is deep enough",
        |w| {
            w.edit("depth = \"40 mm\"", "depth = \"20 mm\"");
            w.edit("one side", "both sides");
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "read 23 h 59 min after it was sealed",
        |w| w.edit_first("read = 2026-03-13T00:00", "read = 2026-03-12T23:59"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "a hole that is read a minute after the time asked about is none yet: two are too few",
        |w| w.edit_first("read = 2026-03-13T00:00", "read = 2026-03-16T00:01"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "a reading of which nobody knows when it was made",
        |w| w.edit_first("read = 2026-03-13T00:00", ""),
        NoEvidence,
        Never,
    );
    // The hole sealed and read once more, two days later.
    let again = |name: &str, reading: &str| {
        hole(name, reading)
            .replace("2026-03-13T00:00", "2026-03-15T00:00")
            .replace("2026-03-12T00:00", "2026-03-13T12:00")
    };
    for (name, reading, outcome) in
        [("A", "74 %", Met), ("A", "76 %", NotMet), ("D", "70 %", NotMet)]
    {
        rows.ready(
            id,
            "a wet hole is cleared by a later dry reading of itself, not by a new hole beside it",
            |w| {
                w.edit_first("reading = \"72 %\"", "reading = \"80 %\"");
                w.add(&again(name, reading));
            },
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "a dry hole that is wet when it is read again is wet",
        |w| w.add(&again("A", "76 %")),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "one hole read twice is one hole, and two holes are too few",
        |w| {
            w.edit_first("hole = \"B\"", "hole = \"A\"");
        },
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "a later reading that nobody wrote down does not stand for the wet one",
        |w| {
            w.edit_first("reading = \"72 %\"", "reading = \"80 %\"");
            w.add(&again("A", "70 %").replace("reading = \"70 %\"", ""));
        },
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "a hole in another room does not count here",
        |w| {
            w.edit_first("[[room]]", "[[room]]\nname = \"Loft\"\n[[room]]");
            w.edit_first("hole = \"A\"", "hole = \"A\"\nroom = \"Loft\"");
        },
        NotMet,
        Never,
    );
    // ASTM F1869 by hand: 52.91 g / (0.44486 ft² 72 h) is 1.652 lb for each gram.
    for (end_weight, outcome) in [("31.81 g", Met), ("31.82 g", NotMet), ("33.00 g", NotMet)] {
        rows.ready(
            id,
            "1.81 g in 72 h are 2.99 lb, 1.82 g are 3.01 lb; a wet dish is not outvoted by dry holes",
            move |w| w.add(&dish("2026-03-12T00:00", "2026-03-15T00:00", end_weight)),
            outcome,
            Never,
        );
    }
    for (end, outcome) in [
        ("2026-03-14T12:00", Met),
        ("2026-03-14T11:59", NotMet),
        ("2026-03-15T00:00", Met),
        ("2026-03-15T00:01", NotMet),
    ] {
        rows.ready(
            id,
            "a dish is exposed for 60 to 72 h, to the minute",
            move |w| w.add(&dish("2026-03-12T00:00", end, "30.50 g")),
            outcome,
            Never,
        );
    }
    rows.ready(
        id,
        "two holes and one dish are three tests, but of no method enough",
        |w| {
            w.edit_first("[[room]]", "[[room]]\nname = \"Loft\"\n[[room]]");
            w.edit_first("hole = \"A\"", "hole = \"A\"\nroom = \"Loft\"");
            w.add(&dish("2026-03-12T00:00", "2026-03-15T00:00", "30.50 g"));
        },
        NotMet,
        Never,
    );
    rows.check(26);
}

fn hole(name: &str, reading: &str) -> String {
    format!(
        "\n[[in-situ-test]]\nhole = \"{name}\"\ndepth = \"40 mm\"\ndrilled = 2026-03-11T23:30\n\
         sealed = 2026-03-12T00:00\nread = 2026-03-13T00:00\nreading = \"{reading}\"\nheat = \"off\"\n"
    )
}
