//! What SQLite says, in our words.

use super::super::ArchiveError;
use rusqlite::ErrorCode;
use rusqlite::ffi::SQLITE_READONLY_DIRECTORY;
use std::path::Path;

/// SQLite's error in our words, where we have some.
pub(super) fn explain(
    path: &Path,
    doing: &'static str,
) -> impl FnOnce(rusqlite::Error) -> ArchiveError {
    let path = path.to_owned();
    move |source| {
        let extended = source.sqlite_error().map(|error| error.extended_code);
        let Some(code) = source.sqlite_error_code() else {
            return match source {
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::InvalidColumnType(..) => {
                    ArchiveError::Damaged { path, detail: source.to_string() }
                }
                _ => ArchiveError::Sql { path, doing, source: Box::new(source) },
            };
        };
        match code {
            ErrorCode::NotADatabase => ArchiveError::NotSqlite { path },
            ErrorCode::DatabaseCorrupt => {
                ArchiveError::Damaged { path, detail: source.to_string() }
            }
            ErrorCode::ReadOnly if extended == Some(SQLITE_READONLY_DIRECTORY) => {
                ArchiveError::FolderReadOnly { path }
            }
            ErrorCode::ReadOnly => ArchiveError::ReadOnly { path },
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => ArchiveError::Locked { path },
            ErrorCode::DiskFull => ArchiveError::DiskFull { path },
            // One result for two causes: the file itself, or one that belongs beside it.
            ErrorCode::CannotOpen => match std::fs::File::open(&path) {
                Err(error) if error.kind() == std::io::ErrorKind::PermissionDenied => {
                    ArchiveError::Denied { path, detail: error.to_string() }
                }
                _ => ArchiveError::FolderReadOnly { path },
            },
            ErrorCode::SystemIoFailure => {
                ArchiveError::DiskFails { path, detail: source.to_string() }
            }
            ErrorCode::PermissionDenied => {
                ArchiveError::Denied { path, detail: source.to_string() }
            }
            _ => ArchiveError::Sql { path, doing, source: Box::new(source) },
        }
    }
}
