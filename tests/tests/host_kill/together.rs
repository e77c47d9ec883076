//! Several at once on one archive: the end is that of one after the other.

use crate::campaign::cases;
use crate::desk::{Served, desk, desk_with};
use crate::held::{Held, lengths, remove};
use crate::run::{assert_done, command, start};
use glueday_desk::Pace;
use glueday_tests::programs::{Said, glueday};
use glueday_types::LoggerId;
use std::path::Path;
use std::process::Stdio;

const ONE: LoggerId = LoggerId(*b"togethr1");
const TWO: LoggerId = LoggerId(*b"togethr2");
const ROUNDS: u64 = 8;

/// Starts a pull through each port at the same moment and returns what each said.
fn pull_at_once(archive: &Path, ports: &[&str]) -> Vec<Said> {
    let start = |port: &&str| {
        let mut command = command(archive, &["pull", "--port", port]);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let running: Vec<_> = ports.iter().map(start).collect();
    running.into_iter().map(|child| Said::from(child.wait_with_output().unwrap())).collect()
}

/// Done, or told that somebody else has the archive.
fn done_or_busy(said: &Said) -> bool {
    match said.code {
        Some(0) => true,
        _ => {
            crate::run::assert_error(said, &["in use by another process", "try again"]);
            false
        }
    }
}

#[test]
fn two_pulls_at_once_end_as_one_after_the_other() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let one = Served::start(desk(&path("one.flash"), ONE, 21));
    let two = Served::start(desk(&path("two.flash"), TWO, 21));
    // The same logger at the end of another line: a copy of its flash, with nothing written since.
    let three = Served::start_on(one.end(), 2);
    let (a, b) = (three.all_tcp[0].as_str(), three.all_tcp[1].as_str());
    let sequential = path("sequential.db");
    let archive = path("a.db");
    let (mut done, mut busy) = (0, 0);
    cases("two_pulls", 2 * ROUNDS, |number| {
        let ports = if number % 2 == 0 { [a, two.tcp.as_str()] } else { [a, b] };
        for path in [&archive, &sequential] {
            remove(path);
        }
        for port in ports {
            assert_done(&glueday(&sequential, &["pull", "--port", port]));
        }
        // On every other round the archive is there already.
        if number / 2 % 2 == 0 {
            let adopt = ["adopt", "--port", a, "--name", "hall", "--keep-clock"];
            assert_done(&glueday(&archive, &adopt));
            assert_done(&glueday(&sequential, &adopt));
        }
        for said in pull_at_once(&archive, &ports) {
            if done_or_busy(&said) { done += 1 } else { busy += 1 }
        }
        let held = Held::read(&archive).unwrap();
        held.assert_on_flash(ONE, &std::fs::read(path("one.flash")).unwrap());
        for port in ports {
            assert_done(&glueday(&archive, &["pull", "--port", port]));
        }
        let (held, sequential) = (Held::read(&archive).unwrap(), Held::read(&sequential).unwrap());
        assert!(held.content() == sequential.content(), "another end");
        assert_eq!(lengths(&archive)[1..], [None, None]);
        false
    });
    println!("{done} pulls beside another one done, {busy} told that the archive was busy");
}

#[test]
fn check_while_a_pull_runs_sees_whole_blocks() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let pace = Pace { bytes_per_s: Some(20_000), ..Pace::default() };
    let served = Served::start(desk_with(&path("logger.flash"), ONE, 21, pace));
    let (archive, job) = (path("a.db"), path("job.toml"));
    let text = format!(
        "[site]\nname = \"Lot 7\"\ntime-zone = \"Etc/UTC\"\n[[room]]\nname = \"Hall\"\n\
         logger = \"{ONE}\"\n"
    );
    std::fs::write(&job, text).unwrap();
    let adopt = ["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"];
    assert_done(&glueday(&archive, &adopt));
    let mut pull = start(&archive, &["pull", "--port", &served.tcp]);
    let (mut checks, mut ends) = (0, Vec::new());
    while pull.try_wait().unwrap().is_none() {
        let check = ["--json", "check", job.to_str().unwrap(), "--at", "last"];
        let said = glueday(&archive, &check);
        if said.code == Some(2) {
            // Before the first block.
            assert!(ends.is_empty() && said.err.contains("no room asked about"), "{said:?}");
            continue;
        }
        assert_eq!(said.code, Some(1), "{said:?}");
        let answer: serde_json::Value = serde_json::from_str(&said.out).unwrap();
        ends.push(answer["at"].as_str().unwrap().to_owned());
        checks += 1;
    }
    assert!(pull.wait().unwrap().success());
    assert!(ends.is_sorted(), "the log got shorter: {ends:?}");
    ends.dedup();
    println!("{checks} checks while a pull ran saw the log end at {} times", ends.len());
    assert!(checks >= 3 && ends.len() >= 2, "too few");
}
