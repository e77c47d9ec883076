//! Evidence as named files, and back. These are the files that a record carries inside.
//!
//! | name | what |
//! |---|---|
//! | `record.json` | the [`Manifest`](super::Manifest): the question, the verdict, the digests of all the others |
//! | `job.toml` | the job file |
//! | `assessment.json` | the verdict, as `check --json` prints it |
//! | `log-ID.bin` | the blocks of a logger, one behind the other, as it wrote them |
//! | `signatures-ID.json` | its signatures over the head of its log |
//! | `original-ID.csv` | an imported file |
//! | `copy-ID-BLOCK-N.bin` | a copy of a block that differs from the one in the log |

mod read;
mod write;

pub use read::{Unreadable, read, read_evidence, read_manifest};
pub use write::write;

use super::evidence::Log;

/// Name of the [`super::Manifest`].
pub const MANIFEST: &str = "record.json";
/// Name of the job file.
pub const JOB: &str = "job.toml";
/// Name of the assessment.
pub const ASSESSMENT: &str = "assessment.json";

/// A file of a record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct File {
    /// Its name: letters, digits, points and dashes only.
    pub name: String,
    /// Its media type (RFC 6838).
    pub media_type: &'static str,
    /// What it is, in a few words.
    pub what: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

pub(super) fn blocks_name(log: &Log) -> String {
    format!("log-{}.bin", log.logger)
}

fn signatures_name(log: &Log) -> String {
    format!("signatures-{}.json", log.logger)
}

fn original_name(log: &Log) -> String {
    format!("original-{}.csv", log.logger)
}

/// Lower-case hexadecimal digits.
fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// SHA-256 (FIPS 180-4) in hexadecimal digits.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    use sha2::Digest as _;
    hex(&sha2::Sha256::digest(bytes))
}
