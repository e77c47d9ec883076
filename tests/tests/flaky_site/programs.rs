//! A part of the same cases with the real programs: the desk logger on the flash that the site left,
//! pulled through a pty and judged by `glueday`, says what the library says.

use glueday::archive::Archive;
use glueday::assess::Step;
use glueday_tests::programs::{glueday, program};
use glueday_types::{CentiCelsius, CentiPercent, Cursor, Entry, Header, Sample};
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use super::assess_world::{DAY, HOUR};
use super::campaign::draw;
use super::flakes::KINDS;
use super::site::{Flake, LOGGER, Outcomes, happen};
use super::truths::truths;

/// Site and trouble.
const SAMPLE: [(&str, &str); 15] = [
    ("glue-down", "single samples"),
    ("glue-down", "part of the breach"),
    ("glue-down in Denver", "wrong clock put right"),
    ("glue-down", "blocks not pulled"),
    ("membrane", "dated later"),
    ("traffic", "dead from then on"),
    ("service", "undated boots"),
    ("slab cold, 6 h", "around the breach"),
    ("slab cold in Denver, 6 h", "dated later"),
    ("acclimation broken by damp air, 6 h", "bursts"),
    ("dew under the barrier, 6 h", "alternating"),
    ("adhesive not cured for traffic", "restarts and power cuts"),
    ("supply too hot, 6 h", "rot"),
    ("concrete too young", "never dated"),
    ("air cold in the cure, 6 h", "all sorts"),
];

/// The desk logger as a program, until it is dropped.
struct Desk {
    child: Child,
    port: String,
}

impl Desk {
    fn start(folder: &Path, slots: usize) -> Self {
        let mut child = Command::new(program("glueday-desk"))
            .args(["--scale", "0", "--logger", &LOGGER.to_string(), "--slots", &slots.to_string()])
            .arg("--image")
            .arg(folder.join("flash"))
            .arg("--pty")
            .arg(folder.join("port"))
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut place = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut place).unwrap();
        let port = place.trim().strip_prefix("pty:").unwrap().to_owned();
        Self { child, port }
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        // It is killed as by a pulled plug; there is nothing to be done if it is gone already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn rfc3339(time_s: i64) -> String {
    // All of it is in March 2026, whose first day began here.
    let since_s = time_s - 1_772_323_200;
    let (day, rest) = (since_s / DAY + 1, since_s % DAY);
    assert!((1..=31).contains(&day));
    format!("2026-03-{day:02}T{:02}:{:02}:{:02}Z", rest / HOUR, rest / 60 % 60, rest % 60)
}

fn with_logger(job: &str) -> String {
    job.replacen("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall\"", 1)
}

fn ask(folder: &Path, step: Step, at: &str) -> (Option<i32>, serde_json::Value, String) {
    let job = folder.join("job.toml");
    let said = glueday(
        &folder.join("archive.sqlite"),
        &["--json", "check", job.to_str().unwrap(), "--step", step.as_str(), "--at", at],
    );
    let answer = serde_json::from_str(&said.out).unwrap_or_else(|_| panic!("{said:?}"));
    (said.code, answer, said.err)
}

#[test]
fn the_programs_say_the_same() {
    let truths = truths();
    let (mut gos, mut waits) = (0, 0);
    for (site, trouble) in SAMPLE {
        let truth = truths.iter().find(|truth| truth.name == site).unwrap();
        let kind = KINDS.iter().find(|kind| kind.name == trouble).unwrap();
        let flakes = draw(truth, kind, 1);
        let Outcomes { flash, slots, assessment, .. } = happen(&truth.world, &flakes);
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("flash"), &flash).unwrap();
        std::fs::write(folder.path().join("job.toml"), with_logger(&truth.world.job)).unwrap();
        let archive = folder.path().join("archive.sqlite");
        {
            let desk = Desk::start(folder.path(), slots);
            let adopt = ["adopt", "--port", &desk.port, "--name", "hall", "--keep-clock"];
            let said = glueday(&archive, &adopt);
            assert_eq!(said.code, Some(0), "{site}; {trouble}: {said:?}");
            let said = glueday(&archive, &["--json", "pull", "--port", &desk.port]);
            assert_eq!(said.code, Some(0), "{site}; {trouble}: {said:?}");
        }
        for flake in &flakes {
            // The pull is whole; what nobody pulled is taken out of the archive again.
            if let Flake::Unpulled { .. } = flake {
                remove_unpulled(&archive, flake);
            }
        }
        let at = rfc3339(truth.world.at_s);
        let (code, answer, _) = ask(folder.path(), truth.world.step, &at);
        let go = assessment.is_go();
        assert_eq!(code, Some(i32::from(!go)), "{site}; {trouble}: {answer}");
        assert_eq!(answer["verdict"], if go { "go" } else { "wait" }, "{site}; {trouble}");
        let earliest = assessment.earliest_go_s().filter(|_| !go).map(rfc3339);
        let said = answer["earliest_go"].as_str().map(str::to_owned).filter(|_| !go);
        assert_eq!(said, earliest, "{site}; {trouble}: {answer}");
        if go { gos += 1 } else { waits += 1 }
    }
    println!("{} cases with the programs: {gos} go, {waits} wait", SAMPLE.len());
    assert!(gos >= 4 && waits >= 8);
}

fn remove_unpulled(archive: &Path, flake: &Flake) {
    let Flake::Unpulled { share, blocks } = flake else { return };
    let db = rusqlite::Connection::open(archive).unwrap();
    let (oldest, open): (u32, u32) = db
        .query_row("SELECT min(number), max(number) FROM blocks", [], |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .unwrap();
    let first = oldest + (open - oldest) * share / 1000;
    db.execute("DELETE FROM blocks WHERE number >= ?1 AND number < ?2", [first, first + blocks])
        .unwrap();
}

/// What is said of a log that ends now, by a clock that was so far ahead when the logger's was set.
fn ahead(ahead_s: i64) -> (serde_json::Value, String) {
    let folder = tempfile::tempdir().unwrap();
    let since = std::time::UNIX_EPOCH.elapsed().unwrap();
    let now_s = i64::try_from(since.as_secs()).unwrap();
    let header = Header {
        write_unit: 1,
        interval_s: 600,
        logger: LOGGER,
        block: 0,
        boot: 1,
        first_entry: 0,
        previous: [0; 32],
    };
    let mut bytes = header.to_bytes().to_vec();
    let mut cursor = Cursor::start(&header);
    let utc_s = now_s - 3600 + ahead_s;
    let samples = (0..=3600).step_by(600).map(|at_s| {
        let (slab, air) = (Ok(CentiCelsius(2000)), Ok(CentiCelsius(2100)));
        Entry::Sample(Sample { at_s, slab, air, air_rh: Ok(CentiPercent(4200)), supply: slab })
    });
    for entry in std::iter::once(Entry::ClockSet { at_s: 0, utc_s }).chain(samples) {
        let packed = cursor.pack(&entry).unwrap();
        cursor.advance(&entry, &packed);
        bytes.extend_from_slice(&packed);
    }
    let mut archive = Archive::open_or_create(&folder.path().join("archive.sqlite")).unwrap();
    archive.adopt(LOGGER, "hall", None, 0).unwrap();
    archive.extend_open_block(LOGGER, &bytes, "", 0).unwrap();
    drop(archive);
    let job = "[site]\nname = \"Test house\"\ntime-zone = \"UTC\"\n[[room]]\nname = \"Hall\"\n\
               logger = \"hall\"\n";
    std::fs::write(folder.path().join("job.toml"), job).unwrap();
    let (code, answer, err) = ask(folder.path(), Step::Membrane, "now");
    assert_eq!(code, Some(1));
    (answer, err)
}

#[test]
fn a_log_from_after_now_is_no_evidence_and_says_so() {
    let because = |answer: &serde_json::Value, id: &str| {
        let all = answer["zones"][0]["requirements"].as_array().unwrap();
        all.iter().find(|r| r["id"] == id).unwrap()["because"].as_str().unwrap().to_owned()
    };
    // A time zone, summer time, and half an hour.
    for ahead_s in [7 * HOUR, HOUR, HOUR / 2] {
        let (answer, err) = ahead(ahead_s);
        assert!(err.contains("room Hall: its log goes on until"), "{err}");
        assert!(err.contains("--set-clock"), "{err}");
        assert_eq!(because(&answer, "dew-margin"), "there is no dated log up to this time");
    }
    for ahead_s in [0, 600, -HOUR / 2] {
        let (answer, err) = ahead(ahead_s);
        assert!(!err.contains("its log goes on until"), "{err}");
        assert_ne!(because(&answer, "dew-margin"), "there is no dated log up to this time");
    }
}
