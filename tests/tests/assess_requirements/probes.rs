//! Checks of probes, and the corrections that they make.

use glueday::assess::Outcome::{Met, NoEvidence, NotMet};

use super::assess_world::{D0, DAY, Of, World, t};
use super::rows::Clears::{Any, At, Never};
use super::rows::Rows;

const SLAB: &str = "date = 2026-02-20\nmethod = \"ice\"\nreference = \"0 C\"\nreading = \"0 C\"\n\n[[probe]]\nchannel = \"air\"";

/// Another check of the slab probe, which the job gives last.
fn check_slab(world: &mut World, date: &str, reading: &str) {
    let more = format!(
        "\n[[probe.check]]\ndate = {date}\nmethod = \"ice\"\nreference = \"0 C\"\nreading = \"{reading}\"\n\n[[probe]]\nchannel = \"air\""
    );
    world.edit_first("\n\n[[probe]]\nchannel = \"air\"", &more);
}

#[test]
fn probe_checks() {
    let id = "probe-checks";
    let mut rows = Rows::default();
    rows.ready(id, "all four were checked three weeks ago", |_| {}, Met, Any);
    rows.ready(
        id,
        "nobody ever checked the slab probe",
        |w| w.edit(SLAB, "date = 2026-04-01\nmethod = \"ice\"\nreference = \"0 C\"\nreading = \"0 C\"\n\n[[probe]]\nchannel = \"air\""),
        NoEvidence,
        Never,
    );
    // Common practice, no source: 0.5 K, 3 %RH, yearly.
    for (reading, outcome) in [("0.5 C", Met), ("-0.5 C", Met), ("0.51 C", NotMet)] {
        rows.ready(
            id,
            "an error of half a kelvin is allowed, either way, and no more",
            move |w| w.edit_first("reading = \"0 C\"", &format!("reading = \"{reading}\"")),
            outcome,
            if outcome == Met { Any } else { Never },
        );
    }
    for (reading, outcome) in [("78.5 %", Met), ("78.51 %", NotMet)] {
        rows.ready(
            id,
            "3 %RH of either salt, and not a hundredth more",
            move |w| w.edit_first("reading = \"75.5 %\"", &format!("reading = \"{reading}\"")),
            outcome,
            Any,
        );
    }
    for (date, outcome) in [("2025-03-16", Met), ("2025-03-15", NotMet)] {
        rows.ready(
            id,
            "365 d from the beginning of its day: asked at the beginning of 16 March a year later",
            move |w| w.edit("date = 2026-02-20", &format!("date = {date}")),
            outcome,
            if outcome == Met { Any } else { Never },
        );
    }
    rows.ready(
        id,
        "an old bad check that a good one followed before the time that counts",
        |w| {
            w.edit_first("reading = \"0 C\"", "reading = \"2 C\"");
            check_slab(w, "2026-03-01", "0.1 C");
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "the good check came a day into the 72 h that count: it clears when they begin with it",
        |w| {
            w.edit_first("reading = \"0 C\"", "reading = \"2 C\"");
            check_slab(w, "2026-03-14", "0.1 C");
        },
        NotMet,
        At(t(12, 0, 0) + 3 * DAY),
    );
    rows.ready(
        id,
        "the good check came on the day on which the 72 h begin: what was read before is out of them",
        |w| {
            w.edit_first("reading = \"0 C\"", "reading = \"2 C\"");
            check_slab(w, "2026-03-13", "0.1 C");
        },
        Met,
        Any,
    );
    rows.ready(
        id,
        "a bad check in the time that counts, with none after it",
        |w| check_slab(w, "2026-03-15", "0.6 C"),
        NotMet,
        Never,
    );
    rows.ready(
        id,
        "a check of tomorrow says nothing yet",
        |w| check_slab(w, "2026-03-17", "5 C"),
        Met,
        Any,
    );
    rows.on(
        World::glued(glueday::assess::Step::HeatUp),
        id,
        "after gluing all of the time since counts, and waiting does not make it good",
        |w| {
            check_slab(w, "2026-03-18", "0.6 C");
            check_slab(w, "2026-03-19", "0 C");
        },
        NotMet,
        Never,
    );
    rows.check(14);
}

#[test]
fn corrections_hold_from_the_day_of_their_check() {
    let mut rows = Rows::default();
    // The laying range begins at 18 °C, and the hold at 72 h.
    for (day, outcome) in [("2026-03-12", NotMet), ("2026-03-14", NotMet), ("2026-03-17", Met)] {
        rows.ready(
            "slab-surface",
            "18.2 °C as read are 17.9 °C once the probe is known to read 0.3 K too high",
            move |w| {
                w.set(Of::Slab, D0, w.at_s, 18.2);
                check_slab(w, day, "0.3 C");
            },
            outcome,
            Any,
        );
    }
    rows.ready(
        "slab-surface",
        "17.8 °C as read are 18.1 °C when it reads 0.3 K too low",
        |w| {
            w.set(Of::Slab, D0, w.at_s, 17.8);
            check_slab(w, "2026-03-01", "-0.3 C");
        },
        Met,
        Any,
    );
    // 33.1 % read as 33.1, 75.5 % read as 77.5: 50.9 % reads 0.80 too high, by 2.0 x 17.8 / 44.4.
    for (rh_pct, outcome) in [(50.80, Met), (50.90, NotMet)] {
        rows.ready(
            "acclimation",
            "between two salts the correction is on the line: 50.83 % read are 50.0 % true",
            move |w| {
                w.edit_first("reading = \"75.5 %\"", "reading = \"77.5 %\"");
                w.set(Of::Rh, t(13, 0, 0), t(13, 0, 0), rh_pct);
            },
            outcome,
            Any,
        );
    }
    rows.check(6);
}

#[test]
fn odd_checks_and_corrections_are_told() {
    let mut no_salt = World::ready();
    no_salt.edit_first("reference = \"75.5 %\"", "reference = \"73.5 %\"");
    no_salt.edit_first("reading = \"75.5 %\"", "reading = \"73.5 %\"");
    let mut no_jar = World::ready();
    no_jar.edit_first("reading = \"75.5 %\"\ntemperature = \"20 C\"", "reading = \"75.5 %\"");
    let mut off = World::ready();
    off.edit_first("reading = \"0 C\"", "reading = \"0.2 C\"");
    for (world, part) in [
        (no_salt, "no salt that is known here gives 73.5 %RH"),
        (no_jar, "the temperature of the jar is not entered"),
        (off, "readings of slab surface are corrected by their last check"),
    ] {
        let finding = world.finding("probe-checks");
        assert_eq!(finding.outcome, Met, "{finding:#?}");
        assert!(finding.warnings.iter().any(|w| w.contains(part)), "{finding:#?}");
    }
    assert!(World::ready().finding("probe-checks").warnings.is_empty());
}

/// A wave in hundredths: what a channel does besides its mean.
fn wave(world: &mut World, of: Of, from_s: i64, mean: f64, swing: f64, period_s: f64, late_s: f64) {
    let times: Vec<i64> =
        world.samples.iter().map(|sample| sample.time_s).filter(|s| *s >= from_s).collect();
    for time_s in times {
        let turn = ((time_s - D0) as f64 - late_s) / period_s * std::f64::consts::TAU;
        world.set(of, time_s, time_s, mean + swing * turn.sin());
    }
}

/// Suspicions change no outcome. The responses of a slab are those of a half-infinite solid under a
/// periodic air temperature (Carslaw and Jaeger, from memory): 0.37 of a daily swing, 2.1 h late, and
/// 0.10 of an hourly one, 6.6 min late.
#[test]
fn a_slab_probe_that_follows_the_air_is_told() {
    let day = DAY as f64;
    let lifted = |world: &World| -> Vec<String> {
        let finding = world.finding("probes");
        assert_eq!(finding.outcome, Met, "{finding:#?}");
        finding.warnings.into_iter().filter(|w| w.contains("followed the air")).collect()
    };
    let air = |period_s: f64, swing: f64| {
        let mut world = World::ready();
        wave(&mut world, Of::Air, D0, 21.0, swing, period_s, 0.0);
        world
    };
    let mut on_the_slab = air(day, 2.0);
    wave(&mut on_the_slab, Of::Slab, D0, 20.5, 2.0 * 0.37, day, 2.1 * 3600.0);
    assert_eq!(lifted(&on_the_slab), [""; 0]);
    let mut cycling_heat = air(3600.0, 0.8);
    wave(&mut cycling_heat, Of::Slab, D0, 20.5, 0.08, 3600.0, 400.0);
    assert_eq!(lifted(&cycling_heat), [""; 0]);
    let still_air = World::ready();
    assert_eq!(lifted(&still_air), [""; 0]);

    let mut in_the_air = air(day, 2.0);
    wave(&mut in_the_air, Of::Slab, t(12, 12, 0), 20.5, 1.8, day, 0.0);
    let told = lifted(&in_the_air);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("Sat 2026-03-14 12:00 to Mon 2026-03-16 00:00"), "{told:?}");
}

#[test]
fn a_slab_warmer_than_all_that_warms_it_is_told() {
    let warm_supply_s = t(11, 6, 0);
    let told = |slab_c: f64, supply_c: f64, at_s: i64| -> Vec<String> {
        let mut world = World::ready();
        world.set(Of::Supply, warm_supply_s, warm_supply_s, supply_c);
        world.set(Of::Slab, at_s, at_s, slab_c);
        let finding = world.finding("probes");
        finding.warnings.into_iter().filter(|w| w.contains("explain")).collect()
    };
    let noon = t(13, 12, 0);
    // Supply 24.02 °C at most, and 0.71 K for both probes: root of the sum of 0.5 squared twice.
    assert_eq!(told(24.72, 24.0, noon), [""; 0]);
    let found = told(25.74, 24.0, noon);
    assert_eq!(found.len(), 1);
    let text = "Sun 2026-03-15 12:00: the slab read 1.0 °C (1.8 °F) more";
    assert!(found[0].starts_with(text), "{found:?}");
    // Warm water two days ago explains it, and ten minutes more no longer do.
    assert_eq!(told(25.74, 26.0, warm_supply_s + 2 * DAY), [""; 0]);
    assert_eq!(told(25.74, 26.0, warm_supply_s + 2 * DAY + 600).len(), 1);
}
