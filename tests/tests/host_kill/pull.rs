//! `pull`, killed.

use crate::campaign::cases;
use crate::desk::{Relay, Served, desk};
use crate::held::{Held, bytes_in, copy, lengths, remove};
use crate::run::{When, assert_done, assert_error, below, kill, share, start};
use glueday_tests::flash::Random;
use glueday_tests::programs::glueday;
use glueday_types::LoggerId;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const LOGGER: LoggerId = LoggerId(*b"killPull");
/// Kills while the archive was being written.
const KILLS_MIN: u32 = 150;
/// Of them those that found a part of the log in the archive.
const PARTS_MIN: u32 = 40;
/// Kills of each kind while the archive was written.
const KIND_MIN: u32 = 15;
const CASES_MAX: u64 = 500;

/// An archive to begin with, and what an undisturbed pull makes of it.
struct Beginning {
    archive: Option<PathBuf>,
    before: Held,
    after: Held,
    took: Duration,
    /// What the logger sends.
    line_bytes: usize,
    /// By how much the archive and its log grow.
    grows: u64,
}

/// A logger, its flash, a job that asks about it.
struct Site {
    folder: tempfile::TempDir,
    served: Served,
    flash: Vec<u8>,
    job: String,
}

impl Site {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn begin(&self, archive: Option<PathBuf>) -> Beginning {
        let path = self.path("undisturbed.db");
        remove(&path);
        if let Some(archive) = &archive {
            copy(archive, &path);
        }
        let before = Held::read(&path).unwrap_or_default();
        let began = bytes_in(&path);
        let relay = Relay::cut_after(&self.served.tcp, usize::MAX);
        let began_at = Instant::now();
        let mut child = start(&path, &["pull", "--port", &relay.port]);
        let mut most = began;
        while child.try_wait().unwrap().is_none() {
            most = most.max(bytes_in(&path));
            std::thread::sleep(Duration::from_micros(200));
        }
        let took = began_at.elapsed();
        assert!(child.wait().unwrap().success());
        let after = Held::read(&path).unwrap();
        after.assert_on_flash(LOGGER, &self.flash);
        let written = self.flash.chunks(4096).filter(|slot| slot.iter().any(|b| *b != 0xFF));
        assert_eq!(after.blocks.len(), written.count());
        Beginning { archive, before, after, took, line_bytes: relay.end(), grows: most - began }
    }
}

fn site() -> (Site, Vec<Beginning>) {
    let folder = tempfile::tempdir().unwrap();
    let image = folder.path().join("logger.flash");
    let named = folder.path().join("named.db");
    let part = folder.path().join("part.db");
    // Half of the log is pulled already, and so the block that is open then is begun.
    let served = Served::start(desk(&image, LOGGER, 8));
    let adopt = ["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"];
    assert_done(&glueday(&named, &adopt));
    copy(&named, &part);
    assert_done(&glueday(&part, &["pull", "--port", &served.tcp]));
    let mut desk = served.end();
    desk.advance_to(21 * crate::desk::DAY_S).unwrap();
    let served = Served::start(desk);
    let flash = std::fs::read(&image).unwrap();
    let job = folder.path().join("job.toml");
    let text = format!(
        "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n[[room]]\nname = \"Hall\"\n\
         logger = \"{LOGGER}\"\n"
    );
    std::fs::write(&job, text).unwrap();
    let job = job.to_str().unwrap().to_owned();
    let site = Site { folder, served, flash, job };
    let beginnings = [None, Some(named), Some(part)].map(|archive| site.begin(archive));
    (site, beginnings.into())
}

/// Starts a pull and kills it somewhere. Returns whether it was killed.
fn disturb(site: &Site, archive: &Path, from: &Beginning, kind: u64, random: &mut Random) -> bool {
    let time = share(random, from.took.mul_f64(1.1));
    let pull = |port: &str| start(archive, &["pull", "--port", port]);
    match kind {
        0 => {
            let bytes = 1 + below(random, from.line_bytes as u64) as usize;
            let later = share(random, Duration::from_millis(3));
            let relay = Relay::cut_after(&site.served.tcp, bytes);
            let killed = kill(pull(&relay.port), When::Line(&relay.cut, later));
            relay.end();
            killed
        }
        1 => kill(pull(&site.served.tcp), When::Time(time)),
        _ => {
            let began = bytes_in(archive);
            let wanted = began + 1 + below(random, from.grows);
            let port = if kind == 2 { &site.served.tcp } else { &site.served.pty };
            kill(pull(port), When::Seen(&mut || bytes_in(archive) >= wanted))
        }
    }
}

/// What there is after a kill, and that a reader can work with it.
fn look(site: &Site, archive: &Path, from: &Beginning) -> Held {
    let found = Held::read(archive);
    assert!(found.is_some() || from.archive.is_none(), "the archive is gone");
    let found = found.unwrap_or_default();
    found.assert_on_flash(LOGGER, &site.flash);
    found.assert_has(&from.before);
    let said = glueday(archive, &["check", &site.job, "--at", "last"]);
    if found.blocks.is_empty() {
        assert_error(&said, &[]);
        let words = ["there is no archive", "there is nothing in", "no logger", "no room asked"];
        assert!(words.iter().any(|word| said.err.contains(word)), "{said:?}");
    } else {
        assert_eq!(said.code, Some(1), "{said:?}");
    }
    found
}

#[test]
fn pull_killed_anywhere_loses_nothing_and_ends_the_same() {
    let (site, beginnings) = site();
    let archive = site.path("killed.db");
    let (mut kills, mut in_work, mut parts, mut through, mut cut_making) = (0, 0, 0, 0, 0);
    let mut by_kind = [0; 4];
    let all = cases("pull_killed", CASES_MAX, |number| {
        let mut random = Random(number.wrapping_mul(0x5851_F42D_4C95_7F2D));
        let from = &beginnings[number as usize % beginnings.len()];
        let kind = number / 3 % 4;
        remove(&archive);
        if let Some(beginning) = &from.archive {
            copy(beginning, &archive);
        }
        // The second kill of one archive can fall into what repairs the first.
        for _ in 0..if number % 5 == 0 { 2 } else { 1 } {
            let began = lengths(&archive);
            let killed = disturb(&site, &archive, from, kind, &mut random);
            let at_kill = lengths(&archive);
            let found = look(&site, &archive, from);
            if killed {
                kills += 1;
                let busy = at_kill != began;
                in_work += u32::from(busy);
                by_kind[kind as usize] += u32::from(busy);
                parts += u32::from(
                    found.blocks != from.before.blocks && found.blocks != from.after.blocks,
                );
                cut_making += u32::from(at_kill[2].is_some());
            } else {
                through += 1;
            }
        }
        assert_done(&glueday(&archive, &["pull", "--port", &site.served.tcp]));
        let ended = Held::read(&archive).unwrap();
        assert!(ended.content() == from.after.content(), "another end than undisturbed");
        assert!(ended.pulls.iter().all(|result| result == "complete"), "{:?}", ended.pulls);
        assert_eq!(lengths(&archive)[1..], [None, None], "something is left beside the archive");
        // On a busy machine fewer of the times fall into the writing: then there are more cases.
        in_work >= KILLS_MIN && parts >= PARTS_MIN && by_kind.iter().all(|count| *count >= KIND_MIN)
    });
    println!(
        "{kills} kills of pull, {in_work} while the archive was written (after bytes from the logger, \
         at times, at lengths of files, the same over a pty: {by_kind:?}), {parts} with a part of the \
         log in it, {cut_making} while it was being made; {through} pulls ended before"
    );
    if all {
        assert!(in_work >= KILLS_MIN && parts >= PARTS_MIN, "too few to mean much");
        assert!(by_kind.iter().all(|count| *count >= KIND_MIN), "{by_kind:?}");
    }
}
