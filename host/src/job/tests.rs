use jiff::civil::date;

use super::*;
use crate::limits::LimitId;
use crate::quantity::Units;

const SITE: &str = "[site]\nname = \"Site\"\ntime-zone = \"America/Denver\"\n";

#[track_caller]
fn read(more: &str) -> Job {
    Job::parse(&format!("{SITE}{more}"), "job.toml").unwrap_or_else(|errors| panic!("{errors}"))
}

#[track_caller]
fn errors(text: &str) -> Vec<JobError> {
    let Err(errors) = Job::parse(text, "job.toml") else { panic!("no error in:\n{text}") };
    errors.iter().cloned().collect()
}

/// The only error of a file with a good site (lines 1 to 3) and `more` from line 4 on: its line,
/// column, problem and fix.
#[track_caller]
fn only_error(more: &str) -> (usize, usize, String, String) {
    let mut errors = errors(&format!("{SITE}{more}"));
    assert_eq!(errors.len(), 1, "{errors:#?}");
    let error = errors.remove(0);
    assert_eq!(error.file, "job.toml");
    (error.line, error.column, error.problem, error.fix)
}

/// Checks place and problem of the only error, and that the fix contains `fix`.
#[track_caller]
fn expect_error(more: &str, place: (usize, usize), problem: &str, fix: &str) {
    let (line, column, actual, actual_fix) = only_error(more);
    assert_eq!(((line, column), actual.as_str()), (place, problem));
    assert!(actual_fix.contains(fix), "{actual_fix}");
}

fn utc(text: &str) -> Option<jiff::Timestamp> {
    Some(text.parse().unwrap())
}

#[test]
fn a_name_and_a_time_zone_make_a_job() {
    let job = read("");
    assert_eq!(job.site.name, "Site");
    assert_eq!(job.site.air_pressure, AirPressure::SeaLevel);
    assert_eq!((job.site.units, job.site.profile), (Units::Us, Profile::Us));
    assert!(job.zones.is_empty() && job.probes.is_empty() && job.limit_overrides.is_empty());
    assert_eq!(job.concrete, Concrete::default());
    assert_eq!(job.milestones, Milestones::default());
}

#[test]
fn what_is_required_is_asked_for() {
    let missing = errors("");
    assert_eq!(missing[0].problem, "`site` is missing in the file");
    let missing = errors("[site]\n");
    let problems: Vec<&str> = missing.iter().map(|error| error.problem.as_str()).collect();
    assert_eq!(problems, ["`name` is missing in [site]", "`time-zone` is missing in [site]"]);
    assert!(missing[1].fix.contains("time-zone = \"America/Denver\""));
}

#[test]
fn the_template_parses_as_it_is() {
    for units in [Units::Us, Units::Metric] {
        let text = Job::template("North \"house\" @zone@ <a|b>", "America/Denver", units);
        let job = Job::parse(&text, "new.toml").unwrap_or_else(|errors| panic!("{errors}\n{text}"));
        assert_eq!(job.site.name, "North \"house\" @zone@ <a|b>");
        assert_eq!(job.site.units, units);
        assert_eq!(job.zones.len(), 1);
        assert_eq!(job.wood, Wood::default());
        let wide = text.lines().find(|line| line.chars().count() > 100);
        assert_eq!(wide, None);
    }
}

#[test]
fn the_template_parses_with_every_key_switched_on() {
    for units in [Units::Us, Units::Metric] {
        let text = Job::template("North house", "America/Denver", units);
        let on: Vec<&str> = text.lines().map(switched_on).collect();
        let on = on.join("\n");
        let job = Job::parse(&on, "new.toml").unwrap_or_else(|errors| panic!("{errors}\n{on}"));
        // Every key of the reader is in the template: nothing is left unknown.
        let mut unknown = Vec::new();
        nulls(&serde_json::to_value(&job).unwrap(), "", &mut unknown);
        // Given in one of two ways.
        assert_eq!(unknown, ["/wood/conductivity-w-per-m-k"]);
        assert_eq!(job.probes[0].checks.len(), 1);
        assert_eq!(job.limit_overrides[0].id, LimitId::InSituRhMax);
        assert_eq!(job.meter_readings[0].readings.len(), 3);
    }
}

/// `#key = ...` without its `#`; prose, which has a space behind it, as it is.
fn switched_on(line: &str) -> &str {
    match line.strip_prefix('#') {
        Some(key) if !key.is_empty() && !key.starts_with(' ') => key,
        _ => line,
    }
}

fn nulls(value: &serde_json::Value, path: &str, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Null => found.push(path.to_owned()),
        serde_json::Value::Array(items) => {
            assert!(!items.is_empty(), "{path} is empty");
            items
                .iter()
                .enumerate()
                .for_each(|(i, item)| nulls(item, &format!("{path}/{i}"), found));
        }
        serde_json::Value::Object(fields) => {
            fields.iter().for_each(|(key, item)| nulls(item, &format!("{path}/{key}"), found));
        }
        _ => {}
    }
}

#[test]
fn every_template_key_has_a_comment_and_hazards_have_cautions() {
    let text = Job::template("North house", "America/Denver", Units::Metric);
    for line in text.lines().map(switched_on) {
        let is_key = line.split_once(" = ").is_some_and(|(key, _)| !key.starts_with('#'));
        assert!(!is_key || line.contains("  # "), "no comment: {line}");
    }
    for word in ["tendons", "silica", "isocyanate", "solvent", "safety data sheet", "sanding dust"]
    {
        assert!(text.contains(word), "{word}");
    }
}

#[test]
fn local_times_are_on_the_clock_of_the_site() {
    let job = read(
        "[milestones]\ndelivered = 2026-03-02T08:30\nbarrier-rolled = \"2026-03-16 08:30\"\n\
         glue-started = 2026-03-18 08:00:00Z\nglue-finished = \"2026-03-18 16:00-06:00\"\n",
    );
    // Denver is UTC-7 until 8 March 2026 and UTC-6 after it (US rule: second Sunday of March).
    assert_eq!(job.milestones.delivered, utc("2026-03-02T15:30:00Z"));
    assert_eq!(job.milestones.barrier_rolled, utc("2026-03-16T14:30:00Z"));
    assert_eq!(job.milestones.glue_started, utc("2026-03-18T08:00:00Z"));
    assert_eq!(job.milestones.glue_finished, utc("2026-03-18T22:00:00Z"));
    let delivered = job.milestones.delivered.unwrap();
    assert_eq!(job.local(delivered).datetime(), date(2026, 3, 2).at(8, 30, 0, 0));
}

#[test]
fn a_local_time_that_does_not_exist_or_came_twice_asks_for_the_offset() {
    expect_error(
        "[milestones]\nheat-on = 2026-03-08T02:30\n",
        (5, 11),
        "2026-03-08 02:30 does not exist in America/Denver: clocks skipped it",
        "2026-03-08T02:30-07:00 or 2026-03-08T02:30-06:00",
    );
    expect_error(
        "[milestones]\nheat-on = \"2026-11-01 01:30\"\n",
        (5, 11),
        "2026-11-01 01:30 came twice in America/Denver: clocks went back",
        "2026-11-01T01:30-06:00 or 2026-11-01T01:30-07:00",
    );
    let job = read("[milestones]\nheat-on = 2026-11-01T01:30-07:00\n");
    assert_eq!(job.milestones.heat_on, utc("2026-11-01T08:30:00Z"));
}

#[test]
fn dates_and_times_are_not_mixed_up() {
    expect_error(
        "[milestones]\nsanded = 2026-03-08\n",
        (5, 10),
        "`2026-03-08` is not a time",
        "2026-03-02T08:30",
    );
    for text in ["\"2026-03-08\"", "\"3/8/2026 8:30\"", "8", "\"2026-03-08 08:30[Europe/Berlin]\""]
    {
        let (.., problem, _) = only_error(&format!("[milestones]\nsanded = {text}\n"));
        assert!(problem.ends_with("is not a time"), "{problem}");
    }
    for text in ["2026-03-08T08:30", "\"2026-03-08 08:30\"", "\"March 8\"", "2026"] {
        let (.., problem, _) = only_error(&format!("[concrete]\npoured = {text}\n"));
        assert!(problem.ends_with("is not a date"), "{problem}");
    }
    assert_eq!(
        read("[concrete]\npoured = \"2026-01-12\"\n").concrete.poured,
        Some(date(2026, 1, 12))
    );
    expect_error(
        "[concrete]\npoured = 0206-01-12\n",
        (5, 10),
        "the year 206 cannot be meant",
        "check the year",
    );
}

#[test]
fn time_zones_are_iana_places() {
    let zone =
        |zone: &str| errors(&format!("[site]\nname = \"a\"\ntime-zone = {zone}\n")).remove(0);
    for (wrong, right) in [
        ("America/Dever", "America/Denver"),
        ("Denver", "America/Denver"),
        ("new york", "America/New_York"),
        ("Europe/Berln", "Europe/Berlin"),
    ] {
        let error = zone(&format!("\"{wrong}\""));
        assert_eq!(error.problem, format!("`{wrong}` is not an IANA time zone"));
        assert_eq!(error.fix, format!("did you mean `{right}`?"));
        assert_eq!((error.line, error.column), (3, 13));
    }
    // A fixed offset by the name of a zone that has summer time.
    assert_eq!(zone("\"MST\"").problem, "`MST` is not an IANA time zone");
    assert_eq!(zone("-7").problem, "`time-zone` is `-7`, not a name");
    let text = "[site]\nname = \"a\"\ntime-zone = \"UTC\"\n";
    assert_eq!(Job::parse(text, "f").unwrap().site.time_zone.iana_name(), Some("UTC"));
}

#[test]
fn unknown_keys_get_a_suggestion() {
    expect_error(
        "[wood]\nthicknes = \"15 mm\"\n",
        (5, 1),
        "unknown key `thicknes` in [wood]",
        "did you mean `thickness`?",
    );
    expect_error(
        "[adhesiv]\n",
        (4, 2),
        "unknown key `adhesiv` in the file",
        "did you mean `adhesive`?",
    );
    expect_error(
        "[[room]]\nname = \"a\"\n[room.milestones]\nglued = 2026-03-18T08:00\n",
        (7, 1),
        "unknown key `glued` in [milestones]",
        "glue-started",
    );
    let (.., fix) = only_error("[heating]\nzzz = 1\n");
    assert_eq!(fix, "known here: run-in-start, run-in-end, design-supply");
}

#[test]
fn every_error_is_found_in_one_pass_and_in_order() {
    let text = "[site]\nname = \"Site\"\ntime-zone = \"America/Dever\"\narea = \"0 m2\"\n\
                [[room]]\nname = \"a\"\nloger = \"x\"\n\
                [wood]\nthickness = 15\nrh-min = \"130 %\"\n\
                [milestones]\nglue-started = 2026-03-18T08:00\nglue-finished = 2026-03-17T08:00\n\
                [[limit]]\nid = \"air-rh-maxx\"\nvalue = \"55 %\"\nreason = \"\"\n";
    let places: Vec<(usize, usize)> = errors(text).iter().map(|e| (e.line, e.column)).collect();
    assert_eq!(places, [(3, 13), (4, 8), (7, 1), (9, 13), (10, 10), (13, 17), (15, 6), (17, 10)]);
}

#[test]
fn text_that_is_not_toml_is_placed_and_the_rest_still_read() {
    let found = errors(&format!("{SITE}area = 1200 ft2\n[wood]\nthickness = \"15\"\n"));
    let places: Vec<usize> = found.iter().map(|error| error.line).collect();
    assert_eq!(places, [4, 6], "{found:#?}");
    assert!(found[0].problem.starts_with("cannot be read"), "{}", found[0]);
    assert!(found[0].fix.contains("double quotes"));
    // A key given twice.
    let found = errors(&format!("{SITE}name = \"other\"\n"));
    assert!(found[0].problem.contains("duplicate key"), "{}", found[0]);
    // No time zone is asked for when its line could not be read.
    let found = errors("[site]\nname = \"a\"\ntime-zone = America/Denver\n");
    assert_eq!(found.len(), 1, "{found:#?}");
}

#[test]
fn columns_count_characters() {
    let text = "[site]\nname = \"Süd\"\ntime-zone = \"America/Denver\"\n[wood]\n\
                product = \"Äöü\"\nspecies = { \"ö\" = 1 }\n";
    assert_eq!((errors(text)[0].line, errors(text)[0].column), (6, 11));
    let text = format!("{SITE}wood = {{ product = \"Äöü\", thicknes = 1 }}\n");
    let error = &errors(&text)[0];
    assert_eq!(
        (error.line, error.column, error.problem.as_str()),
        (4, 1, "unknown key `wood` in [site]")
    );
}

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
fn steps_come_in_their_order() {
    for (first, then) in [
        ("delivered", "glue-started"),
        ("barrier-rolled", "glue-started"),
        ("glue-started", "glue-finished"),
        ("glue-started", "sanded"),
        ("glue-finished", "sanded"),
        ("glue-finished", "heat-on"),
    ] {
        expect_error(
            &format!("[milestones]\n{first} = 2026-03-18T08:00\n{then} = 2026-03-18T07:59\n"),
            (6, then.len() + 4),
            &format!("`{then}` is earlier than `{first}`"),
            "check both",
        );
        read(&format!("[milestones]\n{first} = 2026-03-18T08:00\n{then} = 2026-03-18T08:00\n"));
    }
}

#[test]
fn nothing_is_tested_or_glued_before_the_pour() {
    let pour = "[concrete]\npoured = 2026-03-03\nthickness = \"120 mm\"\n";
    expect_error(
        &format!("{pour}[[in-situ-test]]\nhole = \"1\"\nread = 2026-03-02T08:30\n"),
        (9, 8),
        "`read` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    expect_error(
        &format!("{pour}[[calcium-chloride-test]]\ndish = \"1\"\nstart = 2026-03-02T23:59\n"),
        (9, 9),
        "`start` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    expect_error(
        &format!("{pour}[milestones]\nglue-started = 2026-03-02T08:30\n"),
        (8, 16),
        "`glue-started` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    // The day counts where the site is: this is still 2 March in UTC terms of another day.
    read(&format!("{pour}[milestones]\nglue-started = 2026-03-03T00:00\n"));
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
fn rooms_and_loggers_are_told_apart() {
    let two =
        |a: &str, b: &str| format!("[[room]]\nname = \"a\"\n{a}\n[[room]]\nname = \"b\"\n{b}\n");
    expect_error(
        "[[room]]\nname = \"a\"\n[[room]]\nname = \"a\"\n",
        (7, 8),
        "there are two rooms named `a`",
        "a name of its own",
    );
    expect_error(
        &two("logger = \"hall\"", "logger = \"hall\""),
        (9, 10),
        "logger `hall` already stands in room `a`",
        "one room",
    );
    expect_error(
        &two("logger = \"00ab00cd00ef0001\"", "logger = \"00AB00CD00EF0001\""),
        (9, 10),
        "logger `00AB00CD00EF0001` already stands in room `a`",
        "one room",
    );
    let job = read(&two("logger = \"00ab00cd00ef0001\"", "logger = \"hall\""));
    let id = LoggerRef::Id([0, 0xab, 0, 0xcd, 0, 0xef, 0, 1]);
    assert_eq!(job.zones[0].logger, Some(id.clone()));
    assert_eq!(id.to_string(), "00ab00cd00ef0001");
    assert_eq!(job.zones[1].logger, Some(LoggerRef::Name("hall".to_owned())));
    assert_eq!(job.zone("b").unwrap().name, "b");
    expect_error(
        "[room]\nname = \"a\"\n",
        (4, 1),
        "`room` is not a list of sections",
        "[[room]] with two brackets",
    );
}

#[test]
fn a_room_has_its_own_milestones_and_shares_the_others() {
    let job = read(
        "[milestones]\ndelivered = 2026-03-09T09:00\nglue-started = 2026-03-18T08:00\n\
         [[room]]\nname = \"a\"\n[[room]]\nname = \"b\"\n\
         [room.milestones]\nglue-started = 2026-03-19T08:00\n",
    );
    assert_eq!(job.zones[0].milestones, job.milestones);
    assert_eq!(job.zones[1].milestones.delivered, job.milestones.delivered);
    assert_eq!(job.zones[1].milestones.glue_started, utc("2026-03-19T14:00:00Z"));
    // Compared with what the room takes over from the job.
    expect_error(
        "[milestones]\ndelivered = 2026-03-09T09:00\n\
         [[room]]\nname = \"a\"\n[room.milestones]\nglue-started = 2026-03-08T08:00\n",
        (9, 16),
        "`glue-started` is earlier than `delivered`",
        "check both",
    );
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

#[test]
fn the_serialised_view_has_a_version_and_fixed_units() {
    let job = read(
        "altitude = \"5280 ft\"\n[[room]]\nname = \"a\"\nlogger = \"00ab00cd00ef0001\"\n\
         [concrete]\npoured = 2026-01-12\nthickness = \"100 mm\"\n\
         [milestones]\ndelivered = 2026-03-02T08:30\n[heating]\ndesign-supply = \"113 F\"\n",
    );
    let json = serde_json::to_value(&job).unwrap();
    assert_eq!(json["schema"], SCHEMA);
    assert_eq!(json["site"]["time-zone"], "America/Denver");
    assert!((json["site"]["air-pressure"]["altitude-m"].as_f64().unwrap() - 1609.344).abs() < 1e-9);
    assert_eq!(json["zones"][0]["logger"], "00ab00cd00ef0001");
    assert_eq!(json["concrete"]["poured"], "2026-01-12");
    assert_eq!(json["concrete"]["thickness-m"], 0.1);
    assert_eq!(json["milestones"]["delivered"], "2026-03-02T15:30:00Z");
    assert!((json["heating"]["design-supply-c"].as_f64().unwrap() - 45.0).abs() < 1e-9);
}

#[test]
fn errors_read_as_file_line_and_column() {
    let text = format!("{SITE}[wood]\nrh-max = \"130 %\"\n");
    assert_eq!(
        Job::parse(&text, "sites/north.toml").unwrap_err().to_string(),
        "sites/north.toml:5:10: `rh-max`: `130 %` is not a possible relative humidity\n    \
         check the number and its unit; usual values look like \"45 %\""
    );
}

proptest::proptest! {
    #[test]
    fn no_damage_to_a_file_panics(cut in 0_usize..12_000, byte in 0_u8..128, at in 0_usize..12_000) {
        let text = Job::template("North house", "America/Denver", Units::Us);
        let on: Vec<&str> = text.lines().map(switched_on).collect();
        let mut bytes = on.join("\n").into_bytes();
        if let Some(place) = bytes.get_mut(at) {
            *place = byte;
        }
        bytes.truncate(cut);
        let text = String::from_utf8_lossy(&bytes);
        // Read or refused, but never silent about a refusal.
        if let Err(errors) = Job::parse(&text, "f") {
            proptest::prop_assert!(errors.iter().count() > 0);
        }
    }
}
