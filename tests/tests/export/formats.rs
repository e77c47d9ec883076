//! The three formats, by readers that are not ours.

use crate::python;
use crate::site::{Flash, ROOM, START, Site, sample, table};
use glueday_types::{Entry, LoggerId};
use serde_json::Value;

/// RFC 4180: CRLF behind every line, a header, quotes where they have to be, doubled inside.
#[test]
fn csv_keeps_to_rfc_4180() {
    let site = Site::new();
    let bytes = site.export(&["@job.toml"], "hall.csv");
    let text = String::from_utf8(bytes).expect("UTF-8");
    assert!(text.starts_with("time_utc,time_uncertainty_s,logger,"), "no byte order mark");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert_eq!(text.matches('\r').count(), text.matches("\r\n").count());
    assert!(text.ends_with("\r\n"));
    assert_eq!(text.matches("\r\n").count(), 303 + 1);
    // Section 2, rules 6 and 7.
    assert!(text.contains(",\"Hall, \"\"north\"\" – größte\","), "{}", &text[..600]);
    assert!(text.lines().skip(1).all(|line| line.matches('"').count() == 6));
}

#[test]
fn csv_and_parquet_read_the_same_by_other_programs() {
    let site = Site::new();
    let csv = site.export(&["@job.toml", "--local-time"], "hall.csv");
    site.export(&["@job.toml", "--local-time"], "hall.parquet");
    let paths = [site.path("hall.csv"), site.path("hall.parquet")];
    let Some(read) = python::run("read_tables.py", &[&paths[0], &paths[1]]) else { return };
    assert_eq!(read["different"], Value::Array(Vec::new()), "{}", read["different"]);
    assert_eq!((&read["csv_count"], &read["parquet_count"]), (&303.into(), &303.into()));

    // Python's reader and the one of the `csv` crate see the same cells.
    let header: Vec<String> = serde_json::from_value(read["header"].clone()).unwrap();
    let rows: Vec<Vec<String>> = serde_json::from_value(read["csv_rows"].clone()).unwrap();
    for (row, expected) in rows.iter().zip(table(&csv)) {
        for (name, cell) in header.iter().zip(row) {
            assert_eq!(*cell, expected[name], "{name}");
        }
    }
    assert_eq!(rows[0][header.iter().position(|name| name == "room").unwrap()], ROOM);

    // Types, and units in the names and beside them.
    let columns: Vec<(String, String)> = serde_json::from_value(read["columns"].clone()).unwrap();
    assert_eq!(
        columns.iter().map(|(name, _)| name).collect::<Vec<_>>(),
        header.iter().collect::<Vec<_>>()
    );
    let units: serde_json::Map<String, Value> =
        serde_json::from_str(read["metadata"]["glueday.units"].as_str().unwrap()).unwrap();
    for (name, kind) in &columns {
        let (expected, unit) = match name.rsplit('_').next().unwrap() {
            "c" => ("DOUBLE", Some("°C")),
            "k" => ("DOUBLE", Some("K")),
            "pct" => ("DOUBLE", Some("%")),
            "pa" => ("DOUBLE", Some("Pa")),
            "utc" => ("TIMESTAMP WITH TIME ZONE", Some("RFC 3339, UTC")),
            "local" => ("VARCHAR", Some("RFC 3339")),
            "s" if name == "time_uncertainty_s" => ("DOUBLE", Some("s")),
            "s" => ("BIGINT", Some("s")),
            "boot" => ("BIGINT", None),
            _ => ("VARCHAR", None),
        };
        assert_eq!(kind, expected, "{name}");
        assert_eq!(units.get(name).and_then(Value::as_str), unit, "{name}");
    }
    let metadata = &read["metadata"];
    assert_eq!(metadata["glueday.schema"], "1");
    assert_eq!(metadata["glueday.program"], format!("glueday {}", env!("CARGO_PKG_VERSION")));
    assert_eq!(metadata["glueday.site"], "Test house");
    let logs: Value = serde_json::from_str(metadata["glueday.loggers"].as_str().unwrap()).unwrap();
    assert_eq!(logs[0]["logger"], LoggerId(*b"export01").to_string());
    assert_eq!((&logs[0]["name"], &logs[0]["room"]), (&"hall logger".into(), &ROOM.into()));
}

/// More rows than a row group holds, and than are corrected at a time.
#[test]
fn large_logs_are_whole_in_every_format() {
    const ROWS: u32 = 70_000;
    let mut flash = Flash::new(LoggerId(*b"export02"), 1);
    flash.write(&Entry::ClockSet { at_s: 0, utc_s: START });
    for i in 0..ROWS {
        flash.write(&Entry::Sample(sample((i + 1) * 600, i)));
    }
    let site = Site::with(&flash.finish());
    let csv = site.export(&["@job.toml"], "hall.csv");
    assert_eq!(csv.iter().filter(|byte| **byte == b'\n').count(), ROWS as usize + 1);
    let lines = site.export(&["@job.toml"], "hall.jsonl");
    assert_eq!(lines.iter().filter(|byte| **byte == b'\n').count(), ROWS as usize);
    site.export(&["@job.toml"], "hall.parquet");
    let paths = [site.path("hall.csv"), site.path("hall.parquet")];
    let Some(read) = python::run("read_tables.py", &[&paths[0], &paths[1]]) else { return };
    assert_eq!(read["different"], Value::Array(Vec::new()), "{}", read["different"]);
    assert_eq!(read["parquet_count"], ROWS);
    assert_eq!(read["row_groups"], 2);
}

#[test]
fn json_lines_hold_what_the_csv_holds() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml", "--local-time"], "hall.csv"));
    let text = site.export(&["@job.toml", "--local-time"], "hall.jsonl");
    let text = String::from_utf8(text).unwrap();
    assert!(text.ends_with("}\n") && !text.contains('\r'));
    let objects: Vec<serde_json::Map<String, Value>> =
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(objects.len(), rows.len());
    for (object, row) in objects.iter().zip(&rows) {
        assert_eq!(object.len(), row.len());
        for (name, value) in object {
            let cell = &row[name];
            match value {
                Value::Null => assert_eq!(cell, "", "{name}"),
                Value::String(text) => assert_eq!(cell, text, "{name}"),
                Value::Number(number) => {
                    assert_eq!(cell.parse::<f64>().unwrap(), number.as_f64().unwrap(), "{name}");
                }
                other => panic!("{name}: {other}"),
            }
        }
    }
}

#[test]
fn the_same_log_gives_the_same_bytes() {
    let site = Site::new();
    for ending in ["csv", "jsonl", "parquet"] {
        let file = |name: &str| {
            let events = format!("@{name}-events.{ending}");
            site.export(&["@job.toml", "--events", &events], &format!("{name}.{ending}"))
        };
        assert_eq!(file("one"), file("two"), "{ending}");
        let events = |name| std::fs::read(site.path(&format!("{name}-events.{ending}"))).unwrap();
        assert_eq!(events("one"), events("two"), "events as {ending}");
    }
}
