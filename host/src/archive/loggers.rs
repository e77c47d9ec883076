//! The loggers that the archive knows.

use super::store::{Fault, Row, Store, first, params};
use super::{Archive, ArchiveError};
use glueday_types::LoggerId;

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

fn from_row(mut row: Row) -> Result<StoredLogger, Fault> {
    Ok(StoredLogger {
        id: LoggerId(row.take(0)?),
        name: row.take(1)?,
        kind: match row.take::<String>(2)?.as_str() {
            "import" => LoggerKind::Import,
            _ => LoggerKind::Logger,
        },
        public_key: row.take(3)?,
        first_seen_s: row.take(4)?,
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
                params![&id.0, public_key.as_ref()],
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
            let order = db.name_order();
            let sql = format!("{COLUMNS} ORDER BY name IS NULL, {order}, id");
            db.query(&sql, params![])?.into_iter().map(from_row).collect()
        })
    }

    /// The logger that `text` means: its name, its id, or the beginning of its id.
    ///
    /// # Errors
    /// [`ArchiveError::UnknownLogger`] and [`ArchiveError::AmbiguousLogger`], with the candidates.
    pub fn find_logger(&self, text: &str) -> Result<StoredLogger, ArchiveError> {
        // Among thousands the whole list is only read for what is neither a name nor an id.
        let whole = self.read("find a logger", |db| {
            let same = db.same_name();
            let named = db.query(&format!("{COLUMNS} WHERE {same}"), params![text])?;
            let named = first(named).map(from_row).transpose()?;
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
    db: &dyn Store,
    id: LoggerId,
    name: &str,
) -> Result<Option<LoggerId>, Fault> {
    let same = db.same_name();
    let sql = format!("SELECT id FROM loggers WHERE {same} AND id <> ?2");
    if let Some(mut owner) = first(db.query(&sql, params![name, &id.0])?) {
        return Ok(Some(LoggerId(owner.take(0)?)));
    }
    db.execute("UPDATE loggers SET name = ?2 WHERE id = ?1", params![&id.0, name])?;
    Ok(None)
}

/// Notes the id, if it is new, and tells whether it was.
pub(super) fn insert(
    db: &dyn Store,
    id: LoggerId,
    kind: LoggerKind,
    now_s: i64,
) -> Result<bool, Fault> {
    let kind = match kind {
        LoggerKind::Logger => "logger",
        LoggerKind::Import => "import",
    };
    let added = db.execute(
        "INSERT INTO loggers (id, kind, first_seen_s) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
        params![&id.0, kind, now_s],
    )?;
    Ok(added > 0)
}

fn by_id(db: &dyn Store, id: LoggerId) -> Result<Option<StoredLogger>, Fault> {
    let rows = db.query(&format!("{COLUMNS} WHERE id = ?1"), params![&id.0])?;
    first(rows).map(from_row).transpose()
}
