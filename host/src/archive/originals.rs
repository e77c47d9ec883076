//! Imported files as they came. What was read from them stands as blocks.

use super::blocks::{Copy, put};
use super::loggers::{LoggerKind, check_name, give_name, insert};
use super::sqlite::WITH_PARTS;
use super::store::{Fault, Row, Store, first, params};
use super::{Archive, ArchiveError, Kept};
use glueday_types::LoggerId;
use sha2::Digest as _;

/// The longest part of an original, in bytes. A database copies what it is given as one value, more
/// than once: of a file of a year that would be more memory than all the rest of an import takes.
const PART_LEN: usize = 256 * 1024;

/// A file to import.
#[derive(Clone, Copy, Debug)]
pub struct NewImport<'a> {
    /// The name under which its data stands.
    pub name: &'a str,
    /// Name of the file.
    pub file_name: &'a str,
    /// The file, verbatim.
    pub original: &'a [u8],
    /// The mapping of columns, units and zone by which it was read, as JSON.
    pub mapping: &'a str,
    /// The same data as blocks, from [`super::import_blocks`].
    pub blocks: &'a [Vec<u8>],
    /// The id that the blocks bear, from [`super::import_id`].
    pub logger: LoggerId,
}

/// An imported file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Import {
    /// The id under which its data stands as blocks.
    pub logger: LoggerId,
    /// Name of the file.
    pub file_name: String,
    /// SHA-256 of the file.
    pub sha256: [u8; 32],
    /// The file, verbatim.
    pub original: Vec<u8>,
    /// The mapping by which it was read, as JSON.
    pub mapping: String,
    /// When it was imported, in seconds since 1970-01-01 UTC.
    pub imported_s: i64,
}

impl Archive {
    /// Keeps an imported file with its blocks and its name, in one transaction. The same file again,
    /// read by the same mapping, adds nothing, and gets the new name when that is another; read by
    /// another mapping under the same id it is a [`Kept::Conflict`], and only the first stands as
    /// blocks.
    ///
    /// # Errors
    /// [`ArchiveError::NotABlock`] when a block does not bear the id of the import;
    /// [`ArchiveError::NameTaken`] and [`ArchiveError::BadName`]. Nothing is stored then.
    pub fn add_import(&mut self, new: &NewImport<'_>, now_s: i64) -> Result<Kept, ArchiveError> {
        check_name(new.name)?;
        let copies: Vec<Copy<'_>> = new
            .blocks
            .iter()
            .map(|bytes| Copy {
                logger: new.logger,
                bytes,
                sealed: true,
                origin: new.file_name,
                now_s,
            })
            .collect();
        let headers = copies.iter().map(Copy::header).collect::<Result<Vec<_>, _>>()?;
        let sha256 = <[u8; 32]>::from(sha2::Sha256::digest(new.original));
        let work = |db: &dyn Store| {
            let mut kept = Kept::Already;
            if insert(db, new.logger, LoggerKind::Import, now_s)? {
                kept = Kept::Stored;
            }
            let length = i64::try_from(new.original.len()).unwrap_or(i64::MAX);
            let inserted = db.execute(
                "INSERT INTO imports (logger, file_name, sha256, length, mapping, imported_s)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT DO NOTHING",
                params![&new.logger.0, new.file_name, &sha256, length, new.mapping, now_s],
            )?;
            if inserted > 0 {
                put_original(db, new.logger, new.original)?;
            }
            for (header, copy) in headers.iter().zip(&copies) {
                match put(db, header, copy)? {
                    Kept::Conflict => kept = Kept::Conflict,
                    Kept::Stored if kept == Kept::Already => kept = Kept::Stored,
                    Kept::Stored | Kept::Already => {}
                }
            }
            Ok((kept, give_name(db, new.logger, new.name)?))
        };
        let (kept, owner) =
            self.change_unless("store the import", work, |done| done.1.is_some())?;
        match owner {
            Some(owner) => Err(ArchiveError::NameTaken { name: new.name.to_owned(), owner }),
            None => Ok(kept),
        }
    }

    /// The imported file that stands as blocks under `logger`.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn import(&self, logger: LoggerId) -> Result<Option<Import>, ArchiveError> {
        self.read("read the import", |db| {
            let parts = db.version()? >= WITH_PARTS;
            let original = if parts { "length" } else { "original" };
            let sql = format!(
                "SELECT file_name, sha256, {original}, mapping, imported_s FROM imports
                 WHERE logger = ?1"
            );
            let import = |mut row: Row| {
                Ok(Import {
                    logger,
                    file_name: row.take(0)?,
                    sha256: row.take(1)?,
                    original: if parts {
                        original_of(db, logger, row.take(2)?)?
                    } else {
                        row.take(2)?
                    },
                    mapping: row.take(3)?,
                    imported_s: row.take(4)?,
                })
            };
            first(db.query(&sql, params![&logger.0])?).map(import).transpose()
        })
    }

    /// When the file that stands under `logger` was imported, in seconds since 1970-01-01 UTC; the file
    /// itself stays where it is.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn imported_s(&self, logger: LoggerId) -> Result<Option<i64>, ArchiveError> {
        self.read("read the import", |db| {
            let sql = "SELECT imported_s FROM imports WHERE logger = ?1";
            let rows = db.query(sql, params![&logger.0])?;
            first(rows).map(|mut row| row.take(0)).transpose()
        })
    }
}

/// Keeps an original, part for part.
fn put_original(db: &dyn Store, logger: LoggerId, original: &[u8]) -> Result<(), Fault> {
    for (part, bytes) in (0_i64..).zip(original.chunks(PART_LEN)) {
        db.execute(
            "INSERT INTO originals (logger, part, bytes) VALUES (?1, ?2, ?3)",
            params![&logger.0, part, bytes],
        )?;
    }
    Ok(())
}

/// An original, which is `length` bytes long, from its parts.
fn original_of(db: &dyn Store, logger: LoggerId, length: i64) -> Result<Vec<u8>, Fault> {
    let wrong = |has: &str| Fault::Cell(format!("the file of import {logger} {has}"));
    let length = usize::try_from(length).map_err(|_| wrong("has no length"))?;
    let mut original = Vec::new();
    original.try_reserve_exact(length).map_err(|_| wrong("does not fit into memory"))?;
    for part in 0_i64.. {
        // One at a time: all of them at once would be the file once more.
        let sql = "SELECT bytes FROM originals WHERE logger = ?1 AND part = ?2";
        let Some(mut row) = first(db.query(sql, params![&logger.0, part])?) else { break };
        let bytes: Vec<u8> = row.take(0)?;
        original.extend_from_slice(&bytes);
    }
    if original.len() != length {
        let is = format!("has {} bytes in place of {length}", original.len());
        return Err(wrong(&is));
    }
    Ok(original)
}
