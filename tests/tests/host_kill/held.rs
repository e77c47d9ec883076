//! What an archive holds, as SQLite and nobody else tells it.

use glueday_types::{BLOCK_LEN, LoggerId};
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What SQLite may keep beside an archive.
const BESIDE: [&str; 4] = ["", "-wal", "-journal", "-shm"];

pub(crate) fn beside(archive: &Path, ending: &str) -> PathBuf {
    PathBuf::from(format!("{}{ending}", archive.display()))
}

/// Length of the archive and of each file beside it, `None` for those that are not there.
pub(crate) fn lengths(archive: &Path) -> [Option<u64>; 3] {
    ["", "-wal", "-journal"]
        .map(|ending| std::fs::metadata(beside(archive, ending)).ok().map(|found| found.len()))
}

pub(crate) fn bytes_in(archive: &Path) -> u64 {
    lengths(archive).into_iter().flatten().sum()
}

/// Copies an archive with what is beside it. What a reader needs of `-shm` it makes anew.
pub(crate) fn copy(from: &Path, to: &Path) {
    for ending in ["", "-wal", "-journal"] {
        let (from, to) = (beside(from, ending), beside(to, ending));
        if from.exists() {
            std::fs::copy(from, to).unwrap();
        }
    }
}

pub(crate) fn remove(archive: &Path) {
    for ending in BESIDE {
        let _ = std::fs::remove_file(beside(archive, ending));
    }
}

/// All that an archive holds except when it came: two archives of the same content are equal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Held {
    /// Logger, number, the rest of its row in words, and the bytes.
    pub(crate) blocks: BTreeMap<(LoggerId, u32), (String, Vec<u8>)>,
    /// Id and name.
    pub(crate) loggers: Vec<(String, Option<String>)>,
    pub(crate) imports: Vec<String>,
    /// Conflicts, jobs.
    pub(crate) rest: Vec<String>,
    /// Signatures, each by its nonce, which is another one each time.
    pub(crate) attestations: Vec<String>,
    /// How the pulls ended.
    pub(crate) pulls: Vec<String>,
}

impl Held {
    /// Reads a copy of what is there, so that the archive itself stays as a kill has left it. `None`
    /// when nothing is in it. Finds every damage that SQLite can find.
    pub(crate) fn read(archive: &Path) -> Option<Self> {
        if !archive.exists() {
            return None;
        }
        let folder = tempfile::tempdir().unwrap();
        let copied = folder.path().join("copy.db");
        copy(archive, &copied);
        let db = Connection::open(&copied).unwrap();
        let ok: String = db.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
        assert_eq!(ok, "ok");
        let tables: u32 =
            db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0)).unwrap();
        if tables == 0 {
            return None;
        }
        let mut broken = db.prepare("PRAGMA foreign_key_check").unwrap();
        assert!(!broken.exists([]).unwrap(), "a row refers to a logger that is not there");
        let mut held = Self::default();
        let mut rows = db
            .prepare(
                "SELECT logger, number, bytes, sealed || ' ' || hex(digest) || ' ' || hex(previous)
                 || ' ' || boot || ' ' || first_entry FROM blocks",
            )
            .unwrap();
        let rows = rows.query_map([], |row| {
            let key = (LoggerId(row.get(0)?), row.get(1)?);
            Ok((key, (row.get::<_, String>(3)?, row.get::<_, Vec<u8>>(2)?)))
        });
        held.blocks = rows.unwrap().map(Result::unwrap).collect();
        let mut rows = db
            .prepare("SELECT hex(id) || kind || hex(public_key), name FROM loggers ORDER BY id")
            .unwrap();
        let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
        held.loggers = rows.unwrap().map(Result::unwrap).collect();
        let words = |sql: &str| -> Vec<String> {
            let mut rows = db.prepare(sql).unwrap();
            rows.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
        };
        held.imports = words(
            "SELECT hex(logger) || file_name || hex(sha256) || length || mapping ||
             (SELECT group_concat(hex(bytes), '' ORDER BY part) FROM originals
             WHERE originals.logger = imports.logger) FROM imports ORDER BY logger",
        );
        held.rest = words(
            "SELECT 'conflict ' || hex(logger) || number || hex(digest) FROM conflicts
             UNION ALL SELECT 'job ' || name || text FROM jobs",
        );
        held.attestations = words("SELECT hex(logger) || hex(nonce) FROM attestations");
        held.pulls = words("SELECT result FROM pulls ORDER BY id");
        Some(held)
    }

    /// The same without how it came to it: an interrupted pull may leave a note and a signature of its
    /// own. Of signatures there is one at least, or none.
    pub(crate) fn content(&self) -> Self {
        let attestations = self.attestations.first().map(|_| "signed".to_owned());
        let attestations = attestations.into_iter().collect();
        Self { pulls: Vec::new(), attestations, ..self.clone() }
    }

    /// Each block that is held of `logger` is the beginning of what stands on its flash, and the
    /// sealed ones are all of it.
    #[track_caller]
    pub(crate) fn assert_on_flash(&self, logger: LoggerId, flash: &[u8]) {
        for ((id, number), (row, bytes)) in &self.blocks {
            if *id == logger {
                let slot = *number as usize % (flash.len() / BLOCK_LEN);
                let on_flash = &flash[slot * BLOCK_LEN..][..BLOCK_LEN];
                assert!(on_flash.starts_with(bytes), "block {number} differs");
                assert!(!row.starts_with('1') || bytes.len() == BLOCK_LEN, "block {number}");
            }
        }
    }

    /// Nothing of `before` is missing or shorter.
    #[track_caller]
    pub(crate) fn assert_has(&self, before: &Self) {
        for (key, (_, bytes)) in &before.blocks {
            let held = self.blocks.get(key).unwrap_or_else(|| panic!("{key:?} is gone"));
            assert!(held.1.starts_with(bytes), "{key:?} is another");
        }
        for logger in &before.loggers {
            assert!(self.loggers.contains(logger), "{logger:?} is gone");
        }
        for import in &before.imports {
            assert!(self.imports.contains(import), "an import is gone");
        }
        for row in &before.rest {
            assert!(self.rest.contains(row), "{row} is gone");
        }
        for row in &before.attestations {
            assert!(self.attestations.contains(row), "the signature {row} is gone");
        }
    }
}
