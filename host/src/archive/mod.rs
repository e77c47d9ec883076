//! The archive: one SQLite file that keeps every block as the logger wrote it.
//!
//! Blocks are never changed once they are sealed, and never dropped. A copy that differs from what is
//! held is kept beside it, not instead of it. Each block is stored in its own transaction, so that a
//! pull that is killed loses nothing that was stored before.

mod blocks;
mod encode;
mod error;
mod file;
mod import;
mod loggers;
mod place;
mod records;
mod schema;

pub use blocks::{Conflict, Held, HeldBlock, Kept, StoredBlock};
pub use encode::{EncodeError, ImportRow, ImportedLog, import_blocks, import_id};
pub use error::ArchiveError;
pub use import::{ImportError, ImportedFile, import_again, import_file};
pub use loggers::{LoggerKind, StoredLogger};
pub use place::{ARCHIVE_ENV, NoPlace, choose_place, default_place};
pub use records::{Import, Job, NewImport, PullRecord, StoredAttestation};
pub use schema::SCHEMA;

use error::explain;
use file::{Present, beside, check_length, has_log, identify, immutable_uri, known, look, settle};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use schema::{APPLICATION_ID, MIGRATIONS};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long to wait for another process that is writing.
const BUSY_WAIT: Duration = Duration::from_secs(5);

/// An open archive.
#[derive(Debug)]
pub struct Archive {
    db: Connection,
    path: PathBuf,
    read_only: bool,
}

impl Archive {
    /// Makes a new archive. Its folder must exist.
    ///
    /// # Errors
    /// [`ArchiveError::Exists`] when there is a file already.
    pub fn create(path: &Path) -> Result<Self, ArchiveError> {
        match look(path)? {
            Present::File { .. } => Err(ArchiveError::Exists { path: path.to_owned() }),
            Present::Nothing => Self::start(path, OpenFlags::SQLITE_OPEN_CREATE),
        }
    }

    /// Opens an archive for reading and writing.
    ///
    /// # Errors
    /// See [`ArchiveError`]: each cause has its own.
    pub fn open(path: &Path) -> Result<Self, ArchiveError> {
        match look(path)? {
            Present::Nothing => Err(ArchiveError::Missing { path: path.to_owned() }),
            Present::File { len } => {
                identify(path)?;
                check_length(path, settle(path, len)?)?;
                Self::start(path, OpenFlags::empty())
            }
        }
    }

    /// Opens the archive, or makes it when there is none. Its folder must exist.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn open_or_create(path: &Path) -> Result<Self, ArchiveError> {
        match Self::open(path) {
            // Nothing was stored in it, so that nothing is lost when it is begun again.
            Err(ArchiveError::Missing { .. } | ArchiveError::Unfinished { .. }) => {
                Self::start(path, OpenFlags::SQLITE_OPEN_CREATE)
            }
            opened => opened,
        }
    }

    /// Opens an archive that is not to be changed, from a place where nothing can be written if need
    /// be.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn open_read_only(path: &Path) -> Result<Self, ArchiveError> {
        match look(path)? {
            Present::Nothing => return Err(ArchiveError::Missing { path: path.to_owned() }),
            Present::File { len } => {
                identify(path)?;
                check_length(path, len)?;
            }
        }
        let making = beside(path, "-journal").exists();
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(path, flags)
            .map_err(explain(path, "open"))
            .and_then(|db| Self::check(db, path, true));
        match opened {
            Err(ArchiveError::ReadOnly { path }) if making => {
                Err(ArchiveError::Unfinished { path })
            }
            // Readers of a write-ahead log need a file beside it. Where that cannot be made and there
            // is no log, the file does not change and can be read as it is.
            Err(
                ArchiveError::FolderReadOnly { .. }
                | ArchiveError::DiskFails { .. }
                | ArchiveError::DiskFull { .. }
                | ArchiveError::Sql { .. }
                | ArchiveError::ReadOnly { .. },
            ) if !has_log(path) => {
                let flags = flags | OpenFlags::SQLITE_OPEN_URI;
                let db = Connection::open_with_flags(immutable_uri(path), flags)
                    .map_err(explain(path, "open"))?;
                Self::check(db, path, true)
            }
            opened => opened,
        }
    }

    /// Another reader of the same archive, for another thread. What was checked when this one was opened
    /// is not checked again.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn another_reader(&self) -> Result<Self, ArchiveError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(&self.path, flags).and_then(|db| {
            db.busy_timeout(BUSY_WAIT)?;
            user_version(&db).map(|_| db)
        });
        match opened {
            Ok(db) => Ok(Self { db, path: self.path.clone(), read_only: true }),
            // A place where nothing can be written needs the longer way.
            Err(_) => Self::open_read_only(&self.path),
        }
    }

    /// An archive in memory, gone with the value: for demonstrations and tests.
    ///
    /// # Errors
    /// [`ArchiveError::Sql`] when SQLite fails.
    pub fn in_memory() -> Result<Self, ArchiveError> {
        let path = Path::new(":memory:");
        let db = Connection::open_in_memory().map_err(explain(path, "open"))?;
        Self::migrated(db, path, true)
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether the archive was opened for reading only.
    #[must_use]
    pub fn is_read_only(&self) -> bool {
        self.read_only
    }

    /// Keeps the file from growing beyond so many pages of 4096 bytes while it is open here, or at
    /// all when it has more: [`ArchiveError::DiskFull`] comes then as from a full disk.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn limit_pages(&mut self, pages: u32) -> Result<(), ArchiveError> {
        self.read("limit the size", |db| {
            db.pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
        })
    }

    fn start(path: &Path, create: OpenFlags) -> Result<Self, ArchiveError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | create;
        let db = Connection::open_with_flags(path, flags).map_err(explain(path, "open"))?;
        Self::migrated(db, path, !create.is_empty())
    }

    /// Brings a new or older archive to the version of this program.
    fn migrated(db: Connection, path: &Path, new: bool) -> Result<Self, ArchiveError> {
        db.busy_timeout(BUSY_WAIT).map_err(explain(path, "open"))?;
        if !new {
            let archive = Self::check(db, path, false)?;
            if archive.db.is_readonly("main").map_err(explain(path, "open"))? {
                return Err(ArchiveError::ReadOnly { path: path.to_owned() });
            }
            return archive.upgraded();
        }
        Self { db, path: path.to_owned(), read_only: false }.upgraded()
    }

    fn upgraded(mut self) -> Result<Self, ArchiveError> {
        let path = self.path.clone();
        let explain = || explain(&path, "set up");
        self.db.pragma_update(None, "synchronous", "full").map_err(explain())?;
        self.db.pragma_update(None, "foreign_keys", true).map_err(explain())?;
        let change =
            self.db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(explain())?;
        let version = user_version(&change).map_err(explain())?;
        let done = usize::try_from(version).unwrap_or(usize::MAX);
        for (script, number) in MIGRATIONS.iter().zip(1_i32..).skip(done) {
            change.execute_batch(script).map_err(explain())?;
            change.pragma_update(None, "user_version", number).map_err(explain())?;
        }
        if done == 0 {
            change.pragma_update(None, "application_id", APPLICATION_ID).map_err(explain())?;
        }
        change.commit().map_err(explain())?;
        // Only now: whoever is killed before leaves an empty file, which is as good as none.
        self.db
            .pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))
            .map_err(explain())?;
        Ok(self)
    }

    /// Makes sure that the file is a sound archive that this program can read.
    fn check(db: Connection, path: &Path, read_only: bool) -> Result<Self, ArchiveError> {
        let explain = || explain(path, "open");
        db.busy_timeout(BUSY_WAIT).map_err(explain())?;
        let application_id: i32 =
            db.pragma_query_value(None, "application_id", |row| row.get(0)).map_err(explain())?;
        if application_id != APPLICATION_ID {
            return Err(ArchiveError::OtherProgram { path: path.to_owned(), application_id });
        }
        let version = user_version(&db).map_err(explain())?;
        known(path, version)?;
        let found: String =
            db.pragma_query_value(None, "quick_check", |row| row.get(0)).map_err(explain())?;
        if found != "ok" || version < 1 {
            return Err(ArchiveError::Damaged { path: path.to_owned(), detail: found });
        }
        Ok(Self { db, path: path.to_owned(), read_only })
    }

    /// One transaction, begun as a writer so that it waits for others at its start and not in its
    /// middle.
    fn change<T>(
        &mut self,
        doing: &'static str,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, ArchiveError> {
        let path = &self.path;
        let change = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(explain(path, doing))?;
        let value = work(&change).map_err(explain(path, doing))?;
        change.commit().map_err(explain(path, doing))?;
        Ok(value)
    }

    fn read<T>(
        &self,
        doing: &'static str,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, ArchiveError> {
        work(&self.db).map_err(explain(&self.path, doing))
    }
}

fn user_version(db: &Connection) -> rusqlite::Result<i32> {
    db.pragma_query_value(None, "user_version", |row| row.get(0))
}
