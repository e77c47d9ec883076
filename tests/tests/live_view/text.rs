//! What the screen, the line and the JSON say, on worlds of our own.

use crate::assess_world::{HOUR, MIN, Of, World, t};
use glueday::assess::assess;
use glueday::history::History;
use glueday::job::Job;
use glueday::limits::Limits;
use glueday::view;
use glueday::view::live::{Line, Reading, Scene};
use glueday_types::Absent;
use std::path::Path;

/// The output is what the file holds.
#[track_caller]
fn assert_golden(name: &str, text: &str) {
    let text = without_styles(text);
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text").join(format!("{name}.txt"));
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&path, &text).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(golden == text, "{name}.txt differs\n--- was\n{golden}\n--- is\n{text}");
}

fn without_styles(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    out + rest
}

/// Draws a world as `live` shows it, and hands out what else it told.
fn shown(
    world: &World,
    reading: Option<&Reading>,
    line: &Line,
    name: Option<&str>,
) -> serde_json::Value {
    let history: History = world.history();
    let job = Job::parse(&world.job, "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let zone = job.zone("Hall").unwrap();
    let assessment = assess(&job, &limits, &[(zone, &history)], world.step, world.at_s);
    let scene = Scene {
        job: &job,
        limits: &limits,
        assessment: &assessment,
        reading,
        line,
        now_s: world.at_s + 4,
    };
    if let Some(name) = name {
        for width in [80, 120] {
            assert_golden(&format!("{name}-{width}"), &view::live::screen(&scene, 10, width));
        }
        assert_golden(&format!("{name}-line"), &(view::live::line(&scene) + "\n"));
    }
    serde_json::from_str(&view::live::json(&scene).unwrap()).unwrap()
}

fn now(world: &World) -> Reading {
    let values = [Ok(20.0), Ok(21.0), Ok(42.0), Err(Absent::NoAnswer)];
    Reading { values, time_s: world.at_s - 2 * MIN, supply_mv: Some(2950) }
}

#[test]
fn the_screen_at_80_and_120_columns() {
    let mut damp = World::ready();
    damp.edit("units = \"metric\"", "units = \"us\"");
    damp.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    damp.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    let up = Line::Up { port: "/dev/ttyACM0".to_owned(), at_s: damp.at_s - 3 };
    shown(&damp, Some(&now(&damp)), &up, Some("live-wait"));
    let ready = World::ready();
    let why = "/dev/ttyACM0 is gone (hung up): plug it in again".to_owned();
    let lost = Line::Lost { why, since_s: ready.at_s - 300, tries: 61 };
    shown(&ready, Some(&now(&ready)), &lost, Some("live-lost"));
    let moving = Line::Moving { port: "tcp:192.0.2.7:4001".to_owned(), bytes: 5000, total: 40_961 };
    shown(&ready, None, &moving, Some("live-moving"));
}

#[test]
fn streaks_are_those_of_the_findings() {
    let mut world = World::ready();
    // Damp until the 11th day at 9:00, cold until the 13th at 7:00; asked about on the 14th at 0:00.
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    let up = Line::Up { port: "p".to_owned(), at_s: world.at_s };
    let live = shown(&world, Some(&now(&world)), &up, None);
    let streaks = live["streaks"].as_array().unwrap();
    let of = |id: &str| streaks.iter().find(|streak| streak["id"] == id).unwrap();
    // The first good sample comes ten minutes after the last bad one; 72 h are needed (the shipped limit).
    let acclimated = of("acclimation");
    assert_eq!(acclimated["held_h"], 62.833, "{acclimated}");
    assert_eq!((&acclimated["needed_h"], &acclimated["met"]), (&72.0.into(), &false.into()));
    // 17 h since the last cold sample, of the three days that the slab is held before gluing (the shipped
    // limit).
    let surface = of("slab-surface");
    assert_eq!(surface["held_h"], 17.0, "{surface}");
    assert_eq!(surface["needed_h"], 72.0, "{surface}");
    let age = of("concrete-age");
    assert_eq!(age["met"], true, "{age}");
    // Held and needed say when: that is the earliest go of the finding.
    let go: jiff::Timestamp = live["earliest_go"].as_str().unwrap().parse().unwrap();
    let hours = |s: &serde_json::Value, key: &str| s[key].as_f64().unwrap();
    let last = streaks.iter().filter(|s| s["met"] == false);
    let last = last.map(|s| hours(s, "needed_h") - hours(s, "held_h")).fold(0.0, f64::max);
    let left_h = (go.as_second() - world.at_s) as f64 / HOUR as f64;
    assert!((left_h - last).abs() < 0.01, "{left_h} {last}");
}

#[test]
fn a_reading_without_a_probe_says_so_and_has_no_gap() {
    let world = World::ready();
    let up = Line::Up { port: "p".to_owned(), at_s: world.at_s };
    let mut reading = now(&world);
    let live = shown(&world, Some(&reading), &up, None);
    assert_eq!(live["reading"]["missing"]["supply"], "the probe does not answer");
    assert!(live["reading"]["supply_c"].is_null());
    // Dew point at 21 °C and 42 %RH, by a table of moist air: 7.6 °C.
    assert!((live["reading"]["dew_point_c"].as_f64().unwrap() - 7.6).abs() < 0.1, "{live}");
    assert_eq!(live["reading"]["battery_v"], 2.95);
    reading.values[2] = Err(Absent::BadChecksum);
    let live = shown(&world, Some(&reading), &up, None);
    assert!(live["reading"]["dew_gap_k"].is_null() && live["reading"]["slab_c"] == 20.0, "{live}");
    assert_eq!(live["verdict"], "go", "the log is judged, not the reading beside it");
    let none = shown(&world, None, &up, None);
    assert!(none["reading"].is_null());
}
