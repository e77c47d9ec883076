//! Many jobs outside the archive: the partitioned data set, answers from its rows, and both on an engine
//! that spreads them over workers.
//!
//! The engines are real ones, Spark and DuckDB; `tests/spark` installs them.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[path = "../assess_world/mod.rs"]
mod assess_world;
#[path = "../fleet_world/mod.rs"]
mod fleet_world;

mod data_set;
mod engines;
mod lines;

use fleet_world::FleetJob;
use glueday::archive::Archive;
use glueday_tests::programs::{Said, program};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A folder with an archive and the job files of a fleet.
pub(crate) struct Yard {
    pub(crate) folder: tempfile::TempDir,
    pub(crate) jobs: Vec<FleetJob>,
}

impl Yard {
    /// With the jobs of these numbers.
    pub(crate) fn of(numbers: impl Fn(usize) -> bool) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let jobs = fleet_world::jobs().into_iter().enumerate().filter(|(i, _)| numbers(*i));
        let jobs: Vec<FleetJob> = jobs.map(|(_, job)| job).collect();
        fleet_world::write_jobs(folder.path(), &jobs);
        let mut archive = Archive::create(&folder.path().join("archive.sqlite")).unwrap();
        fleet_world::fill(&mut archive, &jobs);
        Self { folder, jobs }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn run(&self, args: &[&str]) -> Said {
        self.run_with(args, b"")
    }

    /// Runs `glueday` in the folder with its archive and this standard input.
    pub(crate) fn run_with(&self, args: &[&str], input: &[u8]) -> Said {
        let mut command = Command::new(program("glueday"));
        command.current_dir(self.folder.path()).env("GLUEDAY_ARCHIVE", "archive.sqlite").args(args);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let mut pipe = child.stdin.take().unwrap();
        std::thread::scope(|scope| {
            scope.spawn(move || {
                // A program that has ended already takes nothing.
                let _ = pipe.write_all(input);
            });
            Said::from(child.wait_with_output().unwrap())
        })
    }

    /// The files of a data set by their names within it.
    pub(crate) fn files(&self, folder: &str) -> Vec<String> {
        let mut found = Vec::new();
        gather(&self.path(folder), &self.path(folder), &mut found);
        found.sort();
        found
    }
}

fn gather(root: &Path, folder: &Path, into: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            gather(root, &path, into);
        } else {
            into.push(path.strip_prefix(root).unwrap().display().to_string());
        }
    }
}
