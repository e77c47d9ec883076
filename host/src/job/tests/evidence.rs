//! Tests, probes, products and overrides.

use super::{expect_error, read};
use crate::job::*;
use crate::limits::LimitId;

#[test]
fn impossible_values_are_refused() {
    expect_error(
        "[wood]\nrh-max = \"130 %\"\n",
        (5, 10),
        "`rh-max`: `130 %` is not a possible relative humidity",
        "check the number and its unit",
    );
    expect_error(
        "[wood]\nwidth = 190\n",
        (5, 9),
        "`width`: `190` has no unit; a length needs one",
        "the unit can be mm, cm, m, in or ft",
    );
    expect_error(
        "[wood]\nrh-min = \"60 %\"\nrh-max = \"40 %\"\n",
        (6, 10),
        "`rh-max` is below `rh-min`",
        "data sheet",
    );
    expect_error(
        "[adhesive]\nsurface-min = \"80 F\"\nsurface-max = \"20 C\"\n",
        (6, 15),
        "`surface-max` is below `surface-min`",
        "data sheet",
    );
    expect_error(
        "[wood]\nconductivity = \"0.15 W/mK\"\nresistance = \"0.1 m2K/W\"\n",
        (6, 14),
        "`conductivity` and `resistance` are both given",
        "keep the one",
    );
    expect_error(
        "altitude = \"1600 m\"\nair-pressure = \"84 kPa\"\n",
        (5, 16),
        "`altitude` and `air-pressure` are both given",
        "keep one",
    );
}

#[test]
fn moisture_tests_make_sense_in_themselves() {
    let concrete = "[concrete]\nthickness = \"100 mm\"\n";
    expect_error(
        &format!("{concrete}[[in-situ-test]]\nhole = \"1\"\ndepth = \"100 mm\"\n"),
        (8, 9),
        "`depth` goes through the concrete",
        "thickness",
    );
    expect_error(
        "[[in-situ-test]]\nhole = \"1\"\nsealed = 2026-03-02T09:00\nread = 2026-03-02T08:00\n",
        (7, 8),
        "`read` is earlier than `sealed`",
        "check both",
    );
    expect_error(
        "[[calcium-chloride-test]]\ndish = \"1\"\nstart-weight = \"31 g\"\nend-weight = \"30 g\"\n",
        (7, 14),
        "`end-weight` is less than `start-weight`, but the dish takes up water",
        "swapped",
    );
    expect_error(
        "[[in-situ-test]]\nhole = \"1\"\nroom = \"Kitchn\"\n[[room]]\nname = \"Kitchen\"\n",
        (6, 8),
        "there is no room `Kitchn`",
        "did you mean `Kitchen`?",
    );
    expect_error("[[in-situ-test]]\n", (4, 1), "`hole` is missing in [[in-situ-test]]", "hole = ");
    let job = read(
        "[[calcium-chloride-test]]\ndish = \"1\"\nstart-weight = \"30 g\"\nend-weight = \"31.5 g\"\n\
         heat = \"off\"\n",
    );
    let test = &job.calcium_chloride_tests[0];
    assert!((test.gain().unwrap().grams() - 1.5).abs() < 1e-9);
    assert_eq!(test.heat_on, Some(false));
}

#[test]
fn probes_keep_their_uncertainty_and_checks() {
    let job = read(
        "[[room]]\nname = \"a\"\n[[room]]\nname = \"b\"\n\
         [[probe]]\nchannel = \"slab\"\nuncertainty = \"0.9 F\"\n\
         [[probe.check]]\ndate = 2026-02-27\nmethod = \"ice\"\nreference = \"32 F\"\nreading = \"0.2 C\"\n\
         [[probe]]\nroom = \"b\"\nchannel = \"slab\"\nuncertainty = \"0.2 C\"\n\
         [[probe]]\nchannel = \"rh\"\nuncertainty = \"2.5 %\"\n\
         [[probe.check]]\ndate = 2026-02-27\nmethod = \"salt\"\nreference = \"75.5 %\"\nreading = \"74 %\"\n",
    );
    let slab = job.probe("a", Channel::Slab).unwrap();
    assert!((slab.uncertainty.unwrap() - 0.5).abs() < 1e-9);
    assert!((slab.checks[0].error() - 0.2).abs() < 1e-9);
    assert_eq!(job.probe("b", Channel::Slab).unwrap().uncertainty, Some(0.2));
    let rh = job.probe("a", Channel::Rh).unwrap();
    assert!((rh.checks[0].error() + 1.5).abs() < 1e-9);
    assert_eq!(job.probe("a", Channel::Supply), None);

    expect_error(
        "[[probe]]\nchannel = \"slab\"\n[[probe]]\nchannel = \"slab\"\n",
        (7, 11),
        "this probe has an entry already",
        "keep one",
    );
    expect_error(
        "[[probe]]\nchannel = \"slap\"\nuncertainty = \"0.2 C\"\n",
        (5, 11),
        "`slap` is not a `channel`",
        "did you mean `slab`?",
    );
    expect_error(
        "[[probe]]\nchannel = \"slab\"\nuncertainty = \"0 C\"\n",
        (6, 15),
        "`uncertainty` must be more than zero",
        "k = 2",
    );
    expect_error(
        "[[probe]]\nchannel = \"air\"\n[[probe.check]]\ndate = 2026-02-27\nmethod = \"salt\"\n\
         reference = \"20 C\"\nreading = \"20 C\"\n",
        (8, 10),
        "not a check of temperature",
        "salt a humidity probe",
    );
}

#[test]
fn overrides_need_a_known_id_a_value_in_its_unit_and_a_reason() {
    let limit = |id: &str, value: &str, reason: &str| {
        format!("[[limit]]\nid = \"{id}\"\nvalue = \"{value}\"\nreason = \"{reason}\"\n")
    };
    let job = read(&limit("air-rh-max", "55 %", "letter of 2 March"));
    assert_eq!(
        job.limit_overrides,
        [LimitOverride {
            id: LimitId::AirRhMax,
            value: 55.0,
            text: "55 %".to_owned(),
            reason: "letter of 2 March".to_owned(),
        }]
    );
    expect_error(
        &limit("air-rh-maks", "55 %", "r"),
        (5, 6),
        "there is no limit `air-rh-maks`",
        "did you mean `air-rh-max`?",
    );
    expect_error(
        &limit("air-rh-max", "55 C", "r"),
        (6, 9),
        "`value`: `C` is not a unit of relative humidity",
        "45 %",
    );
    expect_error(&limit("air-rh-max", "55 %", " "), (7, 10), "`reason` is empty", "fill it in");
    expect_error(
        "[[limit]]\nid = \"air-rh-max\"\nvalue = \"55 %\"\n",
        (4, 1),
        "`reason` is missing in [[limit]]",
        "reason = ",
    );
    expect_error(
        &limit("barrier-dew-margin", "-3 C", "r"),
        (6, 9),
        "`barrier-dew-margin` cannot be negative",
        "without a sign",
    );
    expect_error(
        &limit("tests-first-area", "3 tests", "r"),
        (6, 9),
        "`value`: `3 tests` is not a whole number",
        "\"3\"",
    );
    let twice = limit("gap-max", "2 h", "r") + &limit("gap-max", "3 h", "r");
    expect_error(&twice, (9, 6), "limit `gap-max` is set twice", "keep one");
}

#[test]
fn meter_readings_can_be_one_or_many() {
    let one = read("[[meter-reading]]\nof = \"wood\"\nreadings = \"7.2 %\"\n");
    assert_eq!(one.meter_readings[0].readings.len(), 1);
    expect_error(
        "[[meter-reading]]\nof = \"wood\"\nreadings = [\"7.2 %\", 7.5]\n",
        (6, 22),
        "`readings`: `7.5` has no unit; a moisture content needs one",
        "7.5 %",
    );
    expect_error(
        "[[meter-reading]]\nof = \"wood\"\n",
        (4, 1),
        "`readings` is missing in [[meter-reading]]",
        "readings = ",
    );
}

#[test]
fn resistance_comes_from_conductivity_when_it_is_not_given() {
    let job = read("[wood]\nthickness = \"15 mm\"\nconductivity = \"0.15 W/mK\"\n");
    assert!((job.wood.thermal_resistance().unwrap().m2_k_per_w() - 0.1).abs() < 1e-12);
    assert_eq!(read("[wood]\nthickness = \"15 mm\"\n").wood.thermal_resistance(), None);
}
