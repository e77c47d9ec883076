//! What is exported can be imported, and is the same log.

use crate::site::{START, Site, table};
use glueday::history::History;
use glueday_types::{Absent, Reading};

fn import(site: &Site, file: &str, name: &str) -> History {
    let said = site.run(&["import", &format!("@{file}"), "--name", name]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    site.history(name)
}

/// All but the reason why a reading is missing, which a file of readings has no word for.
fn assert_same(ours: &History, other: &History) {
    fn values<T: Copy>(column: &[Reading<T>]) -> Vec<Option<T>> {
        column.iter().map(|reading| reading.ok()).collect()
    }
    assert_eq!(ours.time_s, other.time_s);
    assert_eq!(values(&ours.slab), values(&other.slab));
    assert_eq!(values(&ours.air), values(&other.air));
    assert_eq!(values(&ours.air_rh), values(&other.air_rh));
    assert_eq!(values(&ours.supply), values(&other.supply));
}

/// The names of the columns are enough: no option says what they hold, their units or their zone. The
/// log goes through the night in which the clocks go back.
#[test]
fn an_exported_log_is_imported_without_being_told_anything() {
    let site = Site::new();
    for args in [
        &["--logger", "hall logger"][..],
        &["@job.toml"],
        &["@job.toml", "--local-time"],
        &["--logger", "hall logger", "--local-time", "--zone", "America/Denver"],
    ] {
        let args = [args, &["--dated-only"]].concat();
        let file = format!("log-{}.csv", args.len() * 10 + args[0].len());
        site.export(&args, &file);
        let back = import(&site, &file, &file);
        assert_same(&site.history("hall logger"), &back);
        assert!(back.slab.contains(&Err(Absent::EmptyCell)));
        assert_eq!(back.undated, []);
    }
}

/// Once through, nothing changes any more: not even the reasons.
#[test]
fn an_imported_log_comes_back_equal() {
    let site = Site::new();
    site.export(&["--logger", "hall logger", "--dated-only"], "one.csv");
    let one = import(&site, "one.csv", "one");
    site.export(&["--logger", "one"], "two.csv");
    let two = import(&site, "two.csv", "two");
    assert_eq!(one, two);
}

/// A sample without a time is no reading of any moment: the import says on which line it stands.
#[test]
fn undated_rows_are_refused_by_the_import_by_line() {
    let site = Site::new();
    site.export(&["--logger", "hall logger"], "log.csv");
    let said = site.run(&["import", "@log.csv", "--name", "all"]);
    assert_eq!(said.code, Some(2));
    assert!(said.err.contains("log.csv:2") || said.err.contains("line 2"), "{}", said.err);
}

#[test]
fn two_changes_of_the_clock_do_not_move_a_row() {
    // Spring forward on 2026-03-29 at 01:00 UTC, and back on 2026-10-25 at 01:00 UTC, in Berlin.
    for night_s in [1_774_742_400, START + 86_400] {
        let mut flash = crate::site::Flash::new(glueday_types::LoggerId(*b"export04"), 1);
        flash.write(&glueday_types::Entry::ClockSet { at_s: 0, utc_s: night_s - 7_200 });
        for i in 0..36 {
            flash.write(&glueday_types::Entry::Sample(crate::site::sample(i * 600, i)));
        }
        let site = Site::with(&flash.finish());
        let bytes = site.export(&["@job.toml", "--local-time"], "night.csv");
        let rows = table(&bytes);
        let offsets: Vec<&str> = rows.iter().map(|row| &row["time_local"][19..]).collect();
        assert_eq!(offsets.iter().filter(|offset| **offset == "+02:00").count(), 18, "{offsets:?}");
        assert_eq!(offsets.iter().filter(|offset| **offset == "+01:00").count(), 18, "{offsets:?}");
        assert_same(&site.history("hall logger"), &import(&site, "night.csv", "night"));
    }
}
