//! Rows in the order of time, through the nights when the clock is changed.

#![allow(clippy::unwrap_used, reason = "a helper of tests")]

use glueday::intake::{Intake, Mapping, Note, read};

/// Reads rows of a time and a temperature that tells them apart.
fn log(zone: &str, times: &[&str]) -> Intake {
    let rows: String =
        times.iter().zip(100..).map(|(t, i)| format!("{t},{}.{:02}\n", i / 100, i % 100)).collect();
    let mapping = Mapping { zone: Some(zone.parse().unwrap()), ..Mapping::default() };
    read(format!("time,air\n{rows}").as_bytes(), "log.csv", &mapping).unwrap()
}

/// Minutes from the first row.
fn minutes(intake: &Intake) -> Vec<i64> {
    let first = intake.rows.first().map_or(0, |r| r.utc_s);
    intake.rows.iter().map(|r| (r.utc_s - first) / 60).collect()
}

#[test]
fn the_hour_that_comes_twice_is_told_apart_by_order() {
    let times = ["02:40", "03:00", "03:20", "03:40", "03:00", "03:20", "03:40", "04:00"];
    let times = times.map(|t| format!("2021-10-31 {t}"));
    let intake = log("Europe/Helsinki", &times.each_ref().map(String::as_str));
    assert_eq!(minutes(&intake), [0, 20, 40, 60, 80, 100, 120, 140]);
    // 2021-10-31 00:00 UTC, when it is 03:00 for the first time, from date(1).
    assert_eq!(intake.rows[1].utc_s, 1_635_638_400);
    assert!(
        intake.notes.contains(&Note::HourTwice { count: 6, first_line: 3 }),
        "{:?}",
        intake.notes
    );
    // One row an hour: the same time again is the step.
    let intake = log(
        "America/New_York",
        &["2021-11-07 00:00", "2021-11-07 01:00", "2021-11-07 01:00", "2021-11-07 02:00"],
    );
    assert_eq!(minutes(&intake), [0, 60, 120, 180]);
    // Newest first.
    let back: Vec<&str> = times.iter().rev().map(String::as_str).collect();
    let intake = log("Europe/Helsinki", &back);
    assert_eq!(minutes(&intake), [0, 20, 40, 60, 80, 100, 120, 140]);
    assert!(intake.notes.contains(&Note::NewestFirst), "{:?}", intake.notes);
}

#[test]
fn the_hour_that_is_skipped_is_no_gap() {
    let intake =
        log("Europe/Helsinki", &["2021-03-28 02:40", "2021-03-28 04:00", "2021-03-28 04:20"]);
    assert_eq!(minutes(&intake), [0, 20, 40]);
}

#[test]
fn a_fixed_offset_knows_no_change() {
    let times = ["2021-10-31 02:40", "2021-10-31 03:00", "2021-10-31 03:20", "2021-10-31 04:20"];
    assert_eq!(minutes(&log("+02:00", &times)), [0, 20, 40, 100]);
}

#[test]
fn a_few_rows_out_of_order_are_put_in_order_and_told() {
    let times: Vec<String> = (0..60).map(|m| format!("2021-01-01 10:{m:02}")).collect();
    let mut times: Vec<&str> = times.iter().map(String::as_str).collect();
    times.swap(10, 11);
    times.swap(30, 33);
    let intake = log("UTC", &times);
    assert_eq!(minutes(&intake), (0..60).collect::<Vec<i64>>());
    assert_eq!(intake.rows[10].line, 13);
    let sorted = Note::Sorted { count: 4, first_line: 13, worst_s: 180 };
    assert!(intake.notes.contains(&sorted), "{:?}", intake.notes);
}

#[test]
fn repeated_rows_are_dropped_and_told() {
    let text = "time,air\n2021-01-01 10:00,21\n2021-01-01 10:10,22\n2021-01-01 10:10,22.00\n2021-01-01 10:20,22\n2021-01-01 10:20,22\n";
    let mapping = Mapping { zone: Some("UTC".parse().unwrap()), ..Mapping::default() };
    let intake = read(text.as_bytes(), "log.csv", &mapping).unwrap();
    assert_eq!(intake.rows.iter().map(|r| r.line).collect::<Vec<_>>(), [2, 3, 5]);
    assert!(
        intake.notes.contains(&Note::Duplicates { count: 2, first_line: 4 }),
        "{:?}",
        intake.notes
    );
}
