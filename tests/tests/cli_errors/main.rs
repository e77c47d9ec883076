//! Bad input from a user's chair: each has its own error, exit code 2, and says what to do next.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[cfg(unix)]
mod texts;

use glueday_tests::programs::{Said, glueday, program};
use std::path::Path;
use std::process::Command;

const JOB: &str = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n\
                   [[room]]\nname = \"Hall\"\nlogger = \"hall logger\"\n";

struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.to_str().unwrap().to_owned()
    }

    fn archive(&self) -> std::path::PathBuf {
        self.folder.path().join("archive.sqlite")
    }

    fn run(&self, args: &[&str]) -> Said {
        glueday(&self.archive(), args)
    }
}

/// It failed, with all of these words on standard error and nothing on standard output.
#[track_caller]
fn assert_error(said: &Said, words: &[&str]) {
    assert_eq!(said.code, Some(2), "{said:?}");
    assert_eq!(said.out, "", "{said:?}");
    for word in words {
        assert!(said.err.contains(word), "no `{word}` in: {}", said.err);
    }
    assert!(!said.err.contains("panicked"), "{}", said.err);
}

#[test]
fn a_typo_in_a_job_file_is_told_with_its_place_and_a_suggestion() {
    let place = Place::new();
    let job = place.write("hall.toml", JOB.replace("logger =", "loger ="));
    assert_error(&place.run(&["job", "check", &job]), &["hall.toml:6:1", "loger", "`logger`"]);
    assert_error(&place.run(&["check", &job]), &["hall.toml:6:1", "`logger`"]);
}

#[test]
fn a_job_file_that_is_no_toml_or_no_text_is_told() {
    let place = Place::new();
    let job = place.write("hall.toml", "[site\nname = \"Lot 7\"\n");
    assert_error(&place.run(&["check", &job]), &["hall.toml:1:"]);
    let job = place.write("latin.toml", b"[site]\nname = \"Stra\xdfe\"\n");
    assert_error(&place.run(&["check", &job]), &["latin.toml", "UTF-8", "byte 19"]);
    assert_error(&place.run(&["check", "/nowhere/hall.toml"]), &["/nowhere/hall.toml"]);
}

#[test]
fn an_archive_that_is_none_is_told_apart() {
    let place = Place::new();
    let job = place.write("hall.toml", JOB);
    let check = |archive: &str| glueday(Path::new(archive), &["check", &job]);

    let missing = place.folder.path().join("none.sqlite");
    assert_error(&check(missing.to_str().unwrap()), &["none.sqlite"]);
    let text =
        place.write("notes.sqlite", "this is a text about floors, long enough for a header\n");
    assert_error(&check(&text), &["notes.sqlite", "not"]);

    let other = place.folder.path().join("other.sqlite");
    let db = rusqlite::Connection::open(&other).unwrap();
    db.execute_batch("CREATE TABLE recipes (name TEXT); INSERT INTO recipes VALUES ('bread');")
        .unwrap();
    drop(db);
    assert_error(&check(other.to_str().unwrap()), &["other.sqlite", "another program"]);
    let after = rusqlite::Connection::open(&other).unwrap();
    let tables: i64 =
        after.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0)).unwrap();
    assert_eq!(tables, 1, "the foreign file was changed");
}

#[test]
fn a_truncated_archive_is_told() {
    let place = Place::new();
    let csv = std::fs::read(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures/intake/renovation-house-indoor-air.csv"),
    )
    .unwrap();
    let csv = place.write("air.csv", csv);
    let job = place.write("hall.toml", JOB);
    let columns = ["--column", "air=T", "--column", "rh=RH"];
    let import = [&["import", csv.as_str(), "--name", "hall logger"], &columns[..]].concat();
    assert_eq!(place.run(&import).code, Some(0));
    let whole = std::fs::read(place.archive()).unwrap();
    for part in [whole.len() / 2, 5000, 100] {
        let cut = place.write("cut.sqlite", &whole[..part]);
        let said = glueday(Path::new(&cut), &["check", &job]);
        assert_error(&said, &["cut.sqlite"]);
    }
}

#[test]
fn a_logger_that_the_archive_does_not_know_is_told_with_those_it_knows() {
    let place = Place::new();
    let csv =
        place.write("a.csv", "time,T,RH\n2026-03-01 08:00,20.1,41\n2026-03-01 08:10,20.2,41.5\n");
    let columns = ["--zone", "+01:00", "--column", "air=T", "--column", "rh=RH"];
    let import = [&["import", csv.as_str(), "--name", "bath air"], &columns[..]].concat();
    assert_eq!(place.run(&import).code, Some(0));
    let job = place.write("hall.toml", JOB);
    assert_error(&place.run(&["check", &job]), &["Hall", "hall logger", "bath air"]);
}

#[test]
fn questions_that_cannot_be_asked_are_told() {
    let place = Place::new();
    let job = place.write("hall.toml", JOB.replace("logger = \"hall logger\"\n", ""));
    assert_error(&place.run(&["check", &job, "--room", "Bath"]), &["Bath", "Hall"]);
    assert_error(&place.run(&["check", &job, "--why", "dew-margn"]), &["dew-margn", "dew-margin"]);
    assert_error(&place.run(&["check", &job, "--at", "tuesday"]), &["tuesday", "2026-03-18 08:00"]);
    // 2026-03-08 02:30 does not exist in Denver, 2026-11-01 01:30 comes twice.
    for at in ["2026-03-08 02:30", "2026-11-01 01:30"] {
        assert_error(&place.run(&["check", &job, "--at", at]), &[at, "daylight saving", "UTC"]);
    }
    let said = place.run(&["plot", &job, "--output", "hall.jpeg"]);
    assert_error(&said, &["hall.jpeg", ".png or .svg"]);
}

#[cfg(unix)]
mod ports {
    use super::*;
    use std::io::{Read as _, Write as _};
    use std::os::unix::fs::PermissionsExt as _;

    /// A pty with nobody at the logger's end but this test.
    fn pty() -> (std::fs::File, String) {
        use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        (std::fs::File::from(master), name)
    }

    fn pull(place: &Place, port: &str) -> Said {
        place.run(&["pull", "--port", port])
    }

    #[test]
    fn a_silent_port_is_told() {
        let place = Place::new();
        let (_master, name) = pty();
        assert_error(&pull(&place, &name), &[&name, "nothing"]);
    }

    #[test]
    fn a_device_that_is_no_logger_is_told() {
        let place = Place::new();
        let (mut master, name) = pty();
        let mut writer = master.try_clone().unwrap();
        let talker = std::thread::spawn(move || {
            let mut buffer = [0; 256];
            // Whatever is asked, a modem answers.
            while let Ok(read) = master.read(&mut buffer) {
                if read == 0 || writer.write_all(b"ERROR\r\n").is_err() {
                    break;
                }
            }
        });
        let said = pull(&place, &name);
        assert_error(&said, &[&name, "not of a logger"]);
        drop(talker);
    }

    #[test]
    fn a_port_that_is_absent_or_no_port_is_told() {
        let place = Place::new();
        assert_error(&pull(&place, "/dev/ttyNONE9"), &["/dev/ttyNONE9"]);
        let file = place.write("port", "text");
        assert_error(&pull(&place, &file), &[&file]);
        assert_error(&pull(&place, "tcp:127.0.0.1:1"), &["127.0.0.1", "refuses the connection"]);
        assert_error(&pull(&place, "tcp:127.0.0.1"), &["tcp:HOST:PORT"]);
    }

    #[test]
    fn a_port_that_another_program_holds_is_told() {
        let place = Place::new();
        let (_master, name) = pty();
        let held = std::fs::File::options().read(true).write(true).open(&name).unwrap();
        rustix::termios::tcgetattr(&held).unwrap();
        rustix::termios::ioctl_tiocexcl(&held).unwrap();
        let said = pull(&place, &name);
        // The superuser may open a port in spite of TIOCEXCL; then it is only silent.
        if rustix::process::geteuid().is_root() {
            assert_error(&said, &[&name]);
        } else {
            assert_error(&said, &[&name, "another program"]);
        }
    }

    #[test]
    fn a_port_that_the_user_may_not_open_is_told() {
        let place = Place::new();
        let (_master, name) = pty();
        std::fs::set_permissions(&name, std::fs::Permissions::from_mode(0o000)).unwrap();
        let program = program("glueday");
        let archive = place.archive();
        let output = if rustix::process::geteuid().is_root() {
            // The superuser is denied nothing: ask as somebody else.
            std::fs::set_permissions(place.folder.path(), std::fs::Permissions::from_mode(0o777))
                .unwrap();
            let copy = place.folder.path().join("glueday");
            std::fs::copy(&program, &copy).unwrap();
            Command::new("setpriv")
                .args(["--reuid=65534", "--regid=65534", "--clear-groups"])
                .arg(copy)
                .arg("--archive")
                .arg(&archive)
                .args(["pull", "--port", &name])
                .output()
        } else {
            Command::new(program)
                .arg("--archive")
                .arg(&archive)
                .args(["pull", "--port", &name])
                .output()
        };
        assert_error(&Said::from(output.unwrap()), &[&name, "denied"]);
    }
}
