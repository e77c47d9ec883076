//! What a verdict rests on, verbatim.

use crate::archive::StoredAttestation;
use crate::assess::Step;
use crate::job::LoggerRef;
use glueday_types::LoggerId;

/// Everything that a verdict rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Name and version of the program that made the record.
    pub program: String,
    /// The job file.
    pub job_text: String,
    /// The step asked about.
    pub step: Step,
    /// The time asked about, in seconds of UTC.
    pub at_s: i64,
    /// The rooms asked about; none means all of the job.
    pub rooms: Vec<String>,
    /// The logs of these rooms, in the order of their ids.
    pub logs: Vec<Log>,
}

/// The log of one logger, or of an imported file.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// Whose.
    pub logger: LoggerId,
    /// The name by which job files refer to it.
    pub name: Option<String>,
    /// The Ed25519 public key that was pinned when the logger was adopted.
    pub public_key: Option<[u8; 32]>,
    /// The blocks in the order of their numbers, each of 4096 bytes but for the last, which may still
    /// have been open.
    pub blocks: Vec<Vec<u8>>,
    /// The signatures in the order in which they were taken.
    pub attestations: Vec<StoredAttestation>,
    /// Where the blocks were made from a file: that file.
    pub original: Option<Original>,
    /// Copies of blocks that differ from those above, which should not be.
    pub other_copies: Vec<CopyOfBlock>,
}

/// An imported file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Original {
    /// Its name when it was imported.
    pub file_name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// The mapping by which it was read, as JSON.
    pub mapping: String,
}

/// A copy of a block that differs from the one that is used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CopyOfBlock {
    /// Number of the block.
    pub number: u32,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// When it was seen, in seconds of UTC.
    pub seen_s: i64,
}

impl Evidence {
    /// The log that a job refers to: by its name, whatever the case, or by the beginning of its id
    /// where that is the beginning of one only.
    #[must_use]
    pub fn log(&self, reference: &LoggerRef) -> Option<&Log> {
        let text = match reference {
            LoggerRef::Id(id) => return self.logs.iter().find(|log| log.logger.0 == *id),
            LoggerRef::Name(text) => text,
        };
        let named = |log: &&Log| log.name.as_ref().is_some_and(|n| n.eq_ignore_ascii_case(text));
        if let Some(log) = self.logs.iter().find(named) {
            return Some(log);
        }
        let start = text.to_ascii_lowercase();
        let mut matching =
            self.logs.iter().filter(|log| log.logger.to_string().starts_with(&start));
        matching.next().filter(|_| !start.is_empty() && matching.next().is_none())
    }
}

impl Log {
    /// The name with the id, or the id alone.
    #[must_use]
    pub fn label(&self) -> String {
        match &self.name {
            Some(name) => format!("{name} ({})", self.logger),
            None => self.logger.to_string(),
        }
    }
}
