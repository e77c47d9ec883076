//! What the archive keeps beside blocks: jobs, attestations, and which pulls there were.

use super::sqlite::WITH_SUPPLY;
use super::store::{Fault, Row, Store, first, params};
use super::{Archive, ArchiveError};
use glueday_types::LoggerId;
use glueday_types::wire::Attestation;

/// A job file as it was at the time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Job {
    /// Name of the job.
    pub name: String,
    /// Where the file was.
    pub path: String,
    /// Its text.
    pub text: String,
    /// When it was stored, in seconds since 1970-01-01 UTC.
    pub stored_s: i64,
}

/// A signature of a logger over the head of its log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StoredAttestation {
    /// Whose.
    pub logger: LoggerId,
    /// When it was taken, in seconds since 1970-01-01 UTC.
    pub taken_s: i64,
    /// The nonce that the host chose.
    pub nonce: [u8; 16],
    /// What the logger answered.
    pub attestation: Attestation,
}

/// A pull that was made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PullRecord {
    /// Whose log.
    pub logger: LoggerId,
    /// When it ended, in seconds since 1970-01-01 UTC.
    pub at_s: i64,
    /// Through which port.
    pub port: String,
    /// How many bytes of the log it moved.
    pub bytes: u64,
    /// How it ended: [`PullRecord::COMPLETE`], or what broke it off.
    pub result: String,
    /// Supply voltage of the logger in millivolts, when it could tell.
    pub supply_mv: Option<u16>,
}

impl PullRecord {
    /// The result of a pull that got all there was.
    pub const COMPLETE: &'static str = "complete";
}

impl Archive {
    /// Keeps the text of a job, in place of what was kept of it before.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn put_job(&mut self, job: &Job) -> Result<(), ArchiveError> {
        self.change("store the job", |db| {
            db.execute(
                "INSERT INTO jobs (name, path, text, stored_s) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (name) DO UPDATE SET path = ?2, text = ?3, stored_s = ?4",
                params![&job.name, &job.path, &job.text, job.stored_s],
            )
            .map(|_| ())
        })
    }

    /// The jobs in order of their names.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn jobs(&self) -> Result<Vec<Job>, ArchiveError> {
        self.read("read the jobs", |db| {
            let sql = "SELECT name, path, text, stored_s FROM jobs ORDER BY name";
            let job = |mut row: Row| {
                Ok(Job {
                    name: row.take(0)?,
                    path: row.take(1)?,
                    text: row.take(2)?,
                    stored_s: row.take(3)?,
                })
            };
            db.query(sql, params![])?.into_iter().map(job).collect()
        })
    }

    /// Keeps a signature of a known logger.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn put_attestation(&mut self, new: &StoredAttestation) -> Result<(), ArchiveError> {
        let Attestation { open_block, open_len, boot, uptime_s, digest, .. } = new.attestation;
        let signature = [new.attestation.signature_r, new.attestation.signature_s].concat();
        self.change("store the attestation", |db| {
            db.execute(
                "INSERT INTO attestations (logger, taken_s, nonce, open_block, open_len, boot,
                 uptime_s, digest, signature) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
                 ON CONFLICT DO NOTHING",
                params![
                    &new.logger.0,
                    new.taken_s,
                    &new.nonce,
                    open_block,
                    open_len,
                    boot,
                    uptime_s,
                    &digest,
                    signature.as_slice()
                ],
            )
            .map(|_| ())
        })
    }

    /// The signatures of a logger in the order in which they were taken.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn attestations(&self, logger: LoggerId) -> Result<Vec<StoredAttestation>, ArchiveError> {
        self.read("read the attestations", |db| {
            let rows = db.query(
                "SELECT taken_s, nonce, open_block, open_len, boot, uptime_s, digest, signature
                 FROM attestations WHERE logger = ?1 ORDER BY taken_s, id",
                params![&logger.0],
            )?;
            let attestation = |mut row: Row| {
                let signature: [u8; 64] = row.take(7)?;
                let (r, s) = signature.split_at(32);
                Ok(StoredAttestation {
                    logger,
                    taken_s: row.take(0)?,
                    nonce: row.take(1)?,
                    attestation: Attestation {
                        open_block: row.take(2)?,
                        open_len: row.take(3)?,
                        boot: row.take(4)?,
                        uptime_s: row.take(5)?,
                        digest: row.take(6)?,
                        signature_r: half(r),
                        signature_s: half(s),
                    },
                })
            };
            rows.into_iter().map(attestation).collect()
        })
    }

    /// Notes that a pull was made from a known logger.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn note_pull(&mut self, pull: &PullRecord) -> Result<(), ArchiveError> {
        self.change("note the pull", |db| {
            db.execute(
                "INSERT INTO pulls (logger, at_s, port, bytes, result, supply_mv)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    &pull.logger.0,
                    pull.at_s,
                    &pull.port,
                    i64::try_from(pull.bytes).unwrap_or(i64::MAX),
                    &pull.result,
                    pull.supply_mv
                ],
            )
            .map(|_| ())
        })
    }

    /// The pulls from a logger in order.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn pulls(&self, logger: LoggerId) -> Result<Vec<PullRecord>, ArchiveError> {
        self.read("read the pulls", |db| {
            let sql = format!("{} WHERE logger = ?1 ORDER BY id", pull_columns(db)?);
            let rows = db.query(&sql, params![&logger.0])?;
            rows.into_iter().map(|row| pull_from_row(logger, row)).collect()
        })
    }

    /// The last pull from a logger that got all there was.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn last_pull(&self, logger: LoggerId) -> Result<Option<PullRecord>, ArchiveError> {
        self.read("read the pulls", |db| {
            let columns = pull_columns(db)?;
            let rows = db.query(
                &format!("{columns} WHERE logger = ?1 AND result = ?2 ORDER BY id DESC LIMIT 1"),
                params![&logger.0, PullRecord::COMPLETE],
            )?;
            first(rows).map(|row| pull_from_row(logger, row)).transpose()
        })
    }
}

/// An archive that was opened to read keeps the version that it has.
fn pull_columns(db: &dyn Store) -> Result<String, Fault> {
    let supply = if db.version()? < WITH_SUPPLY { "NULL" } else { "supply_mv" };
    Ok(format!("SELECT at_s, port, bytes, result, {supply} FROM pulls"))
}

fn pull_from_row(logger: LoggerId, mut row: Row) -> Result<PullRecord, Fault> {
    Ok(PullRecord {
        logger,
        at_s: row.take(0)?,
        port: row.take(1)?,
        bytes: u64::try_from(row.take::<i64>(2)?).unwrap_or(0),
        result: row.take(3)?,
        supply_mv: row.take(4)?,
    })
}

/// Half a signature; both halves are 32 bytes wherever it is called.
fn half(bytes: &[u8]) -> [u8; 32] {
    bytes.first_chunk().copied().unwrap_or([0; 32])
}
