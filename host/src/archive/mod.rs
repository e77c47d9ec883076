//! The archive keeps every block as the logger wrote it: in an SQLite file, or on a PostgreSQL server that
//! several offices share.
//!
//! Blocks are never changed once they are sealed, and never dropped. A copy that differs from what is
//! held is kept beside it, not instead of it. Each block is stored in its own transaction, so that a
//! pull that is killed loses nothing that was stored before.

mod blocks;
mod encode;
mod error;
mod import;
mod loggers;
mod originals;
mod place;
mod records;
#[cfg(feature = "postgres")]
mod server;
mod sqlite;
mod store;

pub use crate::intake::Row as ImportRow;
pub use blocks::{Conflict, Held, HeldBlock, Kept, StoredBlock};
pub use encode::{EncodeError, ImportedLog, import_blocks, import_id};
pub use error::ArchiveError;
pub use import::{ImportError, ImportedFile, import_again, import_file};
pub use loggers::{LoggerKind, StoredLogger};
pub use originals::{Import, NewImport};
pub use place::{ARCHIVE_ENV, NoPlace, choose_place, default_place};
pub use records::{Job, PullRecord, StoredAttestation};
pub use sqlite::SCHEMA;

use place::is_server;
use std::path::{Path, PathBuf};
use store::{Change, Fault, Store, params};

/// An open archive.
#[derive(Debug)]
pub struct Archive {
    store: Box<dyn Store>,
    path: PathBuf,
    read_only: bool,
}

/// How an archive is opened.
#[derive(Clone, Copy)]
enum Opening {
    Create,
    Write,
    WriteOrCreate,
    Read,
}

impl Archive {
    /// Makes a new archive. Its folder, or its database, must exist.
    ///
    /// # Errors
    /// [`ArchiveError::Exists`] when there is one already.
    pub fn create(path: &Path) -> Result<Self, ArchiveError> {
        if is_server(path) {
            return Self::on_server(path, Opening::Create);
        }
        Ok(Self::of(sqlite::File::create(path)?, path, false))
    }

    /// Opens an archive for reading and writing: a file, or what a connection URI such as
    /// `postgresql://user@host/database` names.
    ///
    /// # Errors
    /// See [`ArchiveError`]: each cause has its own.
    pub fn open(path: &Path) -> Result<Self, ArchiveError> {
        if is_server(path) {
            return Self::on_server(path, Opening::Write);
        }
        Ok(Self::of(sqlite::File::open(path)?, path, false))
    }

    /// Opens the archive, or makes it when there is none. Its folder, or its database, must exist.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn open_or_create(path: &Path) -> Result<Self, ArchiveError> {
        if is_server(path) {
            return Self::on_server(path, Opening::WriteOrCreate);
        }
        Ok(Self::of(sqlite::File::open_or_create(path)?, path, false))
    }

    /// Opens an archive that is not to be changed, from a place where nothing can be written if need
    /// be.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn open_read_only(path: &Path) -> Result<Self, ArchiveError> {
        if is_server(path) {
            return Self::on_server(path, Opening::Read);
        }
        Ok(Self::of(sqlite::File::open_read_only(path)?, path, true))
    }

    #[cfg(feature = "postgres")]
    fn on_server(uri: &Path, opening: Opening) -> Result<Self, ArchiveError> {
        use server::Server;
        let server = match opening {
            Opening::Create => Server::create(uri),
            Opening::Write => Server::open(uri),
            Opening::WriteOrCreate => Server::open_or_create(uri),
            Opening::Read => Server::open_read_only(uri),
        }?;
        let place = server.place();
        Ok(Self::of(server, &place, matches!(opening, Opening::Read)))
    }

    #[cfg(not(feature = "postgres"))]
    fn on_server(_: &Path, _: Opening) -> Result<Self, ArchiveError> {
        Err(ArchiveError::NoPostgres)
    }

    /// Another reader of the same archive, for another thread. What was checked when this one was opened
    /// is not checked again.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn another_reader(&self) -> Result<Self, ArchiveError> {
        let store = self.store.another_reader()?;
        Ok(Self { store, path: self.path.clone(), read_only: true })
    }

    /// An archive in memory, gone with the value: for demonstrations and tests.
    ///
    /// # Errors
    /// [`ArchiveError::Sql`] when SQLite fails.
    pub fn in_memory() -> Result<Self, ArchiveError> {
        Ok(Self::of(sqlite::File::in_memory()?, Path::new(":memory:"), false))
    }

    fn of(store: impl Store + 'static, path: &Path, read_only: bool) -> Self {
        Self { store: Box::new(store), path: path.to_owned(), read_only }
    }

    /// The file, or the server without the password.
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
    /// See [`ArchiveError`]; a server is not limited so.
    pub fn limit_pages(&mut self, pages: u32) -> Result<(), ArchiveError> {
        let limit = format!("PRAGMA max_page_count = {pages}");
        self.read("limit the size", |store| store.query(&limit, params![]).map(|_| ()))
    }

    /// One transaction: all of `work`, or nothing.
    fn change<T>(
        &mut self,
        doing: &'static str,
        work: impl FnOnce(&dyn Store) -> Result<T, Fault>,
    ) -> Result<T, ArchiveError> {
        self.change_unless(doing, work, |_| false)
    }

    /// One transaction that is taken back when `refused` does not like what came of it.
    fn change_unless<T>(
        &mut self,
        doing: &'static str,
        work: impl FnOnce(&dyn Store) -> Result<T, Fault>,
        refused: impl FnOnce(&T) -> bool,
    ) -> Result<T, ArchiveError> {
        let store = &*self.store;
        let done = Change::begin(store).and_then(|change| {
            let value = work(store)?;
            if !refused(&value) {
                change.commit()?;
            }
            Ok(value)
        });
        done.map_err(|fault| store.explain(doing, fault))
    }

    fn read<T>(
        &self,
        doing: &'static str,
        work: impl FnOnce(&dyn Store) -> Result<T, Fault>,
    ) -> Result<T, ArchiveError> {
        work(&*self.store).map_err(|fault| self.store.explain(doing, fault))
    }
}
