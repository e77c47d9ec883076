//! The tables of the archive.

/// Version of the tables that this program writes.
#[allow(clippy::cast_possible_truncation)] // There is a handful of them.
pub const SCHEMA: u32 = MIGRATIONS.len() as u32;

/// Marks the file as an archive of this program ("GlDa" in its header, shown by `file`).
pub(super) const APPLICATION_ID: i32 = i32::from_be_bytes(*b"GlDa");

/// One script for each version, from an empty file on. Never change one that was released: add the
/// next.
pub(super) const MIGRATIONS: [&str; 4] = [V1, V2, V3, V4];
/// The first version whose pulls say how the supply of the logger was.
pub(in super::super) const WITH_SUPPLY: i32 = 3;
/// The first version that keeps originals in parts.
pub(in super::super) const WITH_PARTS: i32 = 4;

/// Blocks and originals stand verbatim. Times are seconds since 1970-01-01 UTC.
const V1: &str = "
CREATE TABLE loggers (
    id BLOB PRIMARY KEY NOT NULL CHECK (length(id) = 8),
    name TEXT UNIQUE COLLATE NOCASE,
    kind TEXT NOT NULL CHECK (kind IN ('logger', 'import')),
    public_key BLOB CHECK (length(public_key) = 32),
    first_seen_s INTEGER NOT NULL
) STRICT;

-- `bytes` of a sealed block are all 4096, of an open one those that were written so far.
CREATE TABLE blocks (
    logger BLOB NOT NULL REFERENCES loggers (id),
    number INTEGER NOT NULL,
    sealed INTEGER NOT NULL CHECK (sealed IN (0, 1)),
    bytes BLOB NOT NULL CHECK (length(bytes) BETWEEN 64 AND 4096),
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    previous BLOB NOT NULL CHECK (length(previous) = 32),
    boot INTEGER NOT NULL,
    first_entry INTEGER NOT NULL,
    stored_s INTEGER NOT NULL,
    PRIMARY KEY (logger, number),
    CHECK (sealed = 0 OR length(bytes) = 4096)
) STRICT;

-- Copies that differ from the block that is held.
CREATE TABLE conflicts (
    logger BLOB NOT NULL REFERENCES loggers (id),
    number INTEGER NOT NULL,
    sealed INTEGER NOT NULL CHECK (sealed IN (0, 1)),
    bytes BLOB NOT NULL,
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    origin TEXT NOT NULL,
    seen_s INTEGER NOT NULL,
    PRIMARY KEY (logger, number, digest)
) STRICT;

CREATE TABLE attestations (
    id INTEGER PRIMARY KEY,
    logger BLOB NOT NULL REFERENCES loggers (id),
    taken_s INTEGER NOT NULL,
    nonce BLOB NOT NULL CHECK (length(nonce) = 16),
    open_block INTEGER NOT NULL,
    open_len INTEGER NOT NULL,
    boot INTEGER NOT NULL,
    uptime_s INTEGER NOT NULL,
    digest BLOB NOT NULL CHECK (length(digest) = 32),
    signature BLOB NOT NULL CHECK (length(signature) = 64),
    UNIQUE (logger, nonce)
) STRICT;

CREATE TABLE imports (
    logger BLOB PRIMARY KEY NOT NULL REFERENCES loggers (id),
    file_name TEXT NOT NULL,
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    original BLOB NOT NULL,
    mapping TEXT NOT NULL CHECK (json_valid(mapping)),
    imported_s INTEGER NOT NULL
) STRICT;

CREATE TABLE jobs (
    name TEXT PRIMARY KEY NOT NULL,
    path TEXT NOT NULL,
    text TEXT NOT NULL,
    stored_s INTEGER NOT NULL
) STRICT;

CREATE TABLE pulls (
    id INTEGER PRIMARY KEY,
    logger BLOB NOT NULL REFERENCES loggers (id),
    at_s INTEGER NOT NULL,
    port TEXT NOT NULL,
    bytes INTEGER NOT NULL,
    result TEXT NOT NULL
) STRICT;
";

/// One file can be read by several mappings; each reading is an import of its own, and its mapping is
/// the only way to tell it from the others.
const V2: &str = "
CREATE TABLE imports_2 (
    logger BLOB PRIMARY KEY NOT NULL REFERENCES loggers (id),
    file_name TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    original BLOB NOT NULL,
    mapping TEXT NOT NULL CHECK (json_valid(mapping)),
    imported_s INTEGER NOT NULL
) STRICT;
INSERT INTO imports_2 SELECT logger, file_name, sha256, original, mapping, imported_s FROM imports;
DROP TABLE imports;
ALTER TABLE imports_2 RENAME TO imports;
";

/// A pull notes the supply voltage that the logger told of, so that a battery that runs out shows.
const V3: &str = "
ALTER TABLE pulls ADD COLUMN supply_mv INTEGER;
";

/// An original stands in parts, so that nobody has to hold it in memory more than once.
const V4: &str = "
CREATE TABLE originals (
    logger BLOB NOT NULL REFERENCES loggers (id),
    part INTEGER NOT NULL,
    bytes BLOB NOT NULL CHECK (length(bytes) BETWEEN 1 AND 262144),
    PRIMARY KEY (logger, part)
) STRICT;
WITH RECURSIVE parts (logger, part) AS (
    SELECT logger, 0 FROM imports WHERE length(original) > 0
    UNION ALL
    SELECT logger, part + 1 FROM parts JOIN imports USING (logger)
    WHERE length(original) > (part + 1) * 262144
)
INSERT INTO originals
SELECT logger, part, substr(original, part * 262144 + 1, 262144) FROM parts JOIN imports USING (logger);
CREATE TABLE imports_4 (
    logger BLOB PRIMARY KEY NOT NULL REFERENCES loggers (id),
    file_name TEXT NOT NULL,
    sha256 BLOB NOT NULL CHECK (length(sha256) = 32),
    length INTEGER NOT NULL CHECK (length >= 0),
    mapping TEXT NOT NULL CHECK (json_valid(mapping)),
    imported_s INTEGER NOT NULL
) STRICT;
INSERT INTO imports_4
SELECT logger, file_name, sha256, length(original), mapping, imported_s FROM imports;
DROP TABLE imports;
ALTER TABLE imports_4 RENAME TO imports;
";
