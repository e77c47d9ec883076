//! Several offices with one archive, at the same time.

use crate::postgres::{Server, postgres_client};
use crate::suite::logger;
use glueday::archive::{Archive, ArchiveError, Kept};
use glueday_tests::faulty_link::ToyLogger;
use glueday_types::LoggerId;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Barrier;

#[test]
fn offices_that_make_and_fill_it_together_lose_nothing_and_hide_nothing() {
    const OFFICES: usize = 4;
    let server = Server::shared();
    let database = server.database();
    let uri = server.uri(&database);
    let mut logger = logger();
    // Those that are finished.
    logger.blocks.retain(|_, block| block.len() == 4096);
    let count = logger.blocks.len();
    assert!(count >= 2, "{count} blocks");
    // What the first office got of the second block was damaged on the way.
    let mut other = logger.blocks[&1].clone();
    other[2000] ^= 4;
    let start = Barrier::new(OFFICES);
    let results: Vec<Vec<Kept>> = std::thread::scope(|scope| {
        let office = |i: usize| {
            let (uri, start, logger, other) = (&uri, &start, &logger, &other);
            move || {
                start.wait();
                let mut archive = Archive::open_or_create(Path::new(uri)).unwrap();
                archive.note_logger(logger.id, None, 7).unwrap();
                let origin = format!("office {i}");
                let mut results = Vec::new();
                for (number, block) in &logger.blocks {
                    let block = if i == 0 && *number == 1 { other } else { block };
                    archive.extend_open_block(logger.id, &block[..900], &origin, 1).unwrap();
                    results.push(archive.put_block(logger.id, block, &origin, 1).unwrap());
                }
                results
            }
        };
        let offices: Vec<_> = (0..OFFICES).map(|i| scope.spawn(office(i))).collect();
        offices.into_iter().map(|office| office.join().unwrap()).collect()
    });
    // Each block was stored by exactly one of them, and the others found it there.
    for number in 0..count {
        let stored = results.iter().filter(|kept| kept[number] == Kept::Stored).count();
        assert_eq!(stored, 1, "block {number}: {results:?}");
        let conflicts = results.iter().filter(|kept| kept[number] == Kept::Conflict).count();
        let expected = match (number, results[0][1]) {
            (1, Kept::Conflict) => 1,
            (1, _) => OFFICES - 1,
            _ => 0,
        };
        assert_eq!(conflicts, expected, "block {number}: {results:?}");
    }
    let archive = Archive::open_read_only(Path::new(&uri)).unwrap();
    let held: BTreeMap<u32, Vec<u8>> = archive
        .blocks(logger.id)
        .unwrap()
        .into_iter()
        .map(|block| (block.number, block.bytes))
        .collect();
    let conflicts = archive.conflicts(logger.id).unwrap();
    // Both versions of the one block are there, one of them beside.
    let (right, wrong) = (&logger.blocks[&1], &other);
    let pair = if held[&1] == *right { (right, wrong) } else { (wrong, right) };
    assert_eq!((&held[&1], &conflicts[0].bytes), pair);
    assert_eq!(conflicts.len(), 1);
    for (number, block) in &logger.blocks {
        assert!(*number == 1 || held[number] == *block, "block {number}");
    }
    assert_eq!(archive.loggers().unwrap().len(), 1);
}

#[test]
fn of_two_offices_that_give_one_name_one_is_told() {
    let server = Server::shared();
    let uri = server.uri(&server.database());
    Archive::create(Path::new(&uri)).unwrap();
    let start = Barrier::new(4);
    let results: Vec<_> = std::thread::scope(|scope| {
        let office = |i: u8| {
            let (uri, start) = (&uri, &start);
            move || {
                let mut archive = Archive::open(Path::new(uri)).unwrap();
                start.wait();
                let name = if i.is_multiple_of(2) { "Hall" } else { "hALL" };
                archive.adopt(LoggerId([i + 1; 8]), name, Some([i; 32]), 1)
            }
        };
        let offices: Vec<_> = (0..4).map(|i| scope.spawn(office(i))).collect();
        offices.into_iter().map(|office| office.join().unwrap()).collect()
    });
    let named: Vec<LoggerId> =
        results.iter().filter_map(|result| Some(result.as_ref().ok()?.id)).collect();
    assert_eq!(named.len(), 1, "{results:?}");
    for result in &results {
        if let Err(error) = result {
            assert!(
                matches!(error, ArchiveError::NameTaken { owner, .. } if *owner == named[0]),
                "{error}"
            );
        }
    }
    let archive = Archive::open_read_only(Path::new(&uri)).unwrap();
    assert_eq!(archive.find_logger("hall").unwrap().id, named[0]);
    assert_eq!(archive.loggers().unwrap().len(), 4);
}

#[test]
fn who_waits_too_long_for_another_writer_is_told_and_readers_never_wait() {
    let server = Server::shared();
    let uri = server.uri(&server.database());
    let logger: ToyLogger = logger();
    // The usual wait is half a minute.
    let short = format!("{uri}?options=-c%20lock_timeout%3D150");
    let mut archive = Archive::create(Path::new(&short)).unwrap();
    archive.note_logger(logger.id, None, 7).unwrap();
    let mut other = postgres_client(&uri).unwrap();
    let lock = i64::from(i32::from_be_bytes(*b"GlDa"));
    other.execute("SELECT pg_advisory_lock($1)", &[&lock]).unwrap();
    let error = archive.put_block(logger.id, &logger.blocks[&0], "test", 1).unwrap_err();
    assert!(matches!(&error, ArchiveError::Locked { .. }), "{error:?}");
    assert_eq!(archive.loggers().unwrap().len(), 1);
    assert_eq!(Archive::open_read_only(Path::new(&uri)).unwrap().loggers().unwrap().len(), 1);
    drop(other);
    assert_eq!(archive.put_block(logger.id, &logger.blocks[&0], "test", 1).unwrap(), Kept::Stored);
}
