//! What the server and the way to it say, in our words.

use super::super::ArchiveError;
use super::uri::Target;
use postgres::Error;
use postgres::error::SqlState;

/// Why there is no connection.
pub(super) fn while_connecting(target: &Target, error: &Error) -> ArchiveError {
    let place = target.shown();
    let detail = detail(error);
    let Some(code) = error.code() else {
        // The library asks for the password only when the server wants one.
        return if detail.contains("password missing") {
            ArchiveError::LoginRefused { place, user: target.user(), detail }
        } else {
            ArchiveError::NoServer { place, detail }
        };
    };
    if *code == SqlState::INVALID_PASSWORD || *code == SqlState::INVALID_AUTHORIZATION_SPECIFICATION
    {
        ArchiveError::LoginRefused { place, user: target.user(), detail }
    } else if *code == SqlState::INVALID_CATALOG_NAME {
        ArchiveError::NoDatabase { place, database: target.database() }
    } else if *code == SqlState::TOO_MANY_CONNECTIONS {
        ArchiveError::ServerBusy { place, detail }
    } else if *code == SqlState::INSUFFICIENT_PRIVILEGE {
        ArchiveError::NotAllowed { place, user: target.user(), doing: "connect", detail }
    } else {
        ArchiveError::NoServer { place, detail }
    }
}

/// Why something was not done over a connection.
pub(super) fn explain(target: &Target, doing: &'static str, error: Error) -> ArchiveError {
    let place = target.shown();
    let detail = detail(&error);
    let path = target.place.clone();
    if is_gone(&error) {
        return ArchiveError::ServerGone { place, doing, detail };
    }
    let is = |states: &[SqlState]| error.code().is_some_and(|code| states.contains(code));
    if is(&[SqlState::READ_ONLY_SQL_TRANSACTION]) {
        ArchiveError::ServerReadOnly { place, detail }
    } else if is(&[SqlState::INSUFFICIENT_PRIVILEGE]) {
        ArchiveError::NotAllowed { place, user: target.user(), doing, detail }
    } else if is(&[SqlState::LOCK_NOT_AVAILABLE, SqlState::T_R_DEADLOCK_DETECTED]) {
        ArchiveError::Locked { path }
    } else if is(&[SqlState::DISK_FULL]) {
        ArchiveError::DiskFull { path }
    } else if is(&[SqlState::DATA_CORRUPTED, SqlState::INDEX_CORRUPTED]) {
        ArchiveError::Damaged { path, detail }
    } else if is(&[SqlState::IO_ERROR]) {
        ArchiveError::DiskFails { path, detail }
    } else {
        ArchiveError::Sql { path, doing, source: Box::new(error) }
    }
}

/// Whether the connection is lost.
pub(super) fn is_gone(error: &Error) -> bool {
    let Some(code) = error.code() else {
        let source = std::error::Error::source(error);
        return error.is_closed() || source.is_some_and(|source| source.is::<std::io::Error>());
    };
    [
        SqlState::ADMIN_SHUTDOWN,
        SqlState::CRASH_SHUTDOWN,
        SqlState::CANNOT_CONNECT_NOW,
        SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT,
    ]
    .contains(code)
}

/// The server's own words where it has said something, or else the innermost cause.
fn detail(error: &Error) -> String {
    if let Some(said) = error.as_db_error() {
        return said.message().to_owned();
    }
    let mut inner: &dyn std::error::Error = error;
    while let Some(source) = inner.source() {
        inner = source;
    }
    inner.to_string()
}
