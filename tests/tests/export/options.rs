//! What can be asked for, and what is said about it.

use crate::site::{Flash, ROOM, START, Site, sample, table};
use glueday_tests::programs::program;
use glueday_types::{Entry, LoggerId};
use serde_json::Value;
use std::io::Read as _;
use std::process::{Command, Stdio};

#[test]
fn a_span_takes_both_ends_and_counts_what_it_leaves_out() {
    let site = Site::new();
    let out = ["-o", "@part.csv"];
    let said = site.run(
        &[
            &["export", "@job.toml", "--from", "2026-10-24 10:00", "--to", "2026-10-24T12:00Z"][..],
            &out,
        ]
        .concat(),
    );
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert!(said.err.contains("5 samples without a time are left out"), "{}", said.err);
    let rows = table(&std::fs::read(site.path("part.csv")).unwrap());
    let times: Vec<&str> = rows.iter().map(|row| row["time_utc"].as_str()).collect();
    // 10:00 in Berlin is 08:00 UTC.
    assert_eq!(times.first(), Some(&"2026-10-24T08:00:00Z"));
    assert_eq!(times.last(), Some(&"2026-10-24T12:00:00Z"));
    assert_eq!(times.len(), 25);

    // The last sample is taken at 2026-10-26T23:58:20Z.
    let rows = table(&site.export(&["@job.toml", "--last", "10 min"], "last.csv"));
    assert_eq!(rows.len(), 10);
    assert_eq!(rows[9]["time_utc"], "2026-10-26T23:58:20Z");
}

#[test]
fn the_report_says_what_was_written() {
    let site = Site::new();
    let said = site.run(&["export", "@job.toml", "-o", "@a.csv", "--events", "@b.csv", "--json"]);
    let report: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!((&report["schema"], &report["table_schema"]), (&1.into(), &1.into()));
    assert_eq!((&report["samples"]["rows"], &report["undated"]), (&303.into(), &5.into()));
    assert_eq!(report["events"]["rows"], 11);
    let columns = report["samples"]["columns"].as_array().unwrap();
    let slab = columns.iter().find(|column| column["name"] == "slab_c").unwrap();
    assert_eq!(slab["unit"], "°C");
    let notes = report["notes"].to_string();
    assert!(notes.contains("room Bath names no logger"), "{notes}");
    assert!(notes.contains("5 samples have no time"), "{notes}");

    let said = site.run(&["export", "@job.toml", "-o", "@a.csv"]);
    assert!(said.out.ends_with("a.csv: 303 samples\n"), "{}", said.out);
    assert!(said.err.contains("note: room Bath names no logger"), "{}", said.err);
}

#[test]
fn standard_output_takes_every_format() {
    let site = Site::new();
    for format in ["csv", "jsonl"] {
        let said = site.run(&["export", "@job.toml", "-o", "-", "--format", format]);
        assert_eq!(said.code, Some(0), "{}", said.err);
        let file = format!("file.{format}");
        assert_eq!(said.out.as_bytes(), site.export(&["@job.toml"], &file), "{format}");
    }
    let said = site.run(&["export", "@job.toml", "-o", "-", "--format", "parquet"]);
    assert!(said.out.starts_with("PAR1"), "{}", said.err);
}

/// As by `head`: the rest of the table, more than a pipe holds, is not wanted, and that is no error.
#[test]
fn a_reader_that_has_had_enough_is_no_error() {
    let mut flash = Flash::new(LoggerId(*b"export05"), 1);
    flash.write(&Entry::ClockSet { at_s: 0, utc_s: START });
    for i in 0..5_000 {
        flash.write(&Entry::Sample(sample((i + 1) * 600, i)));
    }
    let site = Site::with(&flash.finish());
    for format in ["csv", "jsonl", "parquet"] {
        let mut child = Command::new(program("glueday"))
            .arg("--archive")
            .arg(site.path("archive.sqlite"))
            .args(["export", "--logger", "hall logger", "-o", "-", "--format", format])
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut first = [0; 4];
        child.stdout.take().unwrap().read_exact(&mut first).unwrap();
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!((output.status.code(), said.as_str()), (Some(0), ""), "{format}");
    }
}

/// A room or logger of that name alone, in the order asked for; a room twice is a room once.
#[test]
fn rooms_and_loggers_are_chosen_by_name() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml", "--room", ROOM], "hall.csv"));
    assert!(rows.iter().all(|row| row["room"] == ROOM && row["logger_name"] == "hall logger"));
    let one = site.export(&["--logger", "hall logger"], "one.csv");
    let two = site.export(&["--logger", "hall logger", "--logger", "HALL LOGGER"], "two.csv");
    assert_eq!(one, two);
}

#[test]
fn what_cannot_be_done_is_said_with_the_way_out() {
    let site = Site::new();
    for (args, expected) in [
        (&["@job.toml", "-o", "@hall.xlsx"][..], "must end in .csv, .jsonl or .parquet"),
        (&["@job.toml", "-o", "-"], "needs --format"),
        (&["@job.toml", "-o", "-", "--format", "csv", "--json"], "--format jsonl"),
        (&["@job.toml", "-o", "@a.csv", "--format", "jsonl"], "another format"),
        (&["@job.toml", "-o", "@a.csv", "--events", "@a.csv"], "the same file"),
        (&["@job.toml", "--room", "Attic", "-o", "@a.csv"], "no room \"Attic\""),
        (&["@job.toml", "--room", "Bath", "-o", "@a.csv"], "there is no log to export"),
        (&["--logger", "attic", "-o", "@a.csv"], "attic"),
        (&["--logger", "hall logger", "--local-time", "-o", "@a.csv"], "--zone"),
        (&["--logger", "hall logger", "--from", "2026-10-24 10:00", "-o", "@a.csv"], "--zone"),
        (&["@job.toml", "--from", "2026-10-25 02:30", "-o", "@a.csv"], "comes twice on the clock"),
        (
            &[
                "@job.toml",
                "--from",
                "2026-10-25 12:00",
                "--to",
                "2026-10-24 12:00",
                "-o",
                "@a.csv",
            ],
            "end before it begins",
        ),
        (&["@job.toml", "-o", "@missing/a.csv"], "a.csv"),
        (&["-o", "@a.csv"], "required"),
    ] {
        let said = site.run(&[&["export"], args].concat());
        assert_eq!(said.code, Some(2), "{args:?}: {}{}", said.out, said.err);
        assert!(said.err.contains(expected), "{args:?}: {}", said.err);
        assert!(!site.path("a.csv").exists(), "{args:?}");
    }
    // Nothing half written stays behind.
    let files = std::fs::read_dir(site.folder.path()).unwrap();
    let names = files.map(|file| file.unwrap().file_name().into_string().unwrap());
    let left: Vec<String> = names.filter(|name| !name.starts_with("archive.sqlite")).collect();
    assert_eq!(left, ["job.toml"]);
}
