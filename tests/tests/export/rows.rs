//! What stands in the rows, and that nothing of the log is missing from them.

use crate::site::{ROOM, START, STEP_S, Site, sample, table};
use glueday::history::Channel;
use serde_json::Value;

#[test]
fn every_sample_of_the_log_is_a_row() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml"], "hall.csv"));
    let history = site.history("hall logger");
    let undated: usize = history.undated.iter().map(|undated| undated.samples).sum();
    assert_eq!((history.len(), undated), (298, 5));
    assert_eq!(rows.len(), history.len() + undated);
    let dated: Vec<_> = rows.iter().filter(|row| !row["time_utc"].is_empty()).collect();
    assert_eq!(dated.len(), history.len());
    for (i, row) in dated.iter().enumerate() {
        let time: jiff::Timestamp = row["time_utc"].parse().unwrap();
        assert_eq!(time.as_second(), history.time_s[i]);
        assert_eq!(row["interval_s"], history.interval_s[i].to_string());
        for (channel, cell, reason) in [
            (Channel::Slab, "slab_c", "slab_absent"),
            (Channel::Air, "air_c", "air_absent"),
            (Channel::AirRh, "air_rh_pct", "air_rh_absent"),
            (Channel::Supply, "supply_c", "supply_absent"),
        ] {
            match history.value(channel, i) {
                Ok(value) => {
                    // To the last digit: hundredths as the log has them.
                    let hundredths = row[cell].replace('.', "").parse::<i64>().unwrap();
                    assert_eq!(hundredths as f64, (value * 100.0).round(), "{cell} of row {i}");
                    assert_eq!(row[reason], "");
                }
                Err(_) => {
                    assert_eq!(row[cell], "");
                    assert_ne!(row[reason], "", "{cell} of row {i}");
                }
            }
        }
    }
}

#[test]
fn readings_that_are_missing_say_why() {
    let site = Site::new();
    let rows = table(&site.export(&["--logger", "hall logger"], "log.csv"));
    let of_boot_2 = |i: usize| &rows[5 + i];
    for (i, reason, expected) in [
        (21, "slab_absent", "no-answer"),
        (30, "air_absent", "bad-checksum"),
        (30, "air_rh_absent", "bad-checksum"),
        (40, "supply_absent", "bus-fault"),
        (50, "air_rh_absent", "out-of-range"),
        (51, "air_rh_absent", ""),
    ] {
        assert_eq!(of_boot_2(i)[reason], expected, "{reason} of row {i}");
    }
    // What needs the missing reading is missing too, and the rest is not.
    let no_slab = of_boot_2(21);
    assert_eq!(no_slab["dew_margin_k"], "");
    assert_ne!(no_slab["dew_point_c"], "");
    let no_rh = of_boot_2(50);
    for column in ["dew_point_c", "dew_margin_k", "emc_pct", "vapor_pressure_pa"] {
        assert_eq!(no_rh[column], "", "{column}");
    }
}

#[test]
fn undated_samples_have_boot_and_uptime_but_no_time() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml", "--local-time"], "hall.csv"));
    for (i, row) in (0..5).zip(&rows) {
        assert_eq!((row["time_utc"].as_str(), row["time_local"].as_str()), ("", ""));
        assert_eq!(row["time_uncertainty_s"], "");
        assert_eq!(row["boot"], "1");
        assert_eq!(row["uptime_s"], ((i + 1) * STEP_S).to_string());
        let celsius = sample(0, i).slab.unwrap().celsius();
        assert_eq!(row["slab_c"], format!("{celsius:.2}"));
        // Nobody can say which check of the probe holds.
        assert_eq!((row["slab_corrected_c"].as_str(), row["dew_point_c"].as_str()), ("", ""));
    }
    assert_eq!(rows[5]["boot"], "2");
}

/// The check of 25 October found 0.3 °C too much; it holds from midnight in Berlin, 22:00 UTC.
#[test]
fn corrections_hold_from_the_day_of_the_check() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml", "--dated-only"], "hall.csv"));
    let (mut before, mut after) = (0, 0);
    for row in rows.iter().filter(|row| !row["slab_c"].is_empty()) {
        let celsius = |name: &str| row[name].parse::<f64>().unwrap();
        let off = celsius("slab_c") - celsius("slab_corrected_c");
        assert_eq!(row["air_c"], row["air_corrected_c"]);
        let checked = row["time_utc"].as_str() >= "2026-10-24T22:00:00Z";
        let expected = if checked { 0.3 } else { 0.0 };
        assert!((off - expected).abs() < 0.001, "{off} at {}", row["time_utc"]);
        if checked {
            after += 1;
        } else {
            before += 1;
        }
        if row["dew_margin_k"].is_empty() {
            continue;
        }
        let margin = celsius("slab_corrected_c") - celsius("dew_point_c");
        assert!((margin - celsius("dew_margin_k")).abs() < 0.011, "{margin}");
    }
    assert_eq!((before, after), (128, 167));
}

/// On the night of 25 October 2026 the clocks of Berlin go from +02:00 to +01:00 at 01:00 UTC.
#[test]
fn local_times_carry_their_offset_through_the_night_of_the_change() {
    let site = Site::new();
    let rows = table(&site.export(&["@job.toml", "--local-time", "--dated-only"], "hall.csv"));
    let local =
        |utc: &str| rows.iter().find(|row| row["time_utc"] == utc).unwrap()["time_local"].clone();
    assert_eq!(local("2026-10-25T00:50:00Z"), "2026-10-25T02:50:00+02:00");
    assert_eq!(local("2026-10-25T01:00:00Z"), "2026-10-25T02:00:00+01:00");
}

/// 50 ppm of the distance to the next clock sync, and the second that a sync is rounded to.
#[test]
fn the_uncertainty_of_time_grows_from_the_clock_sync() {
    let site = Site::new();
    let rows = table(&site.export(&["--logger", "hall logger", "--dated-only"], "log.csv"));
    assert_eq!(rows[0]["time_uncertainty_s"], "1.0");
    // 287 steps of 600 s further: 172,770 s from the sync, 8.6 s.
    assert_eq!(rows[287]["uptime_s"], "172800");
    assert_eq!(rows[287]["time_uncertainty_s"], "9.6");
}

#[test]
fn events_and_damage_are_a_second_table() {
    let mut blocks = crate::site::log(glueday_types::LoggerId(*b"export01"));
    // One bit of an entry is changed.
    blocks[0][1_000] ^= 0x10;
    let site = Site::with(&blocks);
    let said = site.run(&["export", "@job.toml", "-o", "@hall.csv", "--events", "@events.jsonl"]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    assert!(said.err.contains("cannot be read; they are among the events"), "{}", said.err);
    let text = std::fs::read_to_string(site.path("events.jsonl")).unwrap();
    let events: Vec<Value> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let words: Vec<&str> = events.iter().map(|event| event["event"].as_str().unwrap()).collect();
    assert!(words.contains(&"bytes-damaged"), "{words:?}");
    let damaged = events.iter().find(|event| event["event"] == "bytes-damaged").unwrap();
    assert_eq!((&damaged["block"], &damaged["time_utc"]), (&Value::from(0), &Value::Null));
}

#[test]
fn each_event_has_its_figures() {
    let site = Site::new();
    let said = site.run(&["export", "@job.toml", "-o", "@hall.csv", "--events", "@events.csv"]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    let rows = table(&std::fs::read(site.path("events.csv")).unwrap());
    let expected = [
        ("boot", "reason", "power-on", "1"),
        ("mark", "mark", "delivered", "1"),
        ("boot", "reason", "watchdog", "2"),
        ("clock-set", "set_to_utc", "2026-10-24T00:00:30Z", "2"),
        ("probe-failed", "reason", "no-answer", "2"),
        ("probe-restored", "probe", "slab", "2"),
        ("mark", "mark", "barrier-rolled", "2"),
        ("power-low", "power_mv", "3300", "2"),
        ("interval-changed", "new_interval_s", "60", "2"),
        ("boot", "firmware", "1.2.3", "3"),
        ("clock-set", "set_to_utc", "2026-10-27T00:00:00Z", "3"),
    ];
    let seen: Vec<_> =
        rows.iter().map(|row| (row["event"].as_str(), row["boot"].as_str())).collect();
    assert_eq!(seen, expected.map(|(event, _, _, boot)| (event, boot)));
    for (row, (_, column, value, _)) in rows.iter().zip(expected) {
        assert_eq!(row[column], value, "{row:?}");
        assert_eq!(row["room"], ROOM);
    }
    assert_eq!(START, "2026-10-24T00:00:00Z".parse::<jiff::Timestamp>().unwrap().as_second());
}
