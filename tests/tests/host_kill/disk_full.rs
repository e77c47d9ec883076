//! No room left on the disk: told, with what was stored before still there; and with room again it all
//! ends as it would have.

use crate::campaign::cases;
use crate::desk::{Served, desk};
use crate::held::{Held, copy, lengths};
use crate::import::{COLUMNS, write_csv};
use crate::run::{assert_done, assert_error};
use crate::small_disk::Disk;
use glueday_tests::programs::glueday;
use glueday_types::LoggerId;
use std::path::Path;

const LOGGER: LoggerId = LoggerId(*b"diskFull");
/// Room that is left, in KiB: from none to more than is needed.
const ROOM_KIB: [u64; 12] = [0, 4, 8, 16, 24, 36, 44, 56, 80, 120, 200, 400];
const JOB: &str = "[site]\nname = \"Lot 7\"\ntime-zone = \"America/Denver\"\n[[room]]\n\
                   name = \"Hall\"\nlogger = \"6469736b46756c6c\"\n";

/// Copies an archive from the disk, so that reading it needs no room there.
fn held(disk: &Disk, place: &Path) -> Option<Held> {
    let copied = place.join("off-disk.db");
    crate::held::remove(&copied);
    if disk.outside("a.db").exists() {
        copy(&disk.outside("a.db"), &copied);
    }
    Held::read(&copied)
}

/// The first line of what the program says when there is no room.
fn words(file: &str) -> [&str; 2] {
    [file, "room"]
}

#[test]
fn a_full_disk_is_told_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let served = Served::start(desk(&path("logger.flash"), LOGGER, 8));
    let begun = path("begun.db");
    assert_done(&glueday(
        &begun,
        &["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"],
    ));
    assert_done(&glueday(&begun, &["pull", "--port", &served.tcp]));
    let mut desk = served.end();
    desk.advance_to(21 * crate::desk::DAY_S).unwrap();
    let served = Served::start(desk);
    let (job, csv) = (path("job.toml"), path("hall.csv"));
    std::fs::write(&job, JOB).unwrap();
    write_csv(&csv);
    let job = job.to_str().unwrap();
    let pull = ["pull", "--port", served.tcp.as_str()];
    let import = [&["import", csv.to_str().unwrap(), "--name", "bath"], &COLUMNS[..]].concat();

    let undisturbed = |args: &[&str], from: Option<&Path>| {
        let archive = folder.path().join("undisturbed.db");
        crate::held::remove(&archive);
        if let Some(from) = from {
            copy(from, &archive);
        }
        assert_done(&glueday(&archive, args));
        Held::read(&archive).unwrap().content()
    };
    let begun_held = Held::read(&begun).unwrap();
    let ways = [(&pull[..], true), (&pull[..], false), (&import[..], true), (&import[..], false)];
    let ends = ways.map(|(args, on)| undisturbed(args, on.then_some(begun.as_path())));

    let (mut told, mut done, mut mounted) = (0, 0, false);
    let all = cases("a_full_disk", (ROOM_KIB.len() * ways.len()) as u64, |number| {
        let room_kib = ROOM_KIB[number as usize / ways.len()];
        let which = number as usize % ways.len();
        let (args, on_begun) = ways[which];
        let mut disk = Disk::new();
        mounted = disk.is_mounted();
        if on_begun {
            disk.put(&begun, "a.db");
        }
        disk.leave_kib(room_kib);
        let said = disk.glueday("a.db", args);
        match said.code {
            Some(0) => done += 1,
            _ => {
                assert_error(&said, &words("a.db"));
                told += 1;
            }
        }
        let found = held(&disk, folder.path());
        if on_begun {
            found.as_ref().expect("the archive is gone").assert_has(&begun_held);
            // Nobody can work with the job on a disk that has no room even for that.
            let check = disk.glueday("a.db", &["check", job, "--at", "last"]);
            match check.code {
                Some(1) => {}
                _ => assert_error(&check, &words("a.db")),
            }
        }
        disk.make_room();
        assert_done(&disk.glueday("a.db", args));
        let ended = held(&disk, folder.path()).unwrap();
        assert!(ended.content() == ends[which], "another end than undisturbed");
        assert_eq!(lengths(&disk.outside("a.db"))[1..], [None, None]);
        false
    });
    println!(
        "{told} commands without room for the archive, {done} with just enough, on {}",
        if mounted { "a small disk" } else { "files of limited length" }
    );
    if all {
        assert!(told >= 16 && done >= 4, "too few");
    }
}

/// The names on the disk, without what readers of the archive leave.
fn left(disk: &Disk) -> Vec<String> {
    disk.names().into_iter().filter(|name| !name.starts_with("a.db-")).collect()
}

#[test]
fn outputs_without_room_are_told_and_leave_the_old_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let served = Served::start(desk(&path("logger.flash"), LOGGER, 8));
    let (archive, job) = (path("a.db"), path("job.toml"));
    assert_done(&glueday(&archive, &["pull", "--port", &served.tcp]));
    std::fs::write(&job, JOB).unwrap();
    let mut disk = Disk::new();
    disk.put(&archive, "a.db");
    // What only reads needs no room, not even for what SQLite likes to keep beside the file.
    disk.leave_kib(0);
    let said = disk.glueday("a.db", &["check", job.to_str().unwrap(), "--at", "last"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    disk.make_room();
    for (name, room_kib, args) in [
        ("hall.svg", 4, ["plot", job.to_str().unwrap(), "--at", "last", "--output"].as_slice()),
        ("hall.toml", 1, ["job", "new", "--site", "Lot 7", "--zone", "Etc/UTC"].as_slice()),
    ] {
        let replaces = name == "hall.svg";
        if replaces {
            std::fs::write(disk.outside(name), "old").unwrap();
        }
        let (mut names, file) = (left(&disk), disk.inside(name));
        let args = [args, &[file.to_str().unwrap()]].concat();
        disk.leave_kib(if disk.is_mounted() { 0 } else { room_kib });
        let said = disk.glueday("a.db", &args);
        assert_error(&said, &[name, "no room left", "make room"]);
        assert_eq!(left(&disk), names, "something is left");
        if replaces {
            assert_eq!(std::fs::read_to_string(disk.outside(name)).unwrap(), "old");
        } else {
            names.push(name.to_owned());
            names.sort();
        }
        disk.make_room();
        let said = disk.glueday("a.db", &args);
        assert!(matches!(said.code, Some(0 | 1)), "{said:?}");
        assert!(std::fs::metadata(disk.outside(name)).unwrap().len() > 1000);
        assert_eq!(left(&disk), names);
    }
}
