//! From the desk logger over a real pty into a real archive, with the real program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday::archive::Archive;
use glueday_desk::{Channel, Desk, Pace, Port, Script, Settings};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::{BLOCK_LEN, LoggerId};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

const LOGGER: LoggerId = LoggerId(*b"end2end1");
const SLOTS: u32 = 64;
const DAY_S: u32 = 86_400;

/// A desk logger served from a thread, until it is dropped.
struct Served {
    port: String,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<Desk>>,
}

impl Served {
    fn start(mut desk: Desk) -> Self {
        let port = Port::open_pty(None).unwrap();
        let name = port.name().to_owned();
        let stop = Arc::new(AtomicBool::new(false));
        let thread = {
            let stop = Arc::clone(&stop);
            std::thread::spawn(move || {
                desk.serve(vec![port], &stop).unwrap();
                desk
            })
        };
        Self { port: name, stop, thread: Some(thread) }
    }

    fn end(mut self) -> Desk {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn image(&self) -> PathBuf {
        self.folder.path().join("logger.flash")
    }

    fn archive(&self) -> PathBuf {
        self.folder.path().join("archive.sqlite")
    }

    fn desk(&self, uptime_s: u32, pace: Pace) -> Desk {
        let mut script = Script::steady(11);
        script.slab = Channel { swing: 0.5, noise_sd: 0.05 };
        script.air = Channel { swing: 1.0, noise_sd: 0.1 };
        script.air_rh = Channel { swing: -3.0, noise_sd: 0.3 };
        script.supply = Channel { swing: 1.0, noise_sd: 0.2 };
        let settings = Settings { pace, scale: 0.0, ..Settings::default() };
        let mut desk =
            Desk::create_or_open(self.image(), SLOTS, LOGGER, Box::new(script), &settings).unwrap();
        desk.advance_to(uptime_s).unwrap();
        desk
    }

    fn run(&self, args: &[&str]) -> Said {
        glueday(&self.archive(), args)
    }

    /// The archive holds what stands on flash, byte for byte, and all of it.
    #[track_caller]
    fn assert_equal_to_flash(&self) {
        let flash = std::fs::read(self.image()).unwrap();
        let archive = Archive::open_read_only(&self.archive()).unwrap();
        let blocks = archive.blocks(LOGGER).unwrap();
        let mut written = 0;
        for slot in flash.chunks(BLOCK_LEN) {
            written += usize::from(slot.iter().any(|byte| *byte != 0xFF));
        }
        assert_eq!(blocks.len(), written);
        for block in &blocks {
            let slot = block.number as usize % SLOTS as usize;
            let on_flash = &flash[slot * BLOCK_LEN..][..BLOCK_LEN];
            let (same, rest) = on_flash.split_at(block.bytes.len());
            assert!(same == block.bytes, "block {} differs", block.number);
            assert!(rest.iter().all(|byte| *byte == 0xFF), "block {} is short", block.number);
        }
        assert!(archive.conflicts(LOGGER).unwrap().is_empty());
    }
}

#[test]
fn eight_weeks_come_over_the_pty_byte_for_byte_and_only_once() {
    let place = Place::new();
    let served = Served::start(place.desk(56 * DAY_S, Pace::default()));
    let adopted = place.run(&["adopt", "--port", &served.port, "--name", "hall logger"]);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    assert!(adopted.out.contains("hall logger"), "{adopted:?}");

    let first = place.run(&["--json", "pull", "--port", &served.port]);
    assert_eq!(first.code, Some(0), "{first:?}");
    let first: serde_json::Value = serde_json::from_str(&first.out).unwrap();
    // Eight weeks are 8064 samples of at least 6 bytes.
    assert!(first["bytes_moved"].as_u64().unwrap() > 8064 * 6, "{first}");
    assert_eq!(first["name"], "hall logger");

    let second = place.run(&["--json", "pull", "--port", &served.port]);
    let second: serde_json::Value = serde_json::from_str(&second.out).unwrap();
    assert_eq!(second["bytes_moved"], 0, "{second}");
    served.end();
    place.assert_equal_to_flash();
}

#[test]
fn a_log_that_went_on_is_pulled_from_where_the_archive_ends() {
    let place = Place::new();
    let served = Served::start(place.desk(3 * DAY_S, Pace::default()));
    assert_eq!(place.run(&["adopt", "--port", &served.port, "--name", "hall"]).code, Some(0));
    assert_eq!(place.run(&["pull", "--port", &served.port]).code, Some(0));
    let mut desk = served.end();
    let before = std::fs::read(place.image()).unwrap();
    desk.advance_to(9 * DAY_S).unwrap();
    let served = Served::start(desk);
    let said = place.run(&["--json", "pull", "--port", &served.port]);
    served.end();
    let said: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let after = std::fs::read(place.image()).unwrap();
    let grown = before.iter().zip(&after).filter(|(a, b)| a != b).count() as u64;
    // A byte that was written as 0xFF does not show as a change.
    let moved = said["bytes_moved"].as_u64().unwrap();
    assert!(moved >= grown && moved < grown + grown / 20, "{moved} moved, {grown} new");
    place.assert_equal_to_flash();
}

#[test]
fn a_pull_killed_at_any_point_goes_on_and_ends_the_same() {
    let place = Place::new();
    // Slow enough that the kills fall into it: 50 kB in about a second.
    let pace = Pace { bytes_per_s: Some(50_000), ..Pace::default() };
    let served = Served::start(place.desk(42 * DAY_S, pace));
    assert_eq!(place.run(&["adopt", "--port", &served.port, "--name", "hall"]).code, Some(0));
    let mut killed = 0;
    for wait_ms in [20, 60, 110, 170, 240, 320, 410, 510] {
        let mut pull = Command::new(program("glueday"))
            .arg("--archive")
            .arg(place.archive())
            .args(["pull", "--port", &served.port])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(wait_ms));
        if pull.try_wait().unwrap().is_none() {
            killed += 1;
        }
        // SIGKILL: nothing is tidied up.
        let _ = pull.kill();
        pull.wait().unwrap();
        integrity(&place.archive());
    }
    assert!(killed >= 3, "only {killed} pulls were cut short");
    let last = place.run(&["pull", "--port", &served.port]);
    assert_eq!(last.code, Some(0), "{last:?}");
    served.end();
    place.assert_equal_to_flash();
}

fn integrity(archive: &Path) {
    let db = rusqlite::Connection::open(archive).unwrap();
    let result: String = db.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(result, "ok");
}

#[test]
fn two_pulls_at_once_keep_one_right_log() {
    let place = Place::new();
    let pace = Pace { bytes_per_s: Some(60_000), ..Pace::default() };
    let served = Served::start(place.desk(21 * DAY_S, pace));
    let pulls: Vec<_> = (0..2)
        .map(|_| {
            let (archive, port) = (place.archive(), served.port.clone());
            std::thread::spawn(move || glueday(&archive, &["pull", "--port", &port]))
        })
        .collect();
    for pull in pulls {
        let said = pull.join().unwrap();
        // Both may get through, one after the other; or one is told that the port or the line is taken.
        assert!(matches!(said.code, Some(0 | 2)), "{said:?}");
        assert!(!said.err.contains("panicked"), "{said:?}");
    }
    integrity(&place.archive());
    let last = place.run(&["pull", "--port", &served.port]);
    assert_eq!(last.code, Some(0), "{last:?}");
    served.end();
    place.assert_equal_to_flash();
}

#[test]
fn the_demo_says_wait_and_then_go() {
    let folder = tempfile::tempdir().unwrap();
    let demo = folder.path().join("demo");
    let output = Command::new(program("glueday"))
        .args(["demo", "--now", "2026-03-21T18:00Z", "--json", "--folder"])
        .arg(&demo)
        .output()
        .unwrap();
    let said = Said::from(output);
    assert_eq!(said.code, Some(0), "{said:?}");
    let answers: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let verdicts: Vec<&str> =
        answers.as_array().unwrap().iter().map(|a| a["verdict"].as_str().unwrap()).collect();
    assert_eq!(verdicts, ["wait", "go"]);

    // The wait is for the wet weekend and for nothing else, and it is over before the second question.
    let wait = &answers[0];
    let requirements = wait["zones"][0]["requirements"].as_array().unwrap();
    let unmet: Vec<&str> = requirements
        .iter()
        .filter(|r| r["outcome"] != "met")
        .map(|r| r["id"].as_str().unwrap())
        .collect();
    assert_eq!(unmet, ["acclimation"]);
    let earliest = wait["earliest_go"].as_str().unwrap();
    assert!(
        earliest > wait["at"].as_str().unwrap() && earliest < answers[1]["at"].as_str().unwrap()
    );

    for name in
        ["job.toml", "archive.sqlite", "logger.flash", "wait.png", "wait.svg", "go.png", "go.svg"]
    {
        assert!(std::fs::metadata(demo.join(name)).unwrap().len() > 0, "{name}");
    }
    // The same verdict comes from the files that it left behind, without the logger.
    let job = demo.join("job.toml");
    let again = glueday(
        &demo.join("archive.sqlite"),
        &["--json", "check", job.to_str().unwrap(), "--at", wait["at"].as_str().unwrap()],
    );
    assert_eq!(again.code, Some(1));
    assert_eq!(serde_json::from_str::<serde_json::Value>(&again.out).unwrap(), *wait);
}

#[test]
fn the_open_data_set_waits_for_what_it_does_not_hold() {
    // Air of a house under renovation: TRH-1 data base, CC BY 4.0, see the fixture's source note.
    let place = Place::new();
    let csv = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/intake/renovation-house-indoor-air.csv");
    let csv = csv.to_str().unwrap();
    let columns = ["--column", "air=T", "--column", "rh=RH"];
    let import = [&["import", csv, "--name", "house air"], &columns[..]].concat();
    let said = place.run(&import);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.out.contains("21365 rows"), "{said:?}");
    let job = place.folder.path().join("job.toml");
    std::fs::write(
        &job,
        "[site]\nname = \"House\"\ntime-zone = \"Etc/GMT-2\"\n[[room]]\nname = \"Room\"\n\
         logger = \"house air\"\n[milestones]\ndelivered = 2021-05-10T08:00\n",
    )
    .unwrap();
    let said = place.run(&["--json", "check", job.to_str().unwrap(), "--at", "last"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let answer: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let outcome = |id: &str| {
        let all = answer["zones"][0]["requirements"].as_array().unwrap();
        all.iter().find(|r| r["id"] == id).unwrap()["outcome"].as_str().unwrap().to_owned()
    };
    assert_eq!(answer["at"], "2021-05-15T21:55:00Z");
    for id in ["dew-margin", "slab-surface", "surface-max", "surface-change", "supply-max"] {
        assert_eq!(outcome(id), "no-evidence", "{id}");
    }
    // The file ends at 55.7 %RH (its last row), above 50 %.
    assert_eq!(outcome("acclimation"), "not-met");
}
