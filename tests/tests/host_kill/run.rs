//! Runs the program and kills it at a chosen point.

use glueday_tests::flash::Random;
use glueday_tests::programs::{Said, program};
use std::os::unix::process::ExitStatusExt as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

/// No command takes as long.
const PATIENCE: Duration = Duration::from_secs(60);

pub(crate) fn command(archive: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(program("glueday"));
    command.arg("--archive").arg(archive).args(args).env_remove("GLUEDAY_PORT");
    command
}

pub(crate) fn start(archive: &Path, args: &[&str]) -> Child {
    let mut command = command(archive, args);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
}

/// When to kill.
pub(crate) enum When<'a> {
    /// After this time.
    Time(Duration),
    /// As soon as so many bytes came from the logger, or this much later.
    Line(&'a Receiver<()>, Duration),
    /// As soon as this is so.
    Seen(&'a mut dyn FnMut() -> bool),
}

/// Kills it at that point, unless it has ended before. Returns whether it was killed.
pub(crate) fn kill(mut child: Child, when: When<'_>) -> bool {
    let began = Instant::now();
    let mut running = || {
        assert!(began.elapsed() < PATIENCE, "it does not end");
        child.try_wait().unwrap().is_none()
    };
    match when {
        When::Time(time) => std::thread::sleep(time),
        When::Line(cut, later) => {
            while running() {
                if cut.recv_timeout(Duration::from_millis(2)).is_ok() {
                    std::thread::sleep(later);
                    break;
                }
            }
        }
        When::Seen(seen) => {
            while running() && !seen() {
                std::thread::sleep(Duration::from_micros(30));
            }
        }
    }
    // SIGKILL: nothing is tidied up.
    let _ = child.kill();
    child.wait().unwrap().signal() == Some(9)
}

/// A part of a time, chosen at random.
pub(crate) fn share(random: &mut Random, of: Duration) -> Duration {
    of.mul_f64(random.uniform())
}

/// A number below `end`, chosen at random.
pub(crate) fn below(random: &mut Random, end: u64) -> u64 {
    random.bits() % end.max(1)
}

#[track_caller]
pub(crate) fn assert_done(said: &Said) {
    assert_eq!(said.code, Some(0), "{said:?}");
}

/// It failed with exit code 2, with all of these words on standard error.
#[track_caller]
pub(crate) fn assert_error(said: &Said, words: &[&str]) {
    assert_eq!(said.code, Some(2), "{said:?}");
    assert!(!said.err.contains("panicked"), "{}", said.err);
    for word in words {
        assert!(said.err.contains(word), "no `{word}` in: {}", said.err);
    }
}
