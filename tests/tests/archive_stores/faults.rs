//! What can be wrong with a server: each cause has its error, which names the place and never the password.

use crate::postgres::{OWNER, Server};
use crate::suite::logger;
use crate::told;
use glueday::archive::{Archive, ArchiveError, Kept};
use std::path::Path;

const PASSWORD: &str = "s3cr3t-w0rd";

fn read(uri: &str) -> Result<Archive, ArchiveError> {
    Archive::open_read_only(Path::new(uri))
}

fn write(uri: &str) -> Result<Archive, ArchiveError> {
    Archive::open_or_create(Path::new(uri))
}

/// Asserts what the error says, and that it does not say the password.
fn says(error: &ArchiveError, parts: &[&str]) {
    let text = error.to_string();
    for part in parts {
        assert!(text.contains(part), "no `{part}` in: {text}");
    }
    assert!(!format!("{error:?} {text}").contains(PASSWORD), "{text}");
}

#[test]
fn who_may_not_in_is_told() {
    let server = Server::shared();
    let database = server.database();
    let make = format!("CREATE ROLE ann LOGIN PASSWORD '{PASSWORD}'");
    server.sql(&database, &make);
    let right = format!("ann:{PASSWORD}");
    for (user, detail) in [("ann:wrong", "password authentication failed"), ("ann", "password")] {
        let error = read(&server.uri_as(user, &database)).unwrap_err();
        assert!(matches!(&error, ArchiveError::LoginRefused { user, .. } if user == "ann"));
        says(&error, &["ann", detail, "PGPASSWORD", &database]);
    }
    let error = read(&server.uri_as(&right, "nowhere")).unwrap_err();
    assert!(matches!(&error, ArchiveError::NoDatabase { .. }), "{error:?}");
    says(&error, &["no database nowhere", "createdb"]);
    // She gets in, and may make nothing there.
    let uri = server.uri_as(&right, &database);
    let error = read(&uri).unwrap_err();
    assert!(matches!(&error, ArchiveError::Missing { .. }), "{error:?}");
    says(&error, &["there is no archive postgresql://ann@", "pull or import first"]);
    let error = write(&uri).unwrap_err();
    assert!(matches!(&error, ArchiveError::NotAllowed { .. }), "{error:?}");
    says(&error, &["ann may not set up the archive", "permission denied", "ask whoever"]);
    let no_server = uri.replace("data", "").replace("%2F", "%2Fnowhere");
    let error = read(&no_server).unwrap_err();
    assert!(matches!(&error, ArchiveError::NoServer { .. }), "{error:?}");
    says(&error, &["no server answers for postgresql://ann@", "see that it runs"]);
}

#[test]
fn who_may_only_read_reads_and_is_told_before_writing() {
    let server = Server::shared();
    let database = server.database();
    let logger = logger();
    {
        let mut archive = write(&server.uri(&database)).unwrap();
        archive.note_logger(logger.id, None, 7).unwrap();
        archive.put_block(logger.id, &logger.blocks[&0], "test", 1).unwrap();
    }
    let rights = format!(
        "CREATE ROLE bob LOGIN PASSWORD '{PASSWORD}'; GRANT USAGE ON SCHEMA glueday TO bob;
         GRANT SELECT ON ALL TABLES IN SCHEMA glueday TO bob"
    );
    server.sql(&database, &rights);
    let uri = server.uri_as(&format!("bob:{PASSWORD}"), &database);
    let archive = read(&uri).unwrap();
    assert_eq!(archive.blocks(logger.id).unwrap().len(), 1);
    assert_eq!(archive.another_reader().unwrap().blocks(logger.id).unwrap().len(), 1);
    says(&write(&uri).unwrap_err(), &["can only be read by you", "ask whoever", &database]);
    assert!(matches!(write(&uri), Err(ArchiveError::ServerReadOnly { .. })));
    // One right less than all is told as well.
    server.sql(&database, "GRANT INSERT, UPDATE ON ALL TABLES IN SCHEMA glueday TO bob");
    write(&uri).unwrap();
    server.sql(&database, "REVOKE UPDATE ON glueday.blocks FROM bob");
    assert!(matches!(write(&uri), Err(ArchiveError::ServerReadOnly { .. })));
    server.sql(
        &database,
        "REVOKE INSERT ON glueday.pulls FROM bob; GRANT UPDATE ON glueday.blocks TO bob",
    );
    assert!(matches!(write(&uri), Err(ArchiveError::ServerReadOnly { .. })));
    // Whoever opened to read cannot write, whatever the rights.
    let mut reader = read(&server.uri(&database)).unwrap();
    assert!(reader.is_read_only());
    for mut reader in [reader.another_reader().unwrap(), read(&server.uri(&database)).unwrap()] {
        let error = reader.put_block(logger.id, &logger.blocks[&1], "test", 1).unwrap_err();
        assert!(matches!(error, ArchiveError::ServerReadOnly { .. }), "{error:?}");
    }
    assert!(reader.put_block(logger.id, &logger.blocks[&1], "test", 1).is_err());
    assert_eq!(reader.blocks(logger.id).unwrap().len(), 1);
    server.sql(&database, "DROP OWNED BY bob; DROP ROLE bob");
}

#[test]
fn what_is_none_of_ours_or_newer_is_left_alone() {
    let server = Server::shared();
    let database = server.database();
    let uri = server.uri(&database);
    // Another program's table of the same name does not matter, as ours stand apart.
    server.sql(&database, "CREATE TABLE blocks (x BIGINT); CREATE TABLE archive (x BIGINT)");
    write(&uri).unwrap();
    assert_eq!(server.number(&database, "SELECT version FROM glueday.archive"), 4);
    let error = Archive::create(Path::new(&uri)).unwrap_err();
    assert!(matches!(error, ArchiveError::Exists { .. }), "{error:?}");

    server.sql(&database, "UPDATE glueday.archive SET version = 5");
    for result in [read(&uri), write(&uri), Archive::open(Path::new(&uri))] {
        let error = result.unwrap_err();
        assert!(matches!(error, ArchiveError::Newer { version: 5, known: 4, .. }), "{error:?}");
        says(&error, &["update the program", &database]);
    }
    assert_eq!(server.number(&database, "SELECT version FROM glueday.archive"), 5);
    for what in ["UPDATE glueday.archive SET application = 'other'", "DELETE FROM glueday.archive"]
    {
        server.sql(&database, what);
        for result in [read(&uri), write(&uri)] {
            let error = result.unwrap_err();
            assert!(matches!(error, ArchiveError::Damaged { .. }), "{what}: {error:?}");
        }
    }
    let database = server.database();
    server.sql(&database, "CREATE SCHEMA glueday; CREATE TABLE glueday.blocks (x BIGINT)");
    assert!(write(&server.uri(&database)).is_err());
    assert_eq!(
        server.number(&database, "SELECT count(*) FROM pg_tables WHERE schemaname = 'glueday'"),
        1
    );

    server.sql("postgres", "CREATE DATABASE old ENCODING 'LATIN1' TEMPLATE template0");
    let error = write(&server.uri("old")).unwrap_err();
    assert!(matches!(&error, ArchiveError::ServerEncoding { .. }), "{error:?}");
    says(&error, &["LATIN1", "createdb -E UTF8"]);
    assert!(matches!(read(&server.uri("old")), Err(ArchiveError::Missing { .. })));
    server.sql("postgres", "DROP DATABASE old");
}

#[test]
fn altered_bytes_are_found() {
    let server = Server::shared();
    let database = server.database();
    let uri = server.uri(&database);
    let logger = logger();
    let mut archive = write(&uri).unwrap();
    archive.note_logger(logger.id, None, 7).unwrap();
    archive.put_block(logger.id, &logger.blocks[&0], "test", 1).unwrap();
    server.sql(
        &database,
        "UPDATE glueday.blocks SET bytes = set_byte(bytes, 3000, get_byte(bytes, 3000) # 1)",
    );
    let error = archive.blocks(logger.id).unwrap_err();
    assert!(matches!(&error, ArchiveError::Damaged { .. }), "{error:?}");
    says(&error, &["block 0", "changed since it was stored", OWNER]);
    // A number that no block can have.
    server.sql(&database, "UPDATE glueday.blocks SET number = -1");
    let error = archive.held(logger.id).unwrap_err();
    assert!(matches!(&error, ArchiveError::Damaged { .. }), "{error:?}");
}

#[test]
fn a_server_that_is_killed_loses_nothing_and_the_next_pull_goes_on() {
    // One of its own, as the others would miss it.
    let server = Server::new();
    let database = server.database();
    let uri = server.uri(&database);
    let logger = logger();
    let mut archive = write(&uri).unwrap();
    archive.note_logger(logger.id, None, 7).unwrap();
    archive.put_block(logger.id, &logger.blocks[&0], "test", 1).unwrap();
    let before = told(&archive);

    // Its connection alone is cut: the next question makes another.
    let cut = "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE application_name = 'glueday'";
    assert_eq!(server.number(&database, cut), 1);
    assert_eq!(told(&archive), before);
    assert_eq!(server.number(&database, cut), 1);
    assert_eq!(archive.put_block(logger.id, &logger.blocks[&0], "test", 2).unwrap(), Kept::Already);

    // In the middle of a change: while it waits for another writer.
    let mut other = crate::postgres::postgres_client(&uri).unwrap();
    let lock = i64::from(i32::from_be_bytes(*b"GlDa"));
    other.execute("SELECT pg_advisory_lock($1)", &[&lock]).unwrap();
    let waiting = "SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'";
    let error = std::thread::scope(|scope| {
        let writer = scope.spawn(|| archive.put_block(logger.id, &logger.blocks[&1], "test", 1));
        while server.number(&database, waiting) == 0 {
            std::thread::sleep(std::time::Duration::from_millis(10));
        }
        server.kill();
        writer.join().unwrap().unwrap_err()
    });
    let gone = matches!(&error, ArchiveError::ServerGone { .. } | ArchiveError::NoServer { .. });
    assert!(gone, "{error:?}");
    says(&error, &["what was stored before is safe", &database]);
    let error = archive.blocks(logger.id).unwrap_err();
    assert!(matches!(&error, ArchiveError::NoServer { .. }), "{error:?}");
    let error = write(&uri).unwrap_err();
    assert!(matches!(&error, ArchiveError::NoServer { .. }), "{error:?}");

    server.start();
    assert_eq!(told(&archive), before, "the same connection heals");
    for (number, block) in &logger.blocks {
        // The last one is still open.
        let kept = match block.len() {
            4096 => archive.put_block(logger.id, block, "test", 1).unwrap(),
            _ => archive.extend_open_block(logger.id, block, "test", 1).unwrap(),
        };
        assert_eq!(kept, if *number == 0 { Kept::Already } else { Kept::Stored });
    }
    let held = read(&uri).unwrap().blocks(logger.id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(logger.blocks.values()));
}
