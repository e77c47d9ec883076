//! From nothing to a record, as the README prints it.

use crate::{blocks, commands, section};
use glueday::record::pdf_files::extract;
use glueday_tests::programs::program;
use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Output, Stdio};

/// A new user: an empty folder, a home of their own, and the two programs on the PATH.
struct User {
    folder: tempfile::TempDir,
    home: tempfile::TempDir,
}

impl User {
    fn bash(&self, script: &str) -> Command {
        let programs = program("glueday").parent().unwrap().to_owned();
        assert!(programs.join("glueday-desk").exists());
        let path = std::env::var("PATH").unwrap();
        let mut command = Command::new("bash");
        command
            .args(["--norc", "-c", script])
            .current_dir(self.folder.path())
            .env_clear()
            .env("HOME", self.home.path())
            .env("PATH", format!("{}:{path}", programs.display()));
        command
    }
}

/// The logger of the first window, until its window is closed.
struct Window(Child);

impl Drop for Window {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn ended(output: &Output) -> String {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    format!("{:?}\n{}\n{}", output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn seven_commands_lead_a_new_user_from_nothing_to_a_record_that_holds() {
    let section = section("Your first record, without a logger");
    let build = blocks(&section, "text");
    let windows = blocks(&section, "bash");
    let [first, second] = windows.as_slice() else { panic!("two windows: {windows:?}") };
    let typed = [build.concat(), first.clone(), second.clone()].concat();
    let count = commands(&typed).len();
    assert!(count <= 7, "{count} commands");
    assert_eq!(commands(&build.concat())[0][..2], ["cargo", "build"]);

    let user = User { folder: tempfile::tempdir().unwrap(), home: tempfile::tempdir().unwrap() };
    // `exec`, so that closing the window ends the logger and not only its shell.
    let mut logger = user
        .bash(&format!("exec {first}"))
        .stdout(Stdio::piped())
        .stdin(Stdio::null())
        .spawn()
        .unwrap();
    let stdout = logger.stdout.take().unwrap();
    let window = Window(logger);
    let mut said = String::new();
    BufReader::new(stdout).read_line(&mut said).unwrap();
    assert!(said.starts_with("pty:"), "{said}");

    let output = user.bash(second).output().unwrap();
    let told = ended(&output);
    // The answer of the last command, which verifies the record.
    assert!(output.status.success(), "{told}");
    assert!(
        told.contains("Nothing in this record is contradicted") && told.contains("wait"),
        "{told}"
    );
    drop(window);
    let record = std::fs::read(user.folder.path().join("hall.pdf")).unwrap();
    let files = extract(&record).unwrap();
    // Six weeks of samples, one every ten minutes, of at least 6 bytes each; and signatures.
    let of =
        |start: &str| files.iter().find(|(name, _)| name.starts_with(start)).map(|f| f.1.len());
    assert!(of("log-").is_some_and(|len| len > 6 * 7 * 144 * 6), "no log: {told}");
    assert!(of("signatures-").is_some_and(|len| len > 100), "no signatures: {told}");
    // The archive went where a new user's archive goes, and nowhere else.
    let archive = user.home.path().join(".local/share/glueday/archive.db");
    assert!(cfg!(not(target_os = "linux")) || archive.exists());
}
