//! What can go wrong with an archive, each cause on its own.

use std::path::PathBuf;

/// Why the archive cannot be used. Each message names the file, the cause and what to do next.
#[derive(Debug, thiserror::Error)]
pub enum ArchiveError {
    /// There is no such file.
    #[error("there is no archive {}: pull or import first, or name another with --archive", .path.display())]
    Missing {
        /// The file.
        path: PathBuf,
    },
    /// Nothing was stored in it yet: whoever made it was killed. Or it was emptied.
    #[error(
        "there is nothing in the archive {}, its making was cut off: pull or import again; if there was more in it, take a backup instead",
        .path.display()
    )]
    Unfinished {
        /// The file.
        path: PathBuf,
    },
    /// There is a file already.
    #[error("{} exists already: open it instead, or name another", .path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// The folder of the file is missing.
    #[error("the folder of {} does not exist: make it, or name another with --archive", .path.display())]
    FolderMissing {
        /// The file.
        path: PathBuf,
    },
    /// The name belongs to a folder or a device.
    #[error("{} is not a file: name one with --archive", .path.display())]
    NotAFile {
        /// What was named.
        path: PathBuf,
    },
    /// The file is of another kind.
    #[error("{} is not an archive (no SQLite file): name another with --archive", .path.display())]
    NotSqlite {
        /// The file.
        path: PathBuf,
    },
    /// The file belongs to another program.
    #[error(
        "{} is the database of another program (application id {application_id:#010x}); it was left as it is: name another file with --archive",
        .path.display()
    )]
    OtherProgram {
        /// The file.
        path: PathBuf,
        /// The id that it bears.
        application_id: i32,
    },
    /// The file was written by a newer version of this program.
    #[error(
        "{} has archive version {version}; this program knows versions up to {known}: update the program",
        .path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        version: i32,
        /// The newest that this program knows.
        known: i32,
    },
    /// The file is damaged.
    #[error(
        "{} is damaged ({detail}): keep it, and go on with a backup or pull into a new archive",
        .path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        detail: String,
    },
    /// The file can only be read.
    #[error("{} can only be read: make it writable, or copy it to a writable place", .path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// A file has to be made beside the archive, and cannot be.
    #[error(
        "nothing can be written beside {}: make its folder writable, or copy it, with the files beside it whose names begin with its name, to a writable place",
        .path.display()
    )]
    FolderReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The user may not open the file.
    #[error("no permission to open {} ({detail}): ask its owner, or name another with --archive", .path.display())]
    Denied {
        /// The file.
        path: PathBuf,
        /// The system's words.
        detail: String,
    },
    /// Another process is writing.
    #[error("{} is in use by another process: wait until that has finished, then try again", .path.display())]
    Locked {
        /// The file.
        path: PathBuf,
    },
    /// The disk is full.
    #[error("no room left on the disk of {}: what was stored before is safe; make room and repeat", .path.display())]
    DiskFull {
        /// The file.
        path: PathBuf,
    },
    /// The disk fails.
    #[error(
        "the disk of {} fails ({detail}): what was stored before is safe; check its room, the user's quota and the cable, then repeat",
        .path.display()
    )]
    DiskFails {
        /// The file.
        path: PathBuf,
        /// What SQLite says.
        detail: String,
    },
    /// The database reports something else.
    #[error("cannot {doing} in {}: {source}", .path.display())]
    Sql {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// What the database says.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The archive is on a server, and this program was built without that.
    #[error(
        "this program was built without PostgreSQL: build it with `cargo build --release --features postgres`, or name a file with --archive"
    )]
    NoPostgres,
    /// The place of a server cannot be understood.
    #[error(
        "--archive is no connection URI ({why}): write postgresql://USER@HOST:PORT/DATABASE, and put the password into PGPASSWORD"
    )]
    BadUri {
        /// What is wrong with it. Nothing of the URI, which can hold a password.
        why: String,
    },
    /// The blocks would go over a network for all to see.
    #[error(
        "will not send the archive of {place} unencrypted, and this program speaks no TLS: go through a tunnel to a port of this computer, or add ?sslmode=disable where the network is your own"
    )]
    NotEncrypted {
        /// The server.
        place: String,
    },
    /// Nobody answers.
    #[error(
        "no server answers for {place} ({detail}): see that it runs, and that this computer can reach it; what was stored before is safe"
    )]
    NoServer {
        /// The server.
        place: String,
        /// The system's or the server's words.
        detail: String,
    },
    /// The connection was lost, or the server stopped.
    #[error(
        "the server of {place} went away (to {doing}: {detail}): what was stored before is safe; repeat when it is back"
    )]
    ServerGone {
        /// The server.
        place: String,
        /// What was being done.
        doing: &'static str,
        /// The system's or the server's words.
        detail: String,
    },
    /// The server does not let the user in.
    #[error(
        "{place} does not let {user} in ({detail}): see to the name of the user, and to the password in PGPASSWORD"
    )]
    LoginRefused {
        /// The server.
        place: String,
        /// Who.
        user: String,
        /// The server's words.
        detail: String,
    },
    /// The server has no such database.
    #[error(
        "there is no database {database} on the server of {place}: have it made (createdb -E UTF8), or name another with --archive"
    )]
    NoDatabase {
        /// The server.
        place: String,
        /// The database.
        database: String,
    },
    /// The database cannot hold every text.
    #[error(
        "the database of {place} keeps text as {encoding}, in which some letters have no place: make one with UTF8 (createdb -E UTF8 -T template0)"
    )]
    ServerEncoding {
        /// The server.
        place: String,
        /// The encoding.
        encoding: String,
    },
    /// The server takes no more connections.
    #[error(
        "{place} takes no more connections ({detail}): wait until others have finished, then try again"
    )]
    ServerBusy {
        /// The server.
        place: String,
        /// The server's words.
        detail: String,
    },
    /// The user lacks a right.
    #[error(
        "{user} may not {doing} in {place} ({detail}): ask whoever keeps the server for that right"
    )]
    NotAllowed {
        /// The server.
        place: String,
        /// Who.
        user: String,
        /// What was being done.
        doing: &'static str,
        /// The server's words.
        detail: String,
    },
    /// The archive on the server can only be read.
    #[error(
        "{place} can only be read by you ({detail}): ask whoever keeps the server for the right to write, or name another with --archive"
    )]
    ServerReadOnly {
        /// The server.
        place: String,
        /// The server's words.
        detail: String,
    },
    /// The bytes to store are not a block of that logger.
    #[error("will not store what is no block of logger {logger}: {detail}")]
    NotABlock {
        /// The logger.
        logger: glueday_types::LoggerId,
        /// What is wrong with it.
        detail: String,
    },
    /// No logger is meant by the text.
    #[error("no logger is called `{text}`; {}", known(.candidates))]
    UnknownLogger {
        /// What was asked for.
        text: String,
        /// The loggers there are, as name and id.
        candidates: Vec<String>,
    },
    /// More than one logger is meant by the text.
    #[error("`{text}` can mean {}: write more of the id", .candidates.join(" or "))]
    AmbiguousLogger {
        /// What was asked for.
        text: String,
        /// The loggers it can mean, as name and id.
        candidates: Vec<String>,
    },
    /// Another logger has this name.
    #[error("the name `{name}` belongs to logger {owner}: choose another")]
    NameTaken {
        /// The name.
        name: String,
        /// Whose it is.
        owner: glueday_types::LoggerId,
    },
    /// The name cannot be used.
    #[error("`{name}` cannot be a logger's name: {why}")]
    BadName {
        /// The name.
        name: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// The logger shows another key than the one that was pinned when it was adopted.
    #[error(
        "logger {logger} shows another public key than when it was adopted: it was replaced or reset, and its signatures do not prove the old log"
    )]
    KeyChanged {
        /// The logger.
        logger: glueday_types::LoggerId,
    },
}

fn known(candidates: &[String]) -> String {
    if candidates.is_empty() {
        "the archive has no loggers yet: pull or import first".to_owned()
    } else {
        format!("there are {}: write one of these, or adopt or import it", candidates.join(", "))
    }
}
