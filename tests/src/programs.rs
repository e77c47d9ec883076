//! The real programs, built once and run as a user would.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// The built program of that name: `glueday` or `glueday-desk`.
///
/// # Panics
/// When it cannot be built: a test cannot go on without it.
#[must_use]
#[allow(clippy::panic, clippy::expect_used)] // Only ever called by tests.
pub fn program(name: &str) -> PathBuf {
    static FOLDER: OnceLock<PathBuf> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
        let output = Command::new(env!("CARGO"))
            .args(["build", "--quiet", "--locked", "--bin", "glueday", "--bin", "glueday-desk"])
            // With the features of libraries that the tests of the workspace are built with, which
            // these packages and a benchmark ask for: otherwise most of it would be built twice.
            .args(["-p", "glueday", "-p", "glueday-desk", "-p", "glueday-firmware"])
            .args(["-p", "glueday-tests", "--bench", "instructions"])
            .current_dir(root)
            .output()
            .expect("cargo runs");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        // Test programs run from target/PROFILE/deps, and the build above is of the dev profile.
        let test = std::env::current_exe().expect("a path of the test");
        let target = test.ancestors().nth(3).expect("a target folder");
        target.join("debug")
    });
    folder.join(name)
}

/// Runs `glueday` with its own archive and returns what it said.
///
/// # Panics
/// When it cannot be started.
#[must_use]
#[allow(clippy::expect_used)] // Only ever called by tests.
pub fn glueday(archive: &Path, args: &[&str]) -> Said {
    let output = Command::new(program("glueday"))
        .arg("--archive")
        .arg(archive)
        .args(args)
        .env_remove("GLUEDAY_PORT")
        .output()
        .expect("glueday starts");
    Said::from(output)
}

/// What a program said and how it ended.
#[derive(Clone, Debug)]
pub struct Said {
    /// Exit code; `None` when a signal ended it.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl From<Output> for Said {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}
