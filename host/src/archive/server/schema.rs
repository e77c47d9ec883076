//! The tables of an archive on a server: those of the file, in PostgreSQL's words.

/// What the archive says that it is.
pub(super) const APPLICATION: &str = "glueday";

/// Versions are numbered as those of the file are; the first that a server can have is this one.
pub(super) const FIRST: i32 = 3;

/// One script for each version, from [`FIRST`] on. Never change one that was released: add the next,
/// together with that of the file.
pub(super) const MIGRATIONS: [&str; 2] = [V3, V4];

/// The schema and the table that says what is in it.
pub(super) const START: &str = "
CREATE SCHEMA IF NOT EXISTS glueday;
CREATE TABLE archive (application TEXT NOT NULL, version BIGINT NOT NULL);
";

/// Blocks and originals stand verbatim. Times are seconds since 1970-01-01 UTC. Texts are ordered by
/// their bytes, as in the file.
const V3: &str = r#"
CREATE TABLE loggers (
    id BYTEA PRIMARY KEY CHECK (octet_length(id) = 8),
    name TEXT COLLATE "C",
    kind TEXT NOT NULL CHECK (kind IN ('logger', 'import')),
    public_key BYTEA CHECK (octet_length(public_key) = 32),
    first_seen_s BIGINT NOT NULL
);
-- One name for each, whatever its case in ASCII.
CREATE UNIQUE INDEX logger_names ON loggers (lower(name));

-- `bytes` of a sealed block are all 4096, of an open one those that were written so far.
CREATE TABLE blocks (
    logger BYTEA NOT NULL REFERENCES loggers (id),
    number BIGINT NOT NULL,
    sealed BOOLEAN NOT NULL,
    bytes BYTEA NOT NULL CHECK (octet_length(bytes) BETWEEN 64 AND 4096),
    digest BYTEA NOT NULL CHECK (octet_length(digest) = 32),
    previous BYTEA NOT NULL CHECK (octet_length(previous) = 32),
    boot BIGINT NOT NULL,
    first_entry BIGINT NOT NULL,
    stored_s BIGINT NOT NULL,
    PRIMARY KEY (logger, number),
    CHECK (NOT sealed OR octet_length(bytes) = 4096)
);

-- Copies that differ from the block that is held.
CREATE TABLE conflicts (
    logger BYTEA NOT NULL REFERENCES loggers (id),
    number BIGINT NOT NULL,
    sealed BOOLEAN NOT NULL,
    bytes BYTEA NOT NULL,
    digest BYTEA NOT NULL CHECK (octet_length(digest) = 32),
    origin TEXT COLLATE "C" NOT NULL,
    seen_s BIGINT NOT NULL,
    PRIMARY KEY (logger, number, digest)
);

CREATE TABLE attestations (
    id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    logger BYTEA NOT NULL REFERENCES loggers (id),
    taken_s BIGINT NOT NULL,
    nonce BYTEA NOT NULL CHECK (octet_length(nonce) = 16),
    open_block BIGINT NOT NULL,
    open_len BIGINT NOT NULL,
    boot BIGINT NOT NULL,
    uptime_s BIGINT NOT NULL,
    digest BYTEA NOT NULL CHECK (octet_length(digest) = 32),
    signature BYTEA NOT NULL CHECK (octet_length(signature) = 64),
    UNIQUE (logger, nonce)
);

CREATE TABLE imports (
    logger BYTEA PRIMARY KEY REFERENCES loggers (id),
    file_name TEXT COLLATE "C" NOT NULL,
    sha256 BYTEA NOT NULL CHECK (octet_length(sha256) = 32),
    original BYTEA NOT NULL,
    mapping TEXT COLLATE "C" NOT NULL CHECK (mapping::json IS NOT NULL),
    imported_s BIGINT NOT NULL
);

CREATE TABLE jobs (
    name TEXT COLLATE "C" PRIMARY KEY,
    path TEXT COLLATE "C" NOT NULL,
    text TEXT COLLATE "C" NOT NULL,
    stored_s BIGINT NOT NULL
);

CREATE TABLE pulls (
    id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    logger BYTEA NOT NULL REFERENCES loggers (id),
    at_s BIGINT NOT NULL,
    port TEXT COLLATE "C" NOT NULL,
    bytes BIGINT NOT NULL,
    result TEXT COLLATE "C" NOT NULL,
    supply_mv BIGINT
);
CREATE INDEX pulls_of_logger ON pulls (logger, id);
"#;

/// An original stands in parts, so that nobody has to hold it in memory more than once.
const V4: &str = "
CREATE TABLE originals (
    logger BYTEA NOT NULL REFERENCES loggers (id),
    part BIGINT NOT NULL,
    bytes BYTEA NOT NULL CHECK (octet_length(bytes) BETWEEN 1 AND 262144),
    PRIMARY KEY (logger, part)
);
INSERT INTO originals
SELECT logger, part, substring(original FROM part * 262144 + 1 FOR 262144)
FROM imports, generate_series(0, (octet_length(original) - 1) / 262144) AS part
WHERE octet_length(original) > 0;
ALTER TABLE imports ADD COLUMN length BIGINT CHECK (length >= 0);
UPDATE imports SET length = octet_length(original);
ALTER TABLE imports ALTER COLUMN length SET NOT NULL;
ALTER TABLE imports DROP COLUMN original;
";

/// Whether the user may do all that a writer does.
pub(super) const MAY_WRITE: &str = "
SELECT COALESCE(bool_and(has_table_privilege('glueday.' || of, may)), FALSE)
    AND NOT current_setting('transaction_read_only')::boolean
FROM (VALUES ('loggers'), ('blocks'), ('conflicts'), ('attestations'), ('imports'), ('originals'),
        ('jobs'), ('pulls')) AS tables (of),
    (VALUES ('SELECT'), ('INSERT')) AS rights (may)
WHERE has_table_privilege('glueday.loggers', 'UPDATE')
    AND has_table_privilege('glueday.blocks', 'UPDATE')
";
