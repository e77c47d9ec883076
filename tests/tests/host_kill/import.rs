//! `import`, killed: one transaction, so that there is all of it or nothing.

use crate::campaign::cases;
use crate::held::{Held, bytes_in, copy, lengths, remove};
use crate::run::{When, assert_done, assert_error, below, kill, share, start};
use glueday_tests::flash::Random;
use glueday_tests::programs::glueday;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const KILLS_MIN: u32 = 150;
const CASES_MAX: u64 = 500;

/// Air and slab every ten minutes for four weeks.
pub(crate) fn write_csv(path: &Path) {
    let mut text = "time,slab C,air C,air %RH\n".to_owned();
    for i in 0..4032_u32 {
        let (day, hour, minute) = (1 + i / 144, i / 6 % 24, i % 6 * 10);
        let wave = f64::from(i % 144) / 40.0;
        let (slab, air, rh) = (19.0 + wave, 21.0 - wave / 2.0, 42.0 + f64::from(i % 31) / 10.0);
        writeln!(text, "2026-02-{day:02} {hour:02}:{minute:02},{slab:.2},{air:.2},{rh:.1}")
            .unwrap();
    }
    std::fs::write(path, text).unwrap();
}

pub(crate) const COLUMNS: [&str; 8] =
    ["--zone", "America/Denver", "--column", "slab=2", "--column", "air=3", "--column", "rh=4"];

struct Beginning {
    archive: Option<PathBuf>,
    before: Held,
    after: Held,
    took: Duration,
    grows: u64,
}

fn begin(folder: &Path, import: &[&str], archive: Option<PathBuf>) -> Beginning {
    let path = folder.join("undisturbed.db");
    remove(&path);
    if let Some(archive) = &archive {
        copy(archive, &path);
    }
    let before = Held::read(&path).unwrap_or_default();
    let began = bytes_in(&path);
    let began_at = Instant::now();
    let mut child = start(&path, import);
    let mut most = began;
    while child.try_wait().unwrap().is_none() {
        most = most.max(bytes_in(&path));
        std::thread::sleep(Duration::from_micros(100));
    }
    let took = began_at.elapsed();
    assert!(child.wait().unwrap().success());
    let after = Held::read(&path).unwrap();
    Beginning { archive, before, after, took, grows: most - began }
}

#[test]
fn import_killed_anywhere_stores_all_or_nothing_and_ends_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let csv = path("hall.csv");
    write_csv(&csv);
    let csv = csv.to_str().unwrap();
    let import = [&["import", csv, "--name", "hall"], &COLUMNS[..]].concat();
    let job = path("job.toml");
    let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n[[room]]\n\
                name = \"Hall\"\nlogger = \"hall\"\n";
    std::fs::write(&job, text).unwrap();
    let job = job.to_str().unwrap();
    // The same file read at another time zone is there already.
    let other = path("other.db");
    let mut at_utc = [&["import", csv, "--name", "bath"], &COLUMNS[..]].concat();
    at_utc[5] = "UTC";
    assert_done(&glueday(&other, &at_utc));
    let beginnings = [None, Some(other)].map(|archive| begin(folder.path(), &import, archive));
    assert_eq!(beginnings[0].after.imports.len(), 1);
    assert_eq!(beginnings[1].after.imports.len(), 2);
    assert!(beginnings[0].after.blocks.len() > 4);

    let archive = path("killed.db");
    let (mut kills, mut in_work, mut stored, mut through, mut cut_making) = (0, 0, 0, 0, 0);
    let all = cases("import_killed", CASES_MAX, |number| {
        let mut random = Random(number.wrapping_mul(0x9E6C_63D0_876A_9A63));
        let from = &beginnings[number as usize % 2];
        remove(&archive);
        if let Some(beginning) = &from.archive {
            copy(beginning, &archive);
        }
        let began = lengths(&archive);
        let child = start(&archive, &import);
        // Mostly by length: it reads for longer than it writes.
        let killed = if number / 2 % 4 == 0 {
            let time = from.took.mul_f64(0.5) + share(&mut random, from.took.mul_f64(0.6));
            kill(child, When::Time(time))
        } else {
            let wanted = bytes_in(&archive) + below(&mut random, from.grows);
            let mut seen = || bytes_in(&archive) > wanted || lengths(&archive)[2] > began[2];
            // Half of those in the making of the archive go on to what comes after it.
            if number % 3 == 0 {
                kill(child, When::Seen(&mut seen))
            } else {
                kill(child, When::Seen(&mut || bytes_in(&archive) > wanted))
            }
        };
        let at_kill = lengths(&archive);
        let found = Held::read(&archive);
        assert!(found.is_some() || from.archive.is_none(), "the archive is gone");
        let found = found.unwrap_or_default();
        let whole = found.content() == from.after.content();
        assert!(whole || found.content() == from.before.content(), "neither all nor nothing");
        let said = glueday(&archive, &["check", job, "--at", "last"]);
        if whole {
            assert_eq!(said.code, Some(1), "{said:?}");
        } else {
            assert_error(&said, &[]);
            let words = ["there is no archive", "there is nothing in", "no logger"];
            assert!(words.iter().any(|word| said.err.contains(word)), "{said:?}");
        }
        if killed {
            kills += 1;
            in_work += u32::from(at_kill != began);
            stored += u32::from(whole);
            cut_making += u32::from(at_kill[2].is_some());
        } else {
            through += 1;
        }
        assert_done(&glueday(&archive, &import));
        assert!(Held::read(&archive).unwrap() == from.after, "another end than undisturbed");
        assert_eq!(lengths(&archive)[1..], [None, None], "something is left beside the archive");
        in_work >= KILLS_MIN && stored >= 10 && in_work - stored >= 40
    });
    println!(
        "{kills} kills of import, {in_work} while the archive was written, {stored} of them with all \
         of it stored, {cut_making} while the archive was being made; {through} imports ended before"
    );
    if all {
        assert!(in_work >= KILLS_MIN && stored >= 10 && in_work - stored >= 40, "too few");
    }
}
