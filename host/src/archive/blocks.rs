//! Blocks, verbatim.

use super::store::{Fault, Row, Store, first, params};
use super::{Archive, ArchiveError};
use glueday_types::{BLOCK_LEN, BlockDigest, Header, LoggerId, digest};
use std::collections::BTreeMap;

/// A block as the archive holds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredBlock {
    /// Whose it is.
    pub logger: LoggerId,
    /// Its number.
    pub number: u32,
    /// Whether the logger has finished it. An open block can still grow.
    pub sealed: bool,
    /// All 4096 bytes of a sealed block; of an open one, those that were written so far.
    pub bytes: Vec<u8>,
    /// SHA-256 of `bytes`.
    pub digest: BlockDigest,
    /// The boot that went on at its start.
    pub boot: u32,
    /// Number of its first entry.
    pub first_entry: u32,
}

/// What came of storing a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It was new, or longer than what was held.
    Stored,
    /// The same bytes, or more of them, were held already. Nothing changed.
    Already,
    /// It differs from what is held. Both are kept.
    Conflict,
}

/// What the archive holds of one logger.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Held {
    /// The sealed blocks by number.
    pub sealed: BTreeMap<u32, HeldBlock>,
    /// The bytes of open blocks by number.
    pub open: BTreeMap<u32, Vec<u8>>,
}

/// The ends of the chain at a sealed block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeldBlock {
    /// SHA-256 of the block.
    pub digest: BlockDigest,
    /// What the block says is the SHA-256 of the one before.
    pub previous: BlockDigest,
}

/// A copy that differs from the block that is held.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// Number of the block.
    pub number: u32,
    /// Whether the copy was sealed.
    pub sealed: bool,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// SHA-256 of `bytes`.
    pub digest: BlockDigest,
    /// Where it came from.
    pub origin: String,
    /// When it was seen, in seconds since 1970-01-01 UTC.
    pub seen_s: i64,
}

const COLUMNS: &str = "SELECT number, sealed, bytes, digest, boot, first_entry FROM blocks";

impl Archive {
    /// Stores a block that the logger has finished, in a transaction of its own. `origin` says where
    /// it came from, for the case that it differs from what is held.
    ///
    /// # Errors
    /// [`ArchiveError::NotABlock`] when the bytes are no whole block of `logger`.
    pub fn put_block(
        &mut self,
        logger: LoggerId,
        bytes: &[u8],
        origin: &str,
        now_s: i64,
    ) -> Result<Kept, ArchiveError> {
        if bytes.len() != BLOCK_LEN {
            let detail = format!("a block has {BLOCK_LEN} bytes, these are {}", bytes.len());
            return Err(ArchiveError::NotABlock { logger, detail });
        }
        self.put(&Copy { logger, bytes, sealed: true, origin, now_s })
    }

    /// Stores the bytes that were written of an open block so far, from its start, in a transaction of
    /// its own. Fewer than are held change nothing.
    ///
    /// # Errors
    /// [`ArchiveError::NotABlock`] when the bytes are not the beginning of a block of `logger`.
    pub fn extend_open_block(
        &mut self,
        logger: LoggerId,
        bytes: &[u8],
        origin: &str,
        now_s: i64,
    ) -> Result<Kept, ArchiveError> {
        if bytes.len() > BLOCK_LEN {
            let detail = format!("a block has {BLOCK_LEN} bytes, these are {}", bytes.len());
            return Err(ArchiveError::NotABlock { logger, detail });
        }
        self.put(&Copy { logger, bytes, sealed: false, origin, now_s })
    }

    fn put(&mut self, copy: &Copy<'_>) -> Result<Kept, ArchiveError> {
        let header = copy.header()?;
        self.change("store a block", |db| put(db, &header, copy))
    }

    /// The blocks of a logger in order of their numbers, checked against their digests.
    ///
    /// # Errors
    /// [`ArchiveError::Damaged`] when the bytes of a block changed since they were stored.
    pub fn blocks(&self, logger: LoggerId) -> Result<Vec<StoredBlock>, ArchiveError> {
        let blocks: Vec<StoredBlock> = self.read("read the blocks", |db| {
            db.query(&format!("{COLUMNS} WHERE logger = ?1 ORDER BY number"), params![&logger.0])?
                .into_iter()
                .map(|row| from_row(logger, row))
                .collect()
        })?;
        match blocks.iter().find(|block| digest(&block.bytes) != block.digest) {
            Some(block) => Err(ArchiveError::Damaged {
                path: self.path().to_owned(),
                detail: format!("block {} of {logger} changed since it was stored", block.number),
            }),
            None => Ok(blocks),
        }
    }

    /// What is held of a logger, for a pull to begin from.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn held(&self, logger: LoggerId) -> Result<Held, ArchiveError> {
        self.read("read the blocks", |db| {
            // In one statement, so that nobody seals a block in between.
            let rows = db.query(
                "SELECT number, sealed, digest, previous, CASE WHEN sealed THEN NULL ELSE bytes END
                 FROM blocks WHERE logger = ?1",
                params![&logger.0],
            )?;
            let mut held = Held::default();
            for mut row in rows {
                let number = row.take(0)?;
                if row.take(1)? {
                    let block = HeldBlock { digest: row.take(2)?, previous: row.take(3)? };
                    held.sealed.insert(number, block);
                } else {
                    held.open.insert(number, row.take(4)?);
                }
            }
            Ok(held)
        })
    }

    /// The copies of a logger's blocks that differ from what is held.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn conflicts(&self, logger: LoggerId) -> Result<Vec<Conflict>, ArchiveError> {
        self.read("read the conflicts", |db| {
            let rows = db.query(
                "SELECT number, sealed, bytes, digest, origin, seen_s FROM conflicts
                 WHERE logger = ?1 ORDER BY number, seen_s, digest",
                params![&logger.0],
            )?;
            let conflict = |mut row: Row| {
                Ok(Conflict {
                    number: row.take(0)?,
                    sealed: row.take(1)?,
                    bytes: row.take(2)?,
                    digest: row.take(3)?,
                    origin: row.take(4)?,
                    seen_s: row.take(5)?,
                })
            };
            rows.into_iter().map(conflict).collect()
        })
    }
}

/// Bytes of a block on their way in.
pub(super) struct Copy<'a> {
    pub(super) logger: LoggerId,
    pub(super) bytes: &'a [u8],
    pub(super) sealed: bool,
    pub(super) origin: &'a str,
    pub(super) now_s: i64,
}

impl Copy<'_> {
    /// The header, when it is one of this logger.
    pub(super) fn header(&self) -> Result<Header, ArchiveError> {
        let logger = self.logger;
        let no = |detail: String| ArchiveError::NotABlock { logger, detail };
        let header = Header::from_bytes(self.bytes).map_err(|error| no(error.to_string()))?;
        if header.logger != logger {
            return Err(no(format!("it belongs to logger {}", header.logger)));
        }
        Ok(header)
    }
}

/// Puts a copy where it belongs.
pub(super) fn put(db: &dyn Store, header: &Header, copy: &Copy<'_>) -> Result<Kept, Fault> {
    let logger = &copy.logger.0;
    let held = db.query(
        "SELECT sealed, bytes FROM blocks WHERE logger = ?1 AND number = ?2",
        params![logger, header.block],
    )?;
    let digest = digest(copy.bytes);
    let Some(mut held) = first(held) else {
        db.execute(
            "INSERT INTO blocks
             (logger, number, sealed, bytes, digest, previous, boot, first_entry, stored_s)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            params![
                logger,
                header.block,
                copy.sealed,
                copy.bytes,
                &digest,
                &header.previous,
                header.boot,
                header.first_entry,
                copy.now_s
            ],
        )?;
        return Ok(Kept::Stored);
    };
    let (sealed, bytes): (bool, Vec<u8>) = (held.take(0)?, held.take(1)?);
    if !same_start(&bytes, copy.bytes) {
        db.execute(
            "INSERT INTO conflicts (logger, number, sealed, bytes, digest, origin, seen_s)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING",
            params![
                logger,
                header.block,
                copy.sealed,
                copy.bytes,
                &digest,
                copy.origin,
                copy.now_s
            ],
        )?;
        return Ok(Kept::Conflict);
    }
    if sealed || (!copy.sealed && copy.bytes.len() <= bytes.len()) {
        return Ok(Kept::Already);
    }
    db.execute(
        "UPDATE blocks SET sealed = ?3, bytes = ?4, digest = ?5, stored_s = ?6
         WHERE logger = ?1 AND number = ?2",
        params![logger, header.block, copy.sealed, copy.bytes, &digest, copy.now_s],
    )?;
    Ok(Kept::Stored)
}

/// Whether the shorter of the two is the beginning of the longer one.
fn same_start(a: &[u8], b: &[u8]) -> bool {
    a.starts_with(b) || b.starts_with(a)
}

fn from_row(logger: LoggerId, mut row: Row) -> Result<StoredBlock, Fault> {
    Ok(StoredBlock {
        logger,
        number: row.take(0)?,
        sealed: row.take(1)?,
        bytes: row.take(2)?,
        digest: row.take(3)?,
        boot: row.take(4)?,
        first_entry: row.take(5)?,
    })
}
