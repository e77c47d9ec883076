//! `sites`: many jobs in one table, word for word, with what is wrong in one of them.
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

use assess_world::{Of, World, t};
use glueday::archive::{Archive, PullRecord};
use glueday_tests::programs::{Said, program};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

/// The time asked about: the end of the log of most rooms.
const AT: &str = "2026-03-16T00:00:00Z";
const HOUR_S: i64 = 3600;
/// The pulls are a little older than whole hours, by what is in the middle of what the table shows as
/// one tenth of an hour.
const PULL_MORE_S: i64 = HOUR_S / 10;

/// A folder `jobs` beside an archive with many loggers.
struct Yard {
    folder: tempfile::TempDir,
}

/// A logger of the archive: name, log, hours since the last pull, and its supply then.
struct Logger {
    name: &'static str,
    world: World,
    pulled_h: Option<i64>,
    supply_mv: Option<u16>,
}

impl Yard {
    fn new() -> Self {
        let yard = Self { folder: tempfile::tempdir().unwrap() };
        std::fs::create_dir(yard.path("jobs")).unwrap();
        yard
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, args: &[&str], columns: Option<&str>) -> Said {
        let mut command = Command::new(program("glueday"));
        // By the names that stand in the table.
        command.current_dir(self.folder.path()).args(["--archive", "archive.sqlite"]).args(args);
        command.env_remove("COLUMNS").env_remove("NO_COLOR");
        if let Some(columns) = columns {
            command.env("COLUMNS", columns);
        }
        Said::from(command.output().unwrap())
    }

    fn sites(&self, args: &[&str]) -> serde_json::Value {
        let args = [&["sites", "--at", AT, "--json"], args].concat();
        serde_json::from_str(&self.run(&args, None).out).unwrap()
    }

    fn logger(&self, logger: &Logger) {
        let mut csv = "time,slab,air,rh,supply\n".to_owned();
        let cell = |value: Option<f64>| value.map_or(String::new(), |value| format!("{value:.2}"));
        for reads in &logger.world.samples {
            let (s, a, r, p) = (reads.slab, reads.air, reads.rh, reads.supply);
            let time = reads.time_s;
            writeln!(csv, "{time},{},{},{},{}", cell(s), cell(a), cell(r), cell(p)).unwrap();
        }
        std::fs::write(self.path("log.csv"), &csv).unwrap();
        let columns = ["slab=slab[C]", "air=air[C]", "rh=rh[%]", "supply=supply[C]", "time=time"];
        let mut args = vec!["import", "log.csv", "--name", logger.name, "--time-format", "unix-s"];
        args.extend(columns.iter().flat_map(|column| ["--column", column]));
        let said = self.run(&args, None);
        assert_eq!(said.code, Some(0), "{said:?}");
    }

    /// Notes the pulls of a logger whose log is there: done last, so that little of what the table
    /// shows of their age passes before it is shown.
    fn pulls(&self, logger: &Logger) {
        let Some(pulled_h) = logger.pulled_h else { return };
        let mut archive = Archive::open(&self.path("archive.sqlite")).unwrap();
        let id = archive.find_logger(logger.name).unwrap().id;
        let at_s = jiff::Timestamp::now().as_second() - pulled_h * HOUR_S - PULL_MORE_S;
        for (at_s, result) in
            [(at_s - 9, PullRecord::COMPLETE), (at_s, PullRecord::COMPLETE), (at_s + 9, "lost")]
        {
            let pull = PullRecord {
                logger: id,
                at_s,
                port: "a pty".to_owned(),
                bytes: 1,
                result: result.to_owned(),
                supply_mv: logger.supply_mv,
            };
            archive.note_pull(&pull).unwrap();
        }
    }

    fn job(&self, file: &str, site: &str, rooms: &[(&str, Option<&str>)]) {
        let mut text = World::ready().job;
        text = text.replace("name = \"Test house\"", &format!("name = \"{site}\""));
        let mut sections = String::new();
        for (room, logger) in rooms {
            writeln!(sections, "[[room]]\nname = \"{room}\"").unwrap();
            if let Some(logger) = logger {
                writeln!(sections, "logger = \"{logger}\"").unwrap();
            }
        }
        text = text.replace("[[room]]\nname = \"Hall\"\n", &sections);
        std::fs::write(self.path(file), text).unwrap();
    }
}

/// Jobs in every state: go, waits with and without a date, and three kinds of errors.
fn yard() -> &'static Yard {
    static YARD: OnceLock<Yard> = OnceLock::new();
    YARD.get_or_init(|| {
        let yard = Yard::new();
        let mut damp = World::ready();
        damp.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 62.5);
        let mut cold = World::ready();
        cold.set(Of::Slab, t(13, 20, 0), t(14, 0, 0), 14.0);
        let mut silent = World::ready();
        silent.samples.retain(|reads| reads.time_s < t(13, 0, 0));
        let logger = |name, world, pulled_h, supply_mv| Logger { name, world, pulled_h, supply_mv };
        let loggers = [
            logger("ready", World::ready(), Some(80), Some(2950)),
            logger("damp", damp, Some(5), Some(2411)),
            logger("cold", cold, Some(1), None),
            logger("silent", silent, Some(3000), Some(3105)),
        ];
        loggers.iter().for_each(|logger| yard.logger(logger));
        yard.job(
            "jobs/mill.toml",
            "Mill Row 7",
            &[("Hall", Some("ready")), ("Bath", Some("damp"))],
        );
        yard.job("jobs/annex.toml", "Annex", &[("Hall", Some("cold"))]);
        yard.job(
            "jobs/quay.toml",
            "Old Quay, the long house behind the boat shed",
            &[("Room under the roof", Some("silent")), ("Hall", Some("nobody")), ("Attic", None)],
        );
        yard.job("jobs/far.toml", "Far Field", &[("Hall", Some("nobody"))]);
        std::fs::write(yard.path("jobs/broken.toml"), "[site]\nname = 7\nzone = \"x\"\n").unwrap();
        std::fs::write(yard.path("jobs/notes.txt"), "no job").unwrap();
        loggers.iter().for_each(|logger| yard.pulls(logger));
        yard
    })
}

/// The output is what the file holds.
#[track_caller]
fn assert_golden(name: &str, said: &Said, code: i32) {
    assert_eq!(said.code, Some(code), "{said:?}");
    assert!(!said.out.contains('\u{1b}'), "colours in a pipe: {said:?}");
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text").join(format!("{name}.txt"));
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&path, &said.out).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(golden == said.out, "{name}.txt differs\n--- was\n{golden}\n--- is\n{}", said.out);
}

#[test]
fn the_table_at_80_and_120_columns() {
    let yard = yard();
    let args = ["sites", "jobs", "--at", AT];
    assert_golden("sites-80", &yard.run(&args, None), 2);
    assert_golden("sites-120", &yard.run(&args, Some("120")), 2);
    let short = ["sites", "jobs/mill.toml", "jobs/annex.toml", "--at", AT];
    assert_golden("sites-short-120", &yard.run(&short, Some("120")), 1);
    for columns in ["40", "60", "80", "100", "120", "200"] {
        let said = yard.run(&args, Some(columns));
        let most = columns.parse::<usize>().unwrap().min(120);
        for line in said.out.lines() {
            // Of the narrowest screens, the table of figures is wider.
            let most = most.max(72);
            assert!(line.chars().count() <= most, "{columns}: {line}");
        }
    }
}

#[test]
fn exit_codes_say_the_worst_and_errors_hide_nothing() {
    let yard = yard();
    let code = |jobs: &[&str]| yard.run(&[&["sites", "--at", AT], jobs].concat(), None).code;
    yard.job("go.toml", "Go", &[("Hall", Some("ready"))]);
    assert_eq!(code(&["go.toml"]), Some(0));
    assert_eq!(code(&["go.toml", "jobs/annex.toml"]), Some(1));
    let said = yard.run(&["sites", "--at", AT, "go.toml", "jobs/broken.toml", "gone.toml"], None);
    assert_eq!(said.code, Some(2), "{said:?}");
    for word in ["at once", "jobs/broken.toml", "gone.toml", "1 go, 0 wait, 2 errors"] {
        assert!(said.out.contains(word), "{word}: {said:?}");
    }
    assert!(said.err.contains("could not be judged"), "{said:?}");
    // A folder without jobs is no go, and no empty table.
    std::fs::create_dir(yard.path("empty")).unwrap();
    let said = yard.run(&["sites", "empty"], None);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.out.contains("no file in this folder ends in .toml"), "{said:?}");
    // Without an archive, every job says so.
    let empty = Yard::new();
    empty.job("jobs/annex.toml", "Annex", &[("Hall", Some("ready"))]);
    let said = empty.run(&["sites", "jobs"], None);
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(said.out.contains("archive.sqlite"), "{said:?}");
}

#[test]
fn what_is_wrong_with_a_room_hides_no_other() {
    let document = yard().sites(&["jobs/quay.toml"]);
    let rows = document["rows"].as_array().unwrap();
    let found: Vec<_> = rows
        .iter()
        .map(|row| (row["room"].as_str().unwrap(), row["verdict"].as_str().unwrap()))
        .collect();
    assert_eq!(found, [("Attic", "wait"), ("Hall", "error"), ("Room under the roof", "wait")]);
    assert!(rows[1]["error"].as_str().unwrap().contains("nobody"), "{document}");
    assert_eq!(rows[1]["site"], "Old Quay, the long house behind the boat shed");
}

#[test]
fn a_row_says_what_check_says() {
    let yard = yard();
    let document = yard.sites(&["jobs/mill.toml", "jobs/annex.toml"]);
    for (file, rooms) in [("jobs/mill.toml", 2), ("jobs/annex.toml", 1)] {
        let check = yard.run(&["check", file, "--at", AT, "--json"], None);
        let check: serde_json::Value = serde_json::from_str(&check.out).unwrap();
        let zones = check["zones"].as_array().unwrap();
        assert_eq!(zones.len(), rooms);
        for zone in zones {
            let rows = document["rows"].as_array().unwrap();
            let row = rows.iter().find(|r| r["job"] == file && r["room"] == zone["name"]).unwrap();
            assert_eq!(row["verdict"], zone["verdict"], "{row}");
            assert_eq!(row["earliest_go"], zone["earliest_go"], "{row}");
            assert_eq!(row["at"], AT, "{row}");
            let open = zone["requirements"].as_array().unwrap().iter();
            let open = open.filter(|r| r["outcome"] != "met");
            let mut open: Vec<_> = open.map(|r| r["id"].as_str().unwrap()).collect();
            let blocking = row["blocking"].as_array().unwrap().iter();
            let mut blocking: Vec<_> = blocking.map(|id| id.as_str().unwrap()).collect();
            open.sort_unstable();
            blocking.sort_unstable();
            assert_eq!(open, blocking);
        }
    }
}

#[test]
fn pulls_and_batteries_are_those_of_the_archive() {
    let document = yard().sites(&["jobs/mill.toml", "jobs/annex.toml", "jobs/quay.toml"]);
    let rows = document["rows"].as_array().unwrap();
    let of = |job: &str, room: &str| {
        rows.iter().find(|row| row["job"] == job && row["room"] == room).unwrap()
    };
    let now_s = jiff::Timestamp::now().as_second();
    // The pull that was broken off came later, and is no pull of the log.
    for (row, pulled_h) in [(of("jobs/mill.toml", "Hall"), 80), (of("jobs/annex.toml", "Hall"), 1)]
    {
        let pull: jiff::Timestamp = row["last_pull"].as_str().unwrap().parse().unwrap();
        let over_s = now_s - pull.as_second() - pulled_h * HOUR_S;
        assert!((PULL_MORE_S..2 * PULL_MORE_S).contains(&over_s), "{row}");
    }
    assert_eq!(of("jobs/mill.toml", "Hall")["battery_v"], 2.95);
    assert_eq!(of("jobs/mill.toml", "Bath")["battery_v"], 2.411);
    assert!(of("jobs/annex.toml", "Hall")["battery_v"].is_null());
    assert!(of("jobs/quay.toml", "Attic")["last_pull"].is_null());
    let sample = &of("jobs/quay.toml", "Room under the roof")["last_sample"];
    assert_eq!(sample, "2026-03-14T23:50:00Z");
}

#[test]
fn every_column_sorts_what_wants_a_look_first() {
    let yard = yard();
    let order = |args: &[&str]| -> Vec<String> {
        let document = yard.sites(&[args, &["jobs"]].concat());
        let rows = document["rows"].as_array().unwrap().iter();
        let word = |row: &serde_json::Value, key: &str| {
            row[key].as_str().map_or("-".to_owned(), |word| word.chars().take(4).collect())
        };
        rows.map(|row| format!("{} {}", word(row, "site"), word(row, "room"))).collect()
    };
    let by_name = [
        "Anne Hall",
        "Far  Hall",
        "Mill Bath",
        "Mill Hall",
        "Old  Atti",
        "Old  Hall",
        "Old  Room",
        "- -",
    ];
    assert_eq!(order(&[]), by_name);
    assert_eq!(order(&["--sort", "site"]), by_name);
    let mut back = by_name;
    back.reverse();
    assert_eq!(order(&["--reverse"]), back);
    let verdict = order(&["--sort", "verdict"]);
    assert_eq!(verdict[..3], ["Far  Hall", "Old  Hall", "- -"]);
    assert_eq!(verdict[7], "Mill Hall", "the go comes last: {verdict:?}");
    assert_eq!(verdict[6], "Mill Bath", "before it what time clears: {verdict:?}");
    assert_eq!(order(&["--sort", "earliest-go"])[..2], ["Mill Hall", "Mill Bath"]);
    let pulls = order(&["--sort", "last-pull"]);
    assert_eq!(pulls[4..], ["Old  Room", "Mill Hall", "Mill Bath", "Anne Hall"]);
    let battery = order(&["--sort", "battery"]);
    assert_eq!(battery[..3], ["Mill Bath", "Mill Hall", "Old  Room"]);
}

#[test]
fn a_job_named_twice_is_judged_once() {
    let document =
        yard().sites(&["jobs/annex.toml", "./jobs/annex.toml", "jobs/../jobs/annex.toml"]);
    assert_eq!(document["rows"].as_array().unwrap().len(), 1, "{document}");
}
