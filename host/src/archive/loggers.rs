//! The loggers that the archive knows.

use super::{Archive, ArchiveError};
use glueday_types::LoggerId;
use rusqlite::{Connection, OptionalExtension as _, Row, params};

/// Where the blocks under a logger's id come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoggerKind {
    /// From a logger.
    Logger,
    /// From an imported file.
    Import,
}

/// A logger as the archive knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StoredLogger {
    /// Its id.
    pub id: LoggerId,
    /// The name that the user gave it.
    pub name: Option<String>,
    /// A logger, or a file that stands for one.
    pub kind: LoggerKind,
    /// Its Ed25519 public key, as pinned when it was first seen or adopted.
    pub public_key: Option<[u8; 32]>,
    /// When the archive first saw it, in seconds since 1970-01-01 UTC.
    pub first_seen_s: i64,
}

impl StoredLogger {
    /// The name with the id, or the id alone.
    #[must_use]
    pub fn label(&self) -> String {
        match &self.name {
            Some(name) => format!("{name} ({})", self.id),
            None => self.id.to_string(),
        }
    }
}

const COLUMNS: &str = "SELECT id, name, kind, public_key, first_seen_s FROM loggers";

fn from_row(row: &Row<'_>) -> rusqlite::Result<StoredLogger> {
    Ok(StoredLogger {
        id: LoggerId(row.get(0)?),
        name: row.get(1)?,
        kind: match row.get::<_, String>(2)?.as_str() {
            "import" => LoggerKind::Import,
            _ => LoggerKind::Logger,
        },
        public_key: row.get(3)?,
        first_seen_s: row.get(4)?,
    })
}

impl Archive {
    /// Notes that a logger was met. A key is pinned the first time one is shown.
    ///
    /// # Errors
    /// [`ArchiveError::KeyChanged`] when it shows another key than the pinned one, or none any more.
    pub fn note_logger(
        &mut self,
        id: LoggerId,
        public_key: Option<[u8; 32]>,
        now_s: i64,
    ) -> Result<StoredLogger, ArchiveError> {
        let logger = self.change("note a logger", |db| {
            insert(db, id, LoggerKind::Logger, now_s)?;
            db.execute(
                "UPDATE loggers SET public_key = ?2 WHERE id = ?1 AND public_key IS NULL",
                params![id.0, public_key],
            )?;
            by_id(db, id)
        })?;
        match logger {
            Some(logger) if logger.public_key == public_key => Ok(logger),
            _ => Err(ArchiveError::KeyChanged { logger: id }),
        }
    }

    /// Gives a logger its name and pins its key.
    ///
    /// # Errors
    /// [`ArchiveError::NameTaken`] when another logger has the name, [`ArchiveError::BadName`] when it
    /// is no name, and those of [`Archive::note_logger`].
    pub fn adopt(
        &mut self,
        id: LoggerId,
        name: &str,
        public_key: Option<[u8; 32]>,
        now_s: i64,
    ) -> Result<StoredLogger, ArchiveError> {
        self.note_logger(id, public_key, now_s)?;
        self.name_logger(id, name)
    }

    /// Gives a known logger, or an import, a name.
    ///
    /// # Errors
    /// [`ArchiveError::NameTaken`], [`ArchiveError::BadName`], and [`ArchiveError::UnknownLogger`] when
    /// the archive does not know the id.
    pub fn name_logger(&mut self, id: LoggerId, name: &str) -> Result<StoredLogger, ArchiveError> {
        check_name(name)?;
        let (owner, logger) =
            self.change("name a logger", |db| Ok((give_name(db, id, name)?, by_id(db, id)?)))?;
        match (owner, logger) {
            (Some(owner), _) => Err(ArchiveError::NameTaken { name: name.to_owned(), owner }),
            (None, Some(logger)) => Ok(logger),
            (None, None) => Err(self.unknown(&id.to_string())),
        }
    }

    /// All loggers and imports, in the order of their names, those without a name last.
    ///
    /// # Errors
    /// See [`ArchiveError`].
    pub fn loggers(&self) -> Result<Vec<StoredLogger>, ArchiveError> {
        self.read("list the loggers", |db| {
            db.prepare(&format!("{COLUMNS} ORDER BY name IS NULL, name, id"))?
                .query_map([], from_row)?
                .collect()
        })
    }

    /// The logger that `text` means: its name, its id, or the beginning of its id.
    ///
    /// # Errors
    /// [`ArchiveError::UnknownLogger`] and [`ArchiveError::AmbiguousLogger`], with the candidates.
    pub fn find_logger(&self, text: &str) -> Result<StoredLogger, ArchiveError> {
        // Among thousands the whole list is only read for what is neither a name nor an id.
        let whole = self.read("find a logger", |db| {
            let named =
                db.query_row(&format!("{COLUMNS} WHERE name = ?1"), [text], from_row).optional()?;
            match (named, text.parse::<LoggerId>()) {
                (None, Ok(id)) => by_id(db, id),
                (named, _) => Ok(named),
            }
        })?;
        if let Some(logger) = whole {
            return Ok(logger);
        }
        let loggers = self.loggers()?;
        let named = |logger: &&StoredLogger| {
            logger.name.as_ref().is_some_and(|name| name.eq_ignore_ascii_case(text))
        };
        if let Some(logger) = loggers.iter().find(named) {
            return Ok(logger.clone());
        }
        let prefix = text.to_ascii_lowercase();
        let mut matching: Vec<&StoredLogger> = loggers
            .iter()
            .filter(|logger| !prefix.is_empty() && logger.id.to_string().starts_with(&prefix))
            .collect();
        match (matching.pop(), matching.is_empty()) {
            (Some(logger), true) => Ok(logger.clone()),
            (Some(last), false) => {
                let candidates = matching.iter().map(|l| l.label()).chain([last.label()]).collect();
                Err(ArchiveError::AmbiguousLogger { text: text.to_owned(), candidates })
            }
            (None, _) => Err(self.unknown(text)),
        }
    }

    fn unknown(&self, text: &str) -> ArchiveError {
        let candidates =
            self.loggers().unwrap_or_default().iter().map(StoredLogger::label).collect();
        ArchiveError::UnknownLogger { text: text.to_owned(), candidates }
    }
}

/// Whether `name` can be a name.
pub(super) fn check_name(name: &str) -> Result<(), ArchiveError> {
    let bad = |why| Err(ArchiveError::BadName { name: name.to_owned(), why });
    if name.is_empty() || name.trim() != name {
        return bad("it is empty, or begins or ends with a space");
    }
    if name.chars().any(char::is_control) {
        return bad("it has control characters");
    }
    if name.parse::<LoggerId>().is_ok() {
        return bad("it reads like the id of a logger");
    }
    Ok(())
}

/// Gives a known logger a name, unless another one has it: that one is returned.
pub(super) fn give_name(
    db: &Connection,
    id: LoggerId,
    name: &str,
) -> rusqlite::Result<Option<LoggerId>> {
    let owner = db
        .query_row(
            "SELECT id FROM loggers WHERE name = ?1 AND id <> ?2",
            params![name, id.0],
            |row| row.get(0).map(LoggerId),
        )
        .optional()?;
    if owner.is_none() {
        db.execute("UPDATE loggers SET name = ?2 WHERE id = ?1", params![id.0, name])?;
    }
    Ok(owner)
}

/// Notes the id, if it is new.
pub(super) fn insert(
    db: &Connection,
    id: LoggerId,
    kind: LoggerKind,
    now_s: i64,
) -> rusqlite::Result<usize> {
    let kind = match kind {
        LoggerKind::Logger => "logger",
        LoggerKind::Import => "import",
    };
    db.execute(
        "INSERT INTO loggers (id, kind, first_seen_s) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
        params![id.0, kind, now_s],
    )
}

fn by_id(db: &Connection, id: LoggerId) -> rusqlite::Result<Option<StoredLogger>> {
    db.query_row(&format!("{COLUMNS} WHERE id = ?1"), [id.0], from_row).optional()
}
