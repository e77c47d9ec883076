//! An archive of an older version on a server.

use crate::postgres::Server;
use crate::suite::an_original_of_any_length_comes_back;
use crate::told;
use glueday::archive::Archive;
use std::path::Path;

#[test]
fn an_older_archive_is_read_as_it_is_and_brought_up_when_it_is_written_to() {
    let server = Server::shared();
    let database = server.database();
    let uri = server.uri(&database);
    let mut archive = Archive::create(Path::new(&uri)).unwrap();
    an_original_of_any_length_comes_back(&mut archive);
    let before = told(&archive);
    drop(archive);
    // The first version on servers kept an original as one value.
    server.sql(
        &database,
        "SET search_path TO glueday;
         ALTER TABLE imports ADD COLUMN original BYTEA NOT NULL DEFAULT '';
         UPDATE imports SET original = kept.whole FROM
             (SELECT logger, string_agg(bytes, ''::bytea ORDER BY part) AS whole
              FROM originals GROUP BY logger) AS kept
         WHERE kept.logger = imports.logger;
         ALTER TABLE imports DROP COLUMN length;
         DROP TABLE originals;
         UPDATE archive SET version = 3",
    );
    let version = || server.number(&database, "SELECT version FROM glueday.archive");
    assert_eq!(told(&Archive::open_read_only(Path::new(&uri)).unwrap()), before);
    assert_eq!(version(), 3);
    assert_eq!(told(&Archive::open(Path::new(&uri)).unwrap()), before);
    assert_eq!(version(), 4);
    assert_eq!(told(&Archive::open_read_only(Path::new(&uri)).unwrap()), before);
}
