//! Archives that are none, or of a newer version, or broken: each command refuses them with its own
//! words, and leaves every byte as it was.

use crate::desk::{Served, desk};
use crate::held::{beside, copy};
use crate::import::{COLUMNS, write_csv};
use crate::run::{assert_done, assert_error};
use glueday_tests::programs::glueday;
use glueday_types::{BLOCK_LEN, LoggerId};
use rusqlite::{Connection, params};
use std::path::{Path, PathBuf};

const LOGGER: LoggerId = LoggerId(*b"refused1");

struct Site {
    folder: tempfile::TempDir,
    served: Served,
    good: PathBuf,
    job: String,
    csv: String,
}

impl Site {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        let served = Served::start(desk(&path("logger.flash"), LOGGER, 21));
        let good = path("good.db");
        let adopt = ["adopt", "--port", &served.tcp, "--name", "hall", "--keep-clock"];
        assert_done(&glueday(&good, &adopt));
        assert_done(&glueday(&good, &["pull", "--port", &served.tcp]));
        let (job, csv) = (path("job.toml"), path("hall.csv"));
        let text = "[site]\nname = \"Lot 7\"\ntime-zone = \"Etc/UTC\"\n[[room]]\nname = \"Hall\"\n\
                    logger = \"hall\"\n";
        std::fs::write(&job, text).unwrap();
        write_csv(&csv);
        let [job, csv] = [job, csv].map(|path| path.to_str().unwrap().to_owned());
        Self { folder, served, good, job, csv }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Every command that opens an archive.
    fn commands(&self) -> Vec<Vec<&str>> {
        let port = self.served.tcp.as_str();
        vec![
            vec!["check", &self.job, "--at", "last"],
            vec!["plot", &self.job, "--at", "last", "-o", "never.svg"],
            vec!["pull", "--port", port],
            vec!["adopt", "--port", port, "--name", "bath", "--keep-clock"],
            [&["import", self.csv.as_str(), "--name", "csv"], &COLUMNS[..]].concat(),
        ]
    }
}

/// The archive and what is beside it. A reader may leave an empty log.
fn files(archive: &Path) -> Vec<Vec<u8>> {
    ["", "-wal", "-journal"]
        .map(|ending| std::fs::read(beside(archive, ending)).unwrap_or_default())
        .into()
}

#[test]
fn what_is_no_archive_of_this_version_is_refused_and_left_alone() {
    let site = Site::new();
    let whole = std::fs::read(&site.good).unwrap();
    let make = |name: &str, bytes: &[u8]| {
        let path = site.path(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let change = |name: &str, sql: &str| {
        let path = make(name, &whole);
        Connection::open(&path).unwrap().execute_batch(sql).unwrap();
        path
    };
    let newer = change("newer.db", "PRAGMA user_version = 99");
    // A newer program was killed: its log is beside the file.
    let running = change("running.db", "PRAGMA user_version = 99");
    let db = Connection::open(&running).unwrap();
    db.execute_batch("CREATE TABLE news (x); INSERT INTO news VALUES (1)").unwrap();
    let newer_killed = site.path("newer-killed.db");
    copy(&running, &newer_killed);
    assert!(beside(&newer_killed, "-wal").exists());
    drop(db);
    let other = site.path("other.db");
    Connection::open(&other).unwrap().execute_batch("CREATE TABLE tiles (x)").unwrap();
    let mut torn = whole.clone();
    torn[3 * 4096..5 * 4096].fill(0);
    let cases: Vec<(PathBuf, &[&str])> = vec![
        (newer, &["newer.db", "archive version 99", "update the program"]),
        (newer_killed, &["newer-killed.db", "archive version 99", "update the program"]),
        (change("id.db", "PRAGMA application_id = 7"), &["id.db", "another program", "--archive"]),
        (other, &["other.db", "another program", "--archive"]),
        (make("text.db", &b"Slab poured in spring. ".repeat(99)), &["text.db", "--archive"]),
        (make("picture.db", b"\x89PNG\r\n\x1a\n"), &["picture.db", "--archive"]),
        (make("cut.db", &whole[..whole.len() / 2 + 100]), &["cut.db", "cut off", "backup"]),
        (make("cut-page.db", &whole[..whole.len() - 4096]), &["cut-page.db", "damaged", "backup"]),
        (make("torn.db", &torn), &["torn.db", "damaged", "backup"]),
        (site.folder.path().to_owned(), &["is not a file", "--archive"]),
    ];
    let mut refused = 0;
    for (archive, words) in &cases {
        let before = files(archive);
        for args in site.commands() {
            let said = glueday(archive, &args);
            assert_error(&said, words);
            assert_eq!(said.out, "", "{said:?}");
            assert!(files(archive) == before, "{args:?} changed {}", archive.display());
            refused += 1;
        }
    }
    println!("{refused} commands on {} files refused", cases.len());
    assert!(!Path::new("never.svg").exists());
    assert!(refused >= 50);
}

#[test]
fn the_log_of_a_killed_pull_is_taken_over() {
    let site = Site::new();
    let db = Connection::open(&site.good).unwrap();
    // The last block is only in the log.
    db.execute_batch(
        "CREATE TEMP TABLE t AS SELECT * FROM blocks ORDER BY number DESC LIMIT 1;
         DELETE FROM blocks WHERE number = (SELECT number FROM t);
         PRAGMA wal_checkpoint(TRUNCATE);
         INSERT INTO blocks SELECT * FROM t;",
    )
    .unwrap();
    let killed = site.path("killed.db");
    copy(&site.good, &killed);
    assert!(std::fs::metadata(beside(&killed, "-wal")).unwrap().len() > 4096);
    drop(db);
    let check = ["check", site.job.as_str(), "--at", "last"];
    assert_eq!(glueday(&killed, &check).out, glueday(&site.good, &check).out);
    let said = glueday(&killed, &["pull", "--port", &site.served.tcp]);
    assert_done(&said);
    assert!(said.out.contains("nothing new"), "{said:?}");
}

#[test]
fn a_block_of_a_newer_format_is_told_and_not_passed_over() {
    let site = Site::new();
    let newer = site.path("newer-block.db");
    copy(&site.good, &newer);
    let db = Connection::open(&newer).unwrap();
    let mut block: Vec<u8> =
        db.query_row("SELECT bytes FROM blocks WHERE number = 1", [], |row| row.get(0)).unwrap();
    assert_eq!(block.len(), BLOCK_LEN);
    // The format's byte, see shared-types/SPEC.md, and the check over the header that follows it.
    let version_at = 4;
    block[version_at] += 1;
    let end = glueday_types::HEADER_LEN - 4;
    let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&block[..end]);
    block[end..end + 4].copy_from_slice(&check.to_le_bytes());
    let digest = glueday_types::digest(&block);
    db.execute(
        "UPDATE blocks SET bytes = ?1, digest = ?2 WHERE number = 1",
        params![block, digest],
    )
    .unwrap();
    drop(db);
    let before = files(&newer);
    for args in &site.commands()[..2] {
        let said = glueday(&newer, args);
        assert_error(&said, &["room Hall", "block 1", "newer", "update the program"]);
        assert!(files(&newer) == before);
    }
}

#[test]
fn a_job_file_of_a_newer_version_is_told_by_its_place() {
    let site = Site::new();
    let job = site.path("newer.toml");
    let text = std::fs::read_to_string(&site.job).unwrap();
    // What a newer program may know stands in a key that this one does not.
    std::fs::write(&job, format!("{text}[site-of-the-future]\nx = 1\n")).unwrap();
    for args in [vec!["check"], vec!["job", "check"]] {
        let said = glueday(&site.good, &[&args[..], &[job.to_str().unwrap()]].concat());
        assert_error(&said, &["newer.toml:7:", "site-of-the-future"]);
    }
}

#[test]
fn the_demo_takes_away_its_own_files_and_no_others() {
    let site = Site::new();
    let demo = site.path("demo");
    let folder = demo.to_str().unwrap();
    let run = || glueday(&site.good, &["demo", "--now", "2026-03-21T18:00Z", "--folder", folder]);
    std::fs::create_dir(&demo).unwrap();
    let (archive, job) = (demo.join("archive.sqlite"), demo.join("job.toml"));
    copy(&site.good, &archive);
    let before = files(&archive);
    assert_error(&run(), &["archive.sqlite", "left as it is", "--folder"]);
    assert!(files(&archive) == before);
    crate::held::remove(&archive);
    std::fs::copy(&site.job, &job).unwrap();
    assert_error(&run(), &["job.toml", "left as it is", "--folder"]);
    assert_eq!(std::fs::read(&job).unwrap(), std::fs::read(&site.job).unwrap());
    std::fs::remove_file(&job).unwrap();
    for _ in 0..2 {
        assert_done(&run());
    }
}
