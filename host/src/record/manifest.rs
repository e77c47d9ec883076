//! `record.json`: what a record holds, and the digests of it.

use serde::{Deserialize, Serialize};

/// Version of the manifest; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

/// What a record holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manifest {
    /// Version of this document.
    pub schema: u32,
    /// Name and version of the program that made the record.
    pub program: String,
    /// The step asked about.
    pub step: String,
    /// The time asked about, RFC 3339 in UTC.
    pub at: String,
    /// The rooms asked about; none means all of the job.
    pub rooms: Vec<String>,
    /// `go` or `wait`.
    pub verdict: String,
    /// The logs.
    pub logs: Vec<LogEntry>,
    /// Every other file of the record.
    pub files: Vec<FileEntry>,
    /// SHA-256 of this document as [`Manifest::to_text`] writes it with [`UNSEALED`] in this place,
    /// 64 hexadecimal digits. It finds damage; whoever means harm can compute it anew.
    pub sha256: String,
}

/// What stands for the digest of the manifest while it is taken.
pub const UNSEALED: &str = "0000000000000000000000000000000000000000000000000000000000000000";

impl Manifest {
    /// The document.
    ///
    /// # Errors
    /// Only what the JSON writer reports; it has no cause to with these types.
    pub fn to_text(&self) -> Result<String, serde_json::Error> {
        Ok(serde_json::to_string_pretty(self)? + "\n")
    }

    /// The digest that [`Manifest::sha256`] should be.
    ///
    /// # Errors
    /// As [`Manifest::to_text`].
    pub fn seal(&self) -> Result<String, serde_json::Error> {
        let unsealed = Self { sha256: UNSEALED.to_owned(), ..self.clone() };
        Ok(super::files::sha256(unsealed.to_text()?.as_bytes()))
    }
}

/// A log of the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogEntry {
    /// Id of the logger, 16 hexadecimal digits.
    pub logger: String,
    /// The name by which the job refers to it.
    pub name: Option<String>,
    /// Ed25519 public key, 64 hexadecimal digits.
    pub public_key: Option<String>,
    /// The file with its blocks, one behind the other.
    pub blocks: String,
    /// The file with its signatures, when there are any.
    pub signatures: Option<String>,
    /// The imported file that the blocks were made from.
    pub original: Option<OriginalEntry>,
    /// Copies of blocks that differ from those above.
    pub other_copies: Vec<CopyEntry>,
}

/// An imported file of the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OriginalEntry {
    /// Its name when it was imported.
    pub file_name: String,
    /// The file of the record that holds it.
    pub file: String,
    /// The options by which it was read.
    pub mapping: serde_json::Value,
}

/// A copy of a block that differs from the one that is used.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CopyEntry {
    /// Number of the block.
    pub block: u32,
    /// When it was seen, RFC 3339 in UTC.
    pub seen: String,
    /// The file of the record that holds it.
    pub file: String,
}

/// A file of the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileEntry {
    /// Its name.
    pub name: String,
    /// Its length.
    pub bytes: u64,
    /// Its SHA-256, 64 hexadecimal digits.
    pub sha256: String,
}

/// One signature, as `signatures-ID.json` lists them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignatureEntry {
    /// When it was taken by the clock of the computer, RFC 3339 in UTC.
    pub taken: String,
    /// The nonce, 32 hexadecimal digits.
    pub nonce: String,
    /// The block that was open.
    pub open_block: u32,
    /// Bytes written of it.
    pub open_len: u16,
    /// The boot.
    pub boot: u32,
    /// Seconds since then.
    pub uptime_s: u32,
    /// SHA-256 over the bytes written of the open block, 64 hexadecimal digits.
    pub digest: String,
    /// Ed25519 signature, 128 hexadecimal digits.
    pub signature: String,
}
