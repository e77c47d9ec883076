//! The archive in a file and on a server: the same answers from both, and what only a server can do wrong.
//!
//! The server is a real one, PostgreSQL; `tests/postgres` installs it.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[path = "../assess_world/mod.rs"]
mod assess_world;

#[path = "../fleet_world/mod.rs"]
mod fleet_world;

mod commands;
mod faults;
mod offices;
mod postgres;
mod suite;
mod versions;

use glueday::archive::Archive;
use sha2::Digest as _;
use std::fmt::Write as _;
use std::path::Path;

/// Runs a test in a file, in memory and on a server: each time it must pass, and leave the same behind.
fn in_every_store(test: fn(&mut Archive)) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("archive.sqlite");
    let server = postgres::Server::shared();
    let uri = server.uri(&server.database());
    let left = [
        Archive::in_memory().unwrap(),
        Archive::create(&file).unwrap(),
        Archive::create(Path::new(&uri)).unwrap(),
    ]
    .map(|mut archive| {
        test(&mut archive);
        told(&archive)
    });
    assert_eq!(left[0], left[1], "a file, and in memory");
    assert_eq!(left[1], left[2], "a server, and a file");
    // What was written is there for whoever opens it next.
    for place in [&file, Path::new(&uri)] {
        assert_eq!(told(&Archive::open_read_only(place).unwrap()), left[0]);
        assert_eq!(told(&Archive::open(place).unwrap()), left[0]);
    }
}

/// Everything that an archive answers.
pub(crate) fn told(archive: &Archive) -> String {
    let mut text = format!("{:#?}\n", archive.jobs().unwrap());
    for logger in archive.loggers().unwrap() {
        let id = logger.id;
        writeln!(text, "{logger:?}").unwrap();
        writeln!(text, "{:?}", archive.blocks(id).unwrap()).unwrap();
        writeln!(text, "{:?}", archive.held(id).unwrap()).unwrap();
        writeln!(text, "{:?}", archive.conflicts(id).unwrap()).unwrap();
        // Of long files the digest: a text of all their bytes takes a minute.
        let import = archive.import(id).unwrap().map(|mut import| {
            import.original = sha2::Sha256::digest(&import.original).to_vec();
            import
        });
        writeln!(text, "{import:?}").unwrap();
        writeln!(text, "{:?}", archive.imported_s(id).unwrap()).unwrap();
        writeln!(text, "{:?}", archive.attestations(id).unwrap()).unwrap();
        writeln!(text, "{:?}", archive.pulls(id).unwrap()).unwrap();
        writeln!(text, "{:?}", archive.last_pull(id).unwrap()).unwrap();
    }
    text
}

macro_rules! tests {
    ($($name:ident),* $(,)?) => {$(
        #[test]
        fn $name() {
            in_every_store(suite::$name);
        }
    )*};
}
tests!(
    a_block_is_kept_once,
    an_open_block_grows_and_is_sealed,
    a_differing_copy_is_kept_beside_it,
    what_is_no_block_of_the_logger_is_not_stored,
    loggers_are_found_by_name_id_and_its_beginning,
    loggers_stand_in_the_order_of_their_names,
    jobs_attestations_and_pulls_come_back,
    an_import_is_kept_with_its_original,
    an_original_of_any_length_comes_back,
    each_reading_of_a_file_keeps_its_mapping,
);
