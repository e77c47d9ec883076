//! `--version` against what the program really writes.

use glueday::record::pdf_files::extract;
use glueday_tests::programs::glueday;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// The newest version of each format, as `--version` tells it.
fn told() -> BTreeMap<String, u64> {
    let said = glueday(Path::new("none.db"), &["--version"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    let mut lines = said.out.lines();
    let program = lines.next().unwrap();
    assert_eq!(program, format!("glueday {}", env!("CARGO_PKG_VERSION")));
    let read = |line: &str| {
        let mut words = line.split_whitespace();
        let name = words.next().unwrap().to_owned();
        let first: u64 = words.next().unwrap().parse().unwrap();
        let newest = match (words.next(), words.next()) {
            (Some("to"), Some(newest)) => newest.parse().unwrap(),
            _ => first,
        };
        (name, newest)
    };
    lines.map(read).collect()
}

#[test]
fn the_versions_told_are_those_of_what_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let archive = folder.path().join("a.db");
    let (csv, job, record, table) = (path("a.csv"), path("a.toml"), path("a.pdf"), path("b.csv"));
    std::fs::write(&csv, "time,T,RH\n2026-03-01T08:00Z,20.1,41\n2026-03-01T08:10Z,20.2,41\n")
        .unwrap();
    let run = |args: &[&str]| {
        let said = glueday(&archive, args);
        assert!(said.code.is_some_and(|code| code < 2), "{said:?}");
        serde_json::from_str::<Value>(&said.out).unwrap_or_default()
    };
    run(&["import", &csv, "--name", "hall", "--column", "air=T", "--column", "rh=RH"]);
    let zone = "America/Denver";
    run(&["job", "new", &job, "--site", "Lot 7", "--zone", zone, "--logger", "hall"]);
    let mut found: BTreeMap<String, u64> = BTreeMap::new();
    let mut note = |name: &str, version: &Value| {
        found.insert(name.to_owned(), version.as_u64().unwrap());
    };
    note("report", &run(&["--json", "check", &job])["schema"]);
    note("job", &run(&["--json", "job", "check", &job])["schema"]);
    note("export", &run(&["--json", "export", &job, "-o", &table])["table_schema"]);
    run(&["record", &job, "--at", "last", "--output", &record]);
    let files = extract(&std::fs::read(&record).unwrap()).unwrap();
    let manifest: Value = serde_json::from_slice(&files["record.json"]).unwrap();
    note("record", &manifest["schema"]);

    // https://www.sqlite.org/fileformat.html, 1.3: `user_version` are four bytes at offset 60.
    let bytes = std::fs::read(&archive).unwrap();
    let version = u32::from_be_bytes(bytes[60..64].try_into().unwrap());
    note("archive", &version.into());
    // Blocks begin with "GlDy" and the version of their format, and say so in the specification.
    let log = files.iter().find(|(name, _)| name.starts_with("log-")).unwrap().1;
    assert_eq!(&log[..4], b"GlDy");
    note("log", &log[4].into());
    let spec = include_str!("../../../shared-types/SPEC.md");
    let (_, wire) = spec.split_once("and wire version ").unwrap();
    note("wire", &wire[..1].parse::<u64>().unwrap().into());
    assert_eq!(told(), found);
}

#[test]
fn the_short_form_is_one_line() {
    let said = glueday(Path::new("none.db"), &["-V"]);
    assert_eq!(said.out, format!("glueday {}\n", env!("CARGO_PKG_VERSION")));
}
