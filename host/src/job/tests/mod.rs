//! What one file says, and every way in which it can be wrong.

mod evidence;
mod template;
mod times;

use super::*;
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
    assert!(found[0].problem.starts_with("this line cannot be read"), "{}", found[0]);
    assert!(found[0].fix.contains("double quotes"));
    // A key given twice.
    let found = errors(&format!("{SITE}name = \"other\"\n"));
    assert!(found[0].problem.contains("duplicate key"), "{}", found[0]);
    assert!(found[0].fix.contains("keep one"), "{}", found[0]);
    // A day that is not in the calendar.
    let (line, column, problem, fix) = only_error("[concrete]\npoured = 2026-02-30\n");
    assert_eq!((line, column), (5, 10));
    assert!(problem.contains("day between 01 and 28") && fix.contains("2026-03-02"), "{fix}");
    // No time zone is asked for when its line could not be read.
    for line in ["time-zone = America/Denver", "time-zone \"America/Denver\"", "time-zone"] {
        let found = errors(&format!("[site]\nname = \"a\"\n{line}\n"));
        assert_eq!(found.len(), 1, "{found:#?}");
    }
}

#[test]
fn columns_count_characters() {
    let text = "site = { name = \"Süd\", time-zone = \"UTC\" }\n\
                wood = { product = \"Äöü\", thicknes = 1 }\n";
    let error = &errors(text)[0];
    assert_eq!((error.line, error.column), (2, 27));
    assert_eq!(error.problem, "unknown key `thicknes` in [wood]");
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
