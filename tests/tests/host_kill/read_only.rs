//! Files and folders that may only be read, from the chair of somebody else: what reads works, what
//! writes says that it cannot.

use crate::desk::{Served, desk};
use crate::held::{Held, beside};
use crate::import::{COLUMNS, write_csv};
use crate::run::{When, assert_done, assert_error, kill, start};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::LoggerId;
use std::fs::{Permissions, set_permissions};
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::process::Command;

const LOGGER: LoggerId = LoggerId(*b"readOnly");

/// A folder that holds the program where anybody may run it, and a way to run it as nobody special.
struct Somebody {
    folder: tempfile::TempDir,
    program: PathBuf,
    /// The superuser is denied nothing: it runs things as somebody else.
    is_root: bool,
}

impl Somebody {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        mode(folder.path(), 0o777);
        let copied = folder.path().join("glueday");
        std::fs::copy(program("glueday"), &copied).unwrap();
        let is_root = rustix::process::geteuid().is_root();
        Self { folder, program: copied, is_root }
    }

    fn run(&self, archive: &Path, args: &[&str]) -> Said {
        let mut command = if self.is_root {
            let mut command = Command::new("setpriv");
            command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]).arg(&self.program);
            command
        } else {
            Command::new(&self.program)
        };
        command.arg("--archive").arg(archive).args(args).env_remove("GLUEDAY_PORT");
        Said::from(command.output().unwrap())
    }
}

fn mode(path: &Path, mode: u32) {
    set_permissions(path, Permissions::from_mode(mode)).unwrap();
}

/// All that is in a folder, to see that nothing changed.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let paths = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut files: Vec<_> =
        paths.map(|path| (path.clone(), std::fs::read(&path).unwrap())).collect();
    files.sort();
    files
}

#[test]
fn what_only_reads_works_and_what_writes_says_that_it_cannot() {
    let somebody = Somebody::new();
    let place = somebody.folder.path().join("site");
    std::fs::create_dir(&place).unwrap();
    let path = |name: &str| place.join(name).to_str().unwrap().to_owned();
    let served = Served::start(desk(&somebody.folder.path().join("logger.flash"), LOGGER, 8));
    let archive = place.join("a.db");
    assert_done(&glueday(
        &archive,
        &["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"],
    ));
    assert_done(&glueday(&archive, &["pull", "--port", &served.tcp]));
    let (job, csv, picture) = (path("job.toml"), path("hall.csv"), path("hall.svg"));
    let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"Etc/UTC\"\n[[room]]\nname = \"Hall\"\n\
                logger = \"hall\"\n[[probe]]\nroom = \"Hall\"\nchannel = \"slab\"\n";
    std::fs::write(&job, text).unwrap();
    std::fs::write(&picture, "old").unwrap();
    write_csv(Path::new(&csv));
    let mine = somebody.folder.path().join("mine.svg").to_str().unwrap().to_owned();

    let check = ["check", job.as_str(), "--at", "last"];
    let plot = |file: &str| somebody.run(&archive, &["plot", &job, "--at", "last", "-o", file]);
    let import = [&["import", csv.as_str(), "--name", "csv"], &COLUMNS[..]].concat();
    let pull = ["pull", "--port", served.tcp.as_str()];
    let adopt = ["adopt", "--port", served.tcp.as_str(), "--name", "bath"];
    let new = path("new.toml");
    let new = ["job", "new", &new, "--site", "Lot 7", "--zone", "Etc/UTC"];
    let note = ["probe-check", &job, "--port", &served.tcp, "--channel", "slab", "--ice"];
    let expected = glueday(&archive, &check);
    assert_eq!(expected.code, Some(1), "{expected:?}");

    for (name, of_folder, of_files, words) in [
        ("the folder and its files", 0o555, 0o444, ["a.db", "writable"]),
        ("the files", 0o777, 0o444, ["a.db", "can only be read"]),
        ("the folder", 0o555, 0o666, ["a.db", "beside"]),
    ] {
        println!("read-only: {name}");
        for ending in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(beside(&archive, ending));
        }
        for (path, _) in contents(&place) {
            mode(&path, of_files);
        }
        mode(&place, of_folder);
        let before = contents(&place);

        let said = somebody.run(&archive, &check);
        assert_eq!((said.code, &said.out), (Some(1), &expected.out), "{said:?}");
        assert_done(&somebody.run(&archive, &["job", "check", &job]));
        assert_done(&somebody.run(&archive, &["limits", &job]));
        let said = plot(&mine);
        assert_eq!(said.code, Some(1), "{said:?}");
        std::fs::remove_file(&mine).unwrap();

        for args in [&import[..], &pull, &adopt] {
            assert_error(&somebody.run(&archive, args), &words);
        }
        if of_files == 0o444 || of_folder == 0o555 {
            assert_error(&plot(&picture), &["hall.svg", "writable"]);
            assert_error(&somebody.run(&archive, &note), &["job.toml", "writable", "--dry-run"]);
        }
        if of_folder == 0o555 {
            assert_error(&somebody.run(&archive, &new), &["new.toml", "writable"]);
        }
        mode(&place, 0o777);
        let kept = |files: Vec<(PathBuf, Vec<u8>)>| -> Vec<(PathBuf, Vec<u8>)> {
            let of_sqlite = |path: &Path| {
                ["-shm", "-wal"].iter().any(|end| path.to_string_lossy().ends_with(end))
            };
            files.into_iter().filter(|(path, _)| !of_sqlite(path)).collect()
        };
        assert!(kept(contents(&place)) == kept(before), "something was changed");
    }
}

#[test]
fn the_log_of_a_killed_pull_is_not_passed_over_where_nothing_can_be_written() {
    let somebody = Somebody::new();
    let place = somebody.folder.path().join("site");
    std::fs::create_dir(&place).unwrap();
    let served = Served::start(desk(&somebody.folder.path().join("logger.flash"), LOGGER, 21));
    let archive = place.join("a.db");
    assert_done(&glueday(
        &archive,
        &["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"],
    ));
    let wal = beside(&archive, "-wal");
    let mut some = || std::fs::metadata(&wal).is_ok_and(|found| found.len() > 20_000);
    assert!(kill(start(&archive, &["pull", "--port", &served.tcp]), When::Seen(&mut some)));
    let found = Held::read(&archive).unwrap();
    assert!(!found.blocks.is_empty());
    let job = place.join("job.toml");
    let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"Etc/UTC\"\n[[room]]\nname = \"Hall\"\n\
                logger = \"hall\"\n";
    std::fs::write(&job, text).unwrap();
    for (path, _) in contents(&place) {
        mode(&path, 0o444);
    }
    let _ = std::fs::remove_file(beside(&archive, "-shm"));
    mode(&place, 0o555);
    // To read the archive without its log would be to lose blocks without a word.
    let check = ["check", job.to_str().unwrap(), "--at", "last"];
    assert_error(&somebody.run(&archive, &check), &["a.db", "files beside it", "writable place"]);
    // What it says to do does it.
    let copied = somebody.folder.path().join("copy.db");
    crate::held::copy(&archive, &copied);
    for ending in ["", "-wal"] {
        mode(&beside(&copied, ending), 0o666);
    }
    let said = somebody.run(&copied, &check);
    assert_eq!(said.code, Some(1), "{said:?}");
    mode(&place, 0o777);
}

/// A job file that a superuser writes to, for the sake of a port, stays its owner's.
#[test]
fn a_file_keeps_its_owner_when_a_superuser_writes_it() {
    if !rustix::process::geteuid().is_root() {
        println!("SKIPPED: only a superuser can tell; this one is none");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let served = Served::start(desk(&path("logger.flash"), LOGGER, 8));
    assert_done(&glueday(
        &path("a.db"),
        &["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"],
    ));
    assert_done(&glueday(&path("a.db"), &["pull", "--port", &served.tcp]));
    let (job, picture) = (path("job.toml"), path("hall.svg"));
    let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"Etc/UTC\"\n[[room]]\nname = \"Hall\"\n\
                logger = \"hall\"\n";
    std::fs::write(&job, text).unwrap();
    std::fs::write(&picture, "old").unwrap();
    std::os::unix::fs::chown(&picture, Some(65_534), Some(65_534)).unwrap();
    mode(&picture, 0o640);
    let args = ["plot", job.to_str().unwrap(), "--at", "last", "-o", picture.to_str().unwrap()];
    assert_eq!(glueday(&path("a.db"), &args).code, Some(1));
    let found = std::fs::metadata(&picture).unwrap();
    assert!(found.len() > 1000);
    assert_eq!((found.uid(), found.gid(), found.mode() & 0o777), (65_534, 65_534, 0o640));
}
