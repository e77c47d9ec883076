//! `probe-check`, killed while it notes a check in the job file.

use crate::campaign::cases;
use crate::desk::Served;
use crate::run::{When, command, kill, start};
use glueday_desk::{Channel, Desk, Keyframe, Script, Settings};
use glueday_tests::programs::program;
use glueday_types::LoggerId;
use std::path::Path;

const LOGGER: LoggerId = LoggerId(*b"killProb");
/// Checks at once: each waits for its probe to come to rest.
const AT_ONCE: usize = 6;
const ROUNDS: u64 = 2;
const HEAD: &str = "# Lot 7, heated slab\n[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n\n\
                    [[room]]\nname = 'Hall' # north side\nlogger = \"6b696c6c50726f62\"\n\n\
                    [[probe]]\nroom = \"Hall\"\nchannel = \"slab\"\n";
const TAIL: &str = "\n# The adhesive, by its sheet.\n[adhesive]\ntraffic = \"24 h\"\n# the end";

fn hidden(folder: &Path) -> bool {
    let names = std::fs::read_dir(folder).unwrap();
    names
        .map(|entry| entry.unwrap().file_name())
        .any(|name| name.to_string_lossy().ends_with(".part"))
}

/// Kills one check while it writes the file, or right after that. Returns whether it was killed, and
/// whether the check stands in the file.
fn one(folder: &Path, port: &str, after: bool) -> (bool, bool) {
    let job = folder.join("hall.toml");
    let old = format!("{HEAD}{TAIL}");
    std::fs::write(&job, &old).unwrap();
    let args = ["probe-check", job.to_str().unwrap(), "--port", port, "--channel", "slab", "--ice"];
    let args = [&args[..], &["--watch", "5 min"]].concat();
    let archive = folder.join("none.db");
    // A hidden file comes twice: first when it tries whether it could write.
    let (mut was_there, mut came) = (false, 0);
    let mut seen = || {
        let there = hidden(folder);
        came += u32::from(there && !was_there);
        was_there = there;
        let written = std::fs::read_to_string(&job).is_ok_and(|text| text != old);
        written || (came == 2 && !after)
    };
    let killed = kill(start(&archive, &args), When::Seen(&mut seen));
    let text = std::fs::read_to_string(&job).unwrap();
    if text != old {
        // Whole: what was there, and one check in it that the program itself reads.
        let checks = text.matches("[[probe.check]]").count();
        assert!(checks == 1 && text.starts_with(HEAD.trim_end()) && text.ends_with(TAIL), "{text}");
    }
    let read = command(&archive, &["job", "check", job.to_str().unwrap()]).output().unwrap();
    assert_eq!(read.status.code(), Some(0), "{read:?}");
    (killed, text != old)
}

#[test]
fn probe_check_killed_leaves_the_job_file_old_or_new() {
    let _ = program("glueday");
    let folder = tempfile::tempdir().unwrap();
    let script = Script {
        keyframes: vec![Keyframe {
            at_s: 0,
            slab_c: 0.2,
            air_c: 20.0,
            air_rh_pct: 50.0,
            supply_c: 30.0,
        }],
        slab: Channel { swing: 0.0, noise_sd: 0.01 },
        ..Script::default()
    };
    let settings = Settings { interval_s: 60, scale: 160.0, ..Settings::default() };
    let image = folder.path().join("logger.flash");
    let mut desk = Desk::create_or_open(image, 16, LOGGER, Box::new(script), &settings).unwrap();
    desk.advance_to(60).unwrap();
    let served = Served::start_on(desk, AT_ONCE);
    let (mut kills, mut new, mut old) = (0, 0, 0);
    let all = cases("probe_check_killed", ROUNDS, |round| {
        let results: Vec<(bool, bool)> = std::thread::scope(|scope| {
            let mut running = Vec::new();
            for (i, port) in served.all_tcp.iter().enumerate() {
                let own = folder.path().join(format!("{round}-{i}"));
                std::fs::create_dir(&own).unwrap();
                running.push(scope.spawn(move || one(&own, port, i >= 4)));
            }
            running.into_iter().map(|thread| thread.join().unwrap()).collect()
        });
        for (killed, is_new) in results {
            kills += u32::from(killed);
            new += u32::from(killed && is_new);
            old += u32::from(killed && !is_new);
        }
        false
    });
    println!(
        "{kills} kills of probe-check as it wrote: {old} left the old job file, {new} the new"
    );
    if all {
        assert!(kills >= 6 && old >= 2, "too few");
    }
}
