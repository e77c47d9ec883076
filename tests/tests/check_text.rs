//! What the program prints, word for word, against the files in `fixtures/text`.
//!
//! A file is only rewritten when `GLUEDAY_REWRITE_TEXTS` is set; read what it then holds.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[cfg(test)]
mod assess_world;

use assess_world::{D0, Of, World, t};
use glueday::assess::Step;
use glueday_tests::programs::{Said, program};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

const REWRITE: &str = "GLUEDAY_REWRITE_TEXTS";

/// A site on disk: job files, and an archive with a log that came as CSV.
struct Site {
    folder: tempfile::TempDir,
}

impl Site {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn run(&self, args: &[&str], columns: Option<&str>) -> Said {
        let mut command = Command::new(program("glueday"));
        command.arg("--archive").arg(self.folder.path().join("archive.sqlite")).args(args);
        command.env_remove("COLUMNS").env_remove("NO_COLOR");
        if let Some(columns) = columns {
            command.env("COLUMNS", columns);
        }
        Said::from(command.output().unwrap())
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    }

    /// Imports the samples of a world under a name.
    fn import(&self, world: &World, name: &str) {
        let mut csv = "time,slab,air,rh,supply\n".to_owned();
        let cell = |value: Option<f64>| value.map_or(String::new(), |value| format!("{value:.2}"));
        for reads in &world.samples {
            let (s, a, r, p) = (reads.slab, reads.air, reads.rh, reads.supply);
            let time = reads.time_s;
            writeln!(csv, "{time},{},{},{},{}", cell(s), cell(a), cell(r), cell(p)).unwrap();
        }
        let csv = self.write("log.csv", &csv);
        let columns = ["slab=slab[C]", "air=air[C]", "rh=rh[%]", "supply=supply[C]", "time=time"];
        let mut args = vec!["import", csv.as_str(), "--name", name, "--time-format", "unix-s"];
        args.extend(columns.iter().flat_map(|column| ["--column", column]));
        let said = self.run(&args, None);
        assert_eq!(said.code, Some(0), "{said:?}");
    }

    /// Writes the job of a world, whose hall has the logger of that name.
    fn job(&self, world: &World, logger: &str) -> String {
        let mut world = world.clone();
        world.edit("name = \"Hall\"", &format!("name = \"Hall\"\nlogger = \"{logger}\""));
        self.write("job.toml", &world.job)
    }
}

fn at(world: &World) -> String {
    // Days of the world begin at 2026-03-02.
    let (day, s) = ((world.at_s - D0) / 86_400, (world.at_s - D0) % 86_400);
    format!("2026-03-{:02}T{:02}:{:02}:00Z", day + 2, s / 3600, s / 60 % 60)
}

fn us(mut world: World) -> World {
    world.edit("units = \"metric\"", "units = \"us\"");
    world.edit("time-zone = \"UTC\"", "time-zone = \"Etc/GMT+7\"");
    // The days and hours of the job are the same as before.
    let shifted = world.job.replace("T00:00", "T00:00Z").replace("T23:30", "T23:30Z");
    World { job: shifted, ..world }
}

/// The output is what the file holds.
#[track_caller]
fn assert_golden(name: &str, said: &Said, code: i32) {
    assert_eq!(said.code, Some(code), "{said:?}");
    assert!(!said.out.contains('\u{1b}'), "colours in a pipe: {said:?}");
    let path: PathBuf =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text").join(format!("{name}.txt"));
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(&path, &said.out).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        golden == said.out,
        "{name}.txt differs; if the new text is right, set {REWRITE}=1, run again and read it.\n\
         --- was\n{golden}\n--- is\n{}",
        said.out
    );
}

/// `check` of a world at 80 columns and, with a name for it, at 120.
#[track_caller]
fn assert_check(name: &str, world: &World, code: i32, wide: bool) {
    let site = Site::new();
    site.import(world, "hall logger");
    let job = site.job(world, "hall logger");
    let time = at(world);
    let args = ["check", &job, "--at", &time, "--step", world.step.as_str()];
    // Standard output is no terminal: 80 columns.
    assert_golden(name, &site.run(&args, None), code);
    if wide {
        assert_golden(&format!("{name}-120"), &site.run(&args, Some("120")), code);
    }
}

/// Damp air and a cold slab two days before, both mended since.
fn damp_and_cold() -> World {
    let mut world = World::ready();
    world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
    world.set(Of::Rh, t(12, 4, 0), t(12, 9, 0), 58.25);
    world.set(Of::Slab, t(13, 5, 0), t(13, 7, 0), 17.2);
    world
}

#[test]
fn a_go_in_both_units_and_widths() {
    assert_check("go-metric", &World::ready(), 0, false);
    assert_check("go-us", &us(World::ready()), 0, true);
}

#[test]
fn a_wait_that_time_clears_in_both_units_and_widths() {
    assert_check("wait-metric", &damp_and_cold(), 1, false);
    assert_check("wait-us", &us(damp_and_cold()), 1, true);
}

#[test]
fn a_wait_for_tests_speaks_of_drilling_once() {
    let mut world = World::ready();
    while let Some(start) = world.job.find("[[in-situ-test]]") {
        let end = world.job.find("heat = \"off\"").unwrap() + "heat = \"off\"".len();
        world.job.replace_range(start..end, "");
    }
    assert_check("wait-untested", &world, 1, false);
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text/wait-untested.txt");
    let golden = std::fs::read_to_string(golden).unwrap();
    assert_eq!(golden.matches("rilling").count(), 1, "{golden}");
}

#[test]
fn a_go_for_sanding_speaks_of_dust() {
    assert_check("go-sanding", &us(World::glued(Step::Sanding)), 0, false);
}

#[test]
fn no_log_at_all() {
    let site = Site::new();
    let world = World::ready();
    let job = site.write("job.toml", &world.job);
    let said = site.run(&["check", &job, "--at", &at(&world)], None);
    assert_golden("no-log", &said, 1);
    assert!(said.err.contains("Hall names no logger"), "{said:?}");
}

#[test]
fn two_rooms() {
    let site = Site::new();
    let mut world = us(World::ready());
    site.import(&world, "hall logger");
    let mut bath = world.clone();
    bath.set(Of::Rh, t(12, 4, 0), t(13, 9, 0), 64.0);
    site.import(&bath, "bath logger");
    world.edit("[concrete]", "[[room]]\nname = \"Bath\"\nlogger = \"bath logger\"\n\n[concrete]");
    let job = site.job(&world, "hall logger");
    assert_golden("two-rooms", &site.run(&["check", &job, "--at", &at(&world)], None), 1);
}

#[test]
fn requirements_are_explained() {
    let site = Site::new();
    let mut world = us(damp_and_cold());
    world.add("\n[[limit]]\nid = \"air-rh-max\"\nvalue = \"55 %\"\nreason = \"humid season\"\n");
    site.import(&world, "hall logger");
    let job = site.job(&world, "hall logger");
    let time = at(&world);
    for id in ["acclimation", "dew-margin", "surface-max"] {
        let said = site.run(&["check", &job, "--at", &time, "--why", id], None);
        assert_golden(&format!("why-{id}"), &said, 1);
    }
    let said =
        site.run(&["check", &job, "--at", &time, "--why", "acclimation,run-in", "--json"], None);
    let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let requirements = document["zones"][0]["requirements"].as_array().unwrap();
    let ids: Vec<&str> = requirements.iter().map(|r| r["id"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), 2);
    assert!(ids.contains(&"acclimation") && ids.contains(&"run-in"));
    // The same fields as in the whole document, and more.
    let whole = site.run(&["check", &job, "--at", &time, "--json"], None);
    let whole: serde_json::Value = serde_json::from_str(&whole.out).unwrap();
    for requirement in requirements {
        let all = whole["zones"][0]["requirements"].as_array().unwrap();
        let same = all.iter().find(|other| other["id"] == requirement["id"]).unwrap();
        for (field, value) in same.as_object().unwrap() {
            assert_eq!(&requirement[field], value, "{field}");
        }
        assert!(requirement["rule"].as_str().unwrap().len() > 20);
    }
    let acclimation = requirements.iter().find(|r| r["id"] == "acclimation").unwrap();
    let rh = acclimation["layers"].as_array().unwrap();
    let rh = rh.iter().find(|layer| layer["id"] == "air-rh-max").unwrap();
    assert_eq!((&rh["value"], &rh["layer"]), (&55.0.into(), &"override".into()));
    assert_eq!(rh["displaced"][0]["value"], 50.0);

    let unknown = site.run(&["check", &job, "--why", "aclimation"], None);
    assert_eq!((unknown.code, unknown.out.as_str()), (Some(2), ""));
    assert!(unknown.err.contains("did you mean `acclimation`?"), "{unknown:?}");
    assert!(unknown.err.contains("moisture barrier cured"), "{unknown:?}");
    let list = site.run(&["check", &job, "--at", &time, "--why"], None);
    assert_eq!(list.code, Some(1));
    assert!(list.out.contains("slab-surface") && !list.out.contains("adhesive-cure"), "{list:?}");
}

#[test]
fn cautions_are_in_the_json_with_their_citations() {
    let site = Site::new();
    let world = World::ready();
    let job = site.write("job.toml", &world.job);
    for step in Step::ALL {
        let said = site.run(&["check", &job, "--step", step.as_str(), "--json"], None);
        let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
        let cautions = document["cautions"].as_array().unwrap();
        assert!(cautions.len() >= 2, "{step:?}");
        for caution in cautions {
            for field in ["topic", "text", "citation"] {
                assert!(!caution[field].as_str().unwrap().is_empty(), "{step:?}: {field}");
            }
        }
    }
}

#[test]
fn limits_are_listed_with_and_without_a_job() {
    let site = Site::new();
    assert_golden("limits-us", &site.run(&["limits"], None), 0);
    let eu = site.run(&["limits", "--profile", "eu", "--limit", "air-rh-max,air-max"], None);
    assert_golden("limits-eu-two", &eu, 0);
    let mut world = us(World::ready());
    world.add("\n[[limit]]\nid = \"air-rh-max\"\nvalue = \"55 %\"\nreason = \"humid season\"\n");
    world.edit("[barrier]", "[barrier]\nsurface-min = \"50 F\"\nsurface-max = \"84 F\"");
    let job = site.write("job.toml", &world.job);
    assert_golden("limits-job", &site.run(&["limits", &job], None), 0);
    let none = site.run(&["limits", "--limit", "air-mx"], None);
    assert_eq!(none.code, Some(2));
    assert!(none.err.contains("did you mean `air-max`?"), "{none:?}");
}

#[test]
fn a_terminal_gets_colours_unless_it_does_not_want_them() {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let site = Site::new();
    let world = us(damp_and_cold());
    site.import(&world, "hall logger");
    let job = site.job(&world, "hall logger");
    let time = at(&world);
    let plain = site.run(&["check", &job, "--at", &time], Some("100")).out;
    let on_terminal = |no_color: bool| {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let far = std::fs::OpenOptions::new().read(true).write(true).open(name).unwrap();
        let size = rustix::termios::Winsize { ws_row: 60, ws_col: 100, ws_xpixel: 0, ws_ypixel: 0 };
        rustix::termios::tcsetwinsize(&far, size).unwrap();
        let mut command = Command::new(program("glueday"));
        command.arg("--archive").arg(site.folder.path().join("archive.sqlite"));
        command.args(["check", &job, "--at", &time]).env("TERM", "xterm-256color");
        command.env_remove("COLUMNS").env_remove("NO_COLOR").env_remove("CLICOLOR");
        if no_color {
            command.env("NO_COLOR", "1");
        }
        let mut child = command.stdout(far).spawn().unwrap();
        // The pipe of a terminal is small: it is read while the program writes.
        drop(command);
        let mut text = Vec::new();
        let mut buffer = [0; 4096];
        while let Ok(count @ 1..) = rustix::io::read(&master, &mut buffer) {
            text.extend_from_slice(&buffer[..count]);
        }
        assert_eq!(child.wait().unwrap().code(), Some(1));
        String::from_utf8(text).unwrap().replace("\r\n", "\n")
    };
    assert_eq!(on_terminal(true), plain);
    let coloured = on_terminal(false);
    assert!(coloured.contains('\u{1b}'), "{coloured}");
    assert_eq!(without_styles(&coloured), plain);
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
