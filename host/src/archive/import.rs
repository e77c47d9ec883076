//! From an imported file to the log that stands for it: when it is imported, and each time that the
//! log is to be compared with the file again.

use super::encode::{EncodeError, ImportedLog, id_of_parts, import_blocks};
use crate::intake::{self, Intake, IntakeErrors, Mapping, MappingError};

/// A file with the log that stands for it.
#[derive(Clone, Debug, PartialEq)]
pub struct ImportedFile {
    /// What was read from it.
    pub intake: Intake,
    /// The mapping by which it was read, with everything decided, as JSON.
    pub mapping: String,
    /// The same rows as blocks.
    pub log: ImportedLog,
}

/// Why no log can be made from a file.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// It cannot be read.
    #[error("{0}")]
    Intake(#[from] IntakeErrors),
    /// Its rows are no log.
    #[error("{file}: {source}")]
    Encode {
        /// The file.
        file: String,
        /// What is wrong with the rows.
        source: EncodeError,
    },
    /// The mapping is not one that this program wrote.
    #[error("the mapping of {file} cannot be read: {problem}")]
    Mapping {
        /// The file.
        file: String,
        /// What is wrong with it.
        problem: String,
    },
}

/// Reads a file by a mapping and makes its log; `file` is its name for messages.
///
/// # Errors
/// See [`ImportError`].
pub fn import_file(
    original: &[u8],
    file: &str,
    mapping: &Mapping,
) -> Result<ImportedFile, ImportError> {
    let intake = intake::read(original, file, mapping)?;
    let options = intake.mapping_used.to_options();
    let mapping = serde_json::to_string(&options).map_err(|error| ImportError::Mapping {
        file: file.to_owned(),
        problem: error.to_string(),
    })?;
    // Another reading of the same file is other data, and must not be taken for an altered log.
    let logger = id_of_parts(&[original, mapping.as_bytes()]);
    let log = import_blocks(&intake.rows, logger)
        .map_err(|source| ImportError::Encode { file: file.to_owned(), source })?;
    Ok(ImportedFile { intake, mapping, log })
}

/// Makes the log of a file anew by the mapping that [`import_file`] noted.
///
/// # Errors
/// See [`ImportError`].
pub fn import_again(
    original: &[u8],
    file: &str,
    mapping: &str,
) -> Result<ImportedFile, ImportError> {
    let bad = |problem: String| ImportError::Mapping { file: file.to_owned(), problem };
    let options: Vec<(String, String)> =
        serde_json::from_str(mapping).map_err(|error| bad(error.to_string()))?;
    let mapping =
        Mapping::from_options(&options).map_err(|error: MappingError| bad(error.to_string()))?;
    import_file(original, file, &mapping)
}
