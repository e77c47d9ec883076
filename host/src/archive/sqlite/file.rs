//! The file of an archive, looked at before SQLite opens it.

use super::super::ArchiveError;
use super::BUSY_WAIT;
use super::explain::explain;
use super::schema::{APPLICATION_ID, MIGRATIONS};
use rusqlite::{Connection, OpenFlags};
use std::io::Read as _;
use std::path::{Path, PathBuf};

/// What there can be under a name.
pub(super) enum Present {
    Nothing,
    File { len: u64 },
}

/// What is there under the name.
pub(super) fn look(path: &Path) -> Result<Present, ArchiveError> {
    let owned = || path.to_owned();
    match std::fs::metadata(path) {
        Ok(found) if found.is_file() => Ok(Present::File { len: found.len() }),
        Ok(_) => Err(ArchiveError::NotAFile { path: owned() }),
        Err(error) if error.kind() == std::io::ErrorKind::PermissionDenied => {
            Err(ArchiveError::Denied { path: owned(), detail: error.to_string() })
        }
        Err(_) => {
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            if folder.is_none_or(Path::is_dir) {
                Ok(Present::Nothing)
            } else {
                Err(ArchiveError::FolderMissing { path: owned() })
            }
        }
    }
}

/// What the first bytes of an SQLite file say.
struct Start {
    /// Where 1 stands for 65536.
    page_size: u16,
    user_version: i32,
    application_id: i32,
}

impl Start {
    /// `None` for what is no SQLite file, or cannot be read.
    fn read(path: &Path) -> Option<Self> {
        // https://www.sqlite.org/fileformat.html, 1.3: the header is 100 bytes long, and its numbers
        // begin with the highest byte.
        let mut start = [0; 100];
        std::fs::File::open(path).ok()?.read_exact(&mut start).ok()?;
        let number = |at: usize| start.get(at..)?.first_chunk().map(|n| i32::from_be_bytes(*n));
        start.starts_with(b"SQLite format 3\0").then_some(Self {
            page_size: start.get(16..)?.first_chunk().map(|n| u16::from_be_bytes(*n))?,
            user_version: number(60)?,
            application_id: number(68)?,
        })
    }
}

/// Refuses the file of another program and that of a newer version before SQLite opens it: to open
/// one can be to change it, when its own program was killed and left a log beside it.
pub(super) fn identify(path: &Path) -> Result<(), ArchiveError> {
    let Some(Start { user_version, application_id, .. }) = Start::read(path) else {
        return Ok(());
    };
    if application_id != APPLICATION_ID {
        return Err(ArchiveError::OtherProgram { path: path.to_owned(), application_id });
    }
    known(path, user_version)
}

pub(super) fn known(path: &Path, version: i32) -> Result<(), ArchiveError> {
    let known = i32::try_from(MIGRATIONS.len()).unwrap_or(i32::MAX);
    if version > known {
        return Err(ArchiveError::Newer { path: path.to_owned(), version, known });
    }
    Ok(())
}

/// Takes back what somebody wrote who was killed while making the archive: only then is there a
/// journal of this kind beside it. Returns how long the file is after that.
pub(super) fn settle(path: &Path, len: u64) -> Result<u64, ArchiveError> {
    if len == 0 || !beside(path, "-journal").exists() {
        return Ok(len);
    }
    let explain = || explain(path, "open");
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = Connection::open_with_flags(path, flags).map_err(explain())?;
    db.busy_timeout(BUSY_WAIT).map_err(explain())?;
    // Any reading does it.
    db.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(())).map_err(explain())?;
    match look(path)? {
        Present::File { len } => Ok(len),
        Present::Nothing => Ok(0),
    }
}

/// Finds a file that was cut off in the middle of a page, which SQLite fills up with zeros unasked.
pub(super) fn check_length(path: &Path, len: u64) -> Result<(), ArchiveError> {
    let damaged = |detail: &str| {
        Err(ArchiveError::Damaged { path: path.to_owned(), detail: detail.to_owned() })
    };
    if len == 0 {
        return Err(ArchiveError::Unfinished { path: path.to_owned() });
    }
    // SQLite has its own words for other files.
    let Some(start) = Start::read(path) else { return Ok(()) };
    let page = match u64::from(start.page_size) {
        1 => 65_536,
        page => page.max(512),
    };
    // Whoever was killed while copying the log into the file left a part of a page, and the log.
    if len.is_multiple_of(page) || beside(path, "-wal").exists() {
        return Ok(());
    }
    damaged("it ends in the middle of a page: it was cut off")
}

/// The file that SQLite keeps beside `path`.
pub(super) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Whether there is anything in the log beside the archive. A reader can leave an empty one.
pub(super) fn has_log(path: &Path) -> bool {
    std::fs::metadata(beside(path, "-wal")).is_ok_and(|log| log.len() > 0)
}

/// `path` as an SQLite URI that says that nobody changes the file.
pub(super) fn immutable_uri(path: &Path) -> String {
    let escaped: String = path
        .to_string_lossy()
        .chars()
        .map(|c| match c {
            '%' => "%25".to_owned(),
            '?' => "%3f".to_owned(),
            '#' => "%23".to_owned(),
            other => other.to_string(),
        })
        .collect();
    format!("file:{escaped}?immutable=1")
}
