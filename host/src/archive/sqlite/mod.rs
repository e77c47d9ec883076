//! The archive in an SQLite file.

mod explain;
mod file;
mod schema;

pub use schema::SCHEMA;
pub(super) use schema::{WITH_PARTS, WITH_SUPPLY};

use super::ArchiveError;
use super::store::{Fault, Param, Row, Store, Value};
use explain::explain;
use file::{Present, beside, check_length, has_log, identify, immutable_uri, known, look, settle};
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, OpenFlags, ToSql, TransactionBehavior};
use schema::{APPLICATION_ID, MIGRATIONS};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long to wait for another process that is writing.
const BUSY_WAIT: Duration = Duration::from_secs(5);

/// An open file.
#[derive(Debug)]
pub(super) struct File {
    db: Connection,
    path: PathBuf,
}

impl File {
    /// Makes a new archive. Its folder must exist.
    pub(super) fn create(path: &Path) -> Result<Self, ArchiveError> {
        match look(path)? {
            Present::File { .. } => Err(ArchiveError::Exists { path: path.to_owned() }),
            Present::Nothing => Self::start(path, OpenFlags::SQLITE_OPEN_CREATE),
        }
    }

    /// Opens an archive for reading and writing.
    pub(super) fn open(path: &Path) -> Result<Self, ArchiveError> {
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
    pub(super) fn open_or_create(path: &Path) -> Result<Self, ArchiveError> {
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
    pub(super) fn open_read_only(path: &Path) -> Result<Self, ArchiveError> {
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
            .and_then(|db| Self::check(db, path));
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
                Self::check(db, path)
            }
            opened => opened,
        }
    }

    /// An archive in memory, gone with the value: for demonstrations and tests.
    pub(super) fn in_memory() -> Result<Self, ArchiveError> {
        let path = Path::new(":memory:");
        let db = Connection::open_in_memory().map_err(explain(path, "open"))?;
        Self::migrated(db, path, true)
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
            let file = Self::check(db, path)?;
            if file.db.is_readonly("main").map_err(explain(path, "open"))? {
                return Err(ArchiveError::ReadOnly { path: path.to_owned() });
            }
            return file.upgraded();
        }
        Self { db, path: path.to_owned() }.upgraded()
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
    fn check(db: Connection, path: &Path) -> Result<Self, ArchiveError> {
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
        Ok(Self { db, path: path.to_owned() })
    }
}

impl Store for File {
    fn execute(&self, sql: &str, params: &[Param<'_>]) -> Result<u64, Fault> {
        let changed = self.db.prepare_cached(sql)?.execute(rusqlite::params_from_iter(params))?;
        Ok(changed as u64)
    }

    fn query(&self, sql: &str, params: &[Param<'_>]) -> Result<Vec<Row>, Fault> {
        let mut statement = self.db.prepare_cached(sql)?;
        let columns = statement.column_count();
        let rows = statement.query_map(rusqlite::params_from_iter(params), |row| {
            (0..columns)
                .map(|column| row.get_ref(column))
                .collect::<Result<Vec<_>, _>>()
                .map(|values| values.into_iter().map(value).collect::<Result<Vec<_>, _>>().map(Row))
        })?;
        rows.map(|row| row?).collect()
    }

    fn begin(&self) -> Result<(), Fault> {
        // As a writer from the start, so that it waits for others here and not in its middle.
        Ok(self.db.execute_batch("BEGIN IMMEDIATE")?)
    }

    fn commit(&self) -> Result<(), Fault> {
        Ok(self.db.execute_batch("COMMIT")?)
    }

    fn roll_back(&self) {
        // Some faults take it back by themselves. Where this one fails as well, nothing is committed.
        if !self.db.is_autocommit() {
            let _ = self.db.execute_batch("ROLLBACK");
        }
    }

    fn version(&self) -> Result<i32, Fault> {
        Ok(user_version(&self.db)?)
    }

    fn same_name(&self) -> &'static str {
        // The column compares so by itself.
        "name = ?1"
    }

    fn name_order(&self) -> &'static str {
        "name"
    }

    fn explain(&self, doing: &'static str, fault: Fault) -> ArchiveError {
        match fault {
            Fault::Sqlite(error) => explain(&self.path, doing)(error),
            other => other.explain(&self.path, doing),
        }
    }

    fn another_reader(&self) -> Result<Box<dyn Store>, ArchiveError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let opened = Connection::open_with_flags(&self.path, flags).and_then(|db| {
            db.busy_timeout(BUSY_WAIT)?;
            user_version(&db).map(|_| db)
        });
        Ok(Box::new(match opened {
            Ok(db) => Self { db, path: self.path.clone() },
            // A place where nothing can be written needs the longer way.
            Err(_) => Self::open_read_only(&self.path)?,
        }))
    }
}

impl ToSql for Param<'_> {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match *self {
            Self::Null => ValueRef::Null,
            Self::Bool(value) => ValueRef::Integer(value.into()),
            Self::Whole(value) => ValueRef::Integer(value),
            Self::Text(text) => ValueRef::Text(text.as_bytes()),
            Self::Bytes(bytes) => ValueRef::Blob(bytes),
        }))
    }
}

fn value(value: ValueRef<'_>) -> Result<Value, Fault> {
    Ok(match value {
        ValueRef::Null => Value::Null,
        ValueRef::Integer(value) => Value::Whole(value),
        ValueRef::Blob(bytes) => Value::Bytes(bytes.to_vec()),
        ValueRef::Text(text) => match std::str::from_utf8(text) {
            Ok(text) => Value::Text(text.to_owned()),
            Err(error) => return Err(Fault::Cell(format!("a text is not UTF-8 ({error})"))),
        },
        ValueRef::Real(_) => return Err(Fault::Cell("a number is not whole".to_owned())),
    })
}

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Sqlite(error)
    }
}

fn user_version(db: &Connection) -> rusqlite::Result<i32> {
    db.pragma_query_value(None, "user_version", |row| row.get(0))
}
