//! The archive as a file: what is wrong with one is told, each cause on its own.

// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use glueday::archive::{
    Archive, ArchiveError, ImportRow, Kept, NewImport, import_blocks, import_id,
};
use glueday_tests::faulty_link::ToyLogger;
use glueday_types::{Absent, CentiCelsius, CentiPercent, LoggerId};
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

fn logger() -> ToyLogger {
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(4000, 5);
    logger
}

/// An archive with the blocks of `logger`, closed.
fn filled(folder: &Path, logger: &ToyLogger) -> PathBuf {
    let path = folder.join("a.db");
    let mut archive = Archive::create(&path).unwrap();
    fill(&mut archive, logger);
    path
}

fn fill(archive: &mut Archive, logger: &ToyLogger) -> Vec<Kept> {
    archive.note_logger(logger.id, None, 7).unwrap();
    let open = logger.status().open_block;
    logger
        .blocks
        .iter()
        .map(|(number, bytes)| {
            if *number < open {
                archive.put_block(logger.id, bytes, "test", 8).unwrap()
            } else {
                archive.extend_open_block(logger.id, bytes, "test", 8).unwrap()
            }
        })
        .collect()
}

#[test]
fn what_was_stored_is_there_again() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let archive = Archive::open(&path).unwrap();
    let held = archive.blocks(logger.id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(logger.blocks.values()));
    assert!(held.iter().all(|b| b.sealed == (b.number < logger.status().open_block)));
    drop(archive);
    // One file holds it all: none is left beside it.
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    let bytes = fs::read(&path).unwrap();
    assert_eq!(&bytes[68..72], b"GlDa", "application id in the SQLite header");
}

#[test]
fn missing_files_and_folders() {
    let folder = folder();
    let path = folder.path().join("none.db");
    assert!(matches!(Archive::open(&path), Err(ArchiveError::Missing { .. })));
    assert!(matches!(Archive::open_read_only(&path), Err(ArchiveError::Missing { .. })));
    let deep = folder.path().join("no/such/folder.db");
    for result in [Archive::open(&deep), Archive::create(&deep), Archive::open_or_create(&deep)] {
        assert!(matches!(result, Err(ArchiveError::FolderMissing { .. })), "{result:?}");
    }
    assert!(matches!(Archive::open(folder.path()), Err(ArchiveError::NotAFile { .. })));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "nothing was made");
}

#[test]
fn a_foreign_file_is_refused_and_left_alone() {
    let folder = folder();
    let path = folder.path().join("notes.txt");
    let text = "Slab poured in spring. ".repeat(400);
    fs::write(&path, &text).unwrap();
    for result in
        [Archive::open(&path), Archive::open_or_create(&path), Archive::open_read_only(&path)]
    {
        assert!(matches!(result, Err(ArchiveError::NotSqlite { .. })), "{result:?}");
    }
    assert!(matches!(Archive::create(&path), Err(ArchiveError::Exists { .. })));
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
}

#[test]
fn the_database_of_another_program_is_refused_and_left_alone() {
    let folder = folder();
    for id in [0, 0x1234_5678] {
        let path = folder.path().join(format!("other-{id}.db"));
        let other = rusqlite::Connection::open(&path).unwrap();
        other.execute_batch("CREATE TABLE tiles (x); INSERT INTO tiles VALUES (1)").unwrap();
        other.pragma_update(None, "application_id", id).unwrap();
        drop(other);
        let before = fs::read(&path).unwrap();
        for result in
            [Archive::open(&path), Archive::open_or_create(&path), Archive::open_read_only(&path)]
        {
            let Err(ArchiveError::OtherProgram { application_id, .. }) = result else {
                panic!("{result:?}")
            };
            assert_eq!(application_id, id);
        }
        assert_eq!(fs::read(&path).unwrap(), before);
    }
}

#[test]
fn a_newer_archive_is_refused_and_left_alone() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    rusqlite::Connection::open(&path).unwrap().pragma_update(None, "user_version", 5).unwrap();
    let before = fs::read(&path).unwrap();
    let result = Archive::open(&path);
    assert!(matches!(result, Err(ArchiveError::Newer { version: 5, known: 4, .. })), "{result:?}");
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_truncated_archive_is_damaged_wherever_it_was_cut() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let whole = fs::read(&path).unwrap();
    let cut = folder.path().join("cut.db");
    let mut cuts = 0;
    for len in (0..whole.len()).step_by(777).chain((4096..whole.len()).step_by(4096)) {
        fs::write(&cut, &whole[..len]).unwrap();
        for result in [Archive::open(&cut), Archive::open_read_only(&cut)] {
            match result {
                Err(ArchiveError::Damaged { .. }) => {}
                // Too short for its own header, it cannot be told from another kind of file.
                Err(ArchiveError::NotSqlite { .. }) if (1..512).contains(&len) => {}
                // Nothing tells it from one that was never filled, and the message says both.
                Err(ArchiveError::Unfinished { .. }) if len == 0 => {}
                other => panic!("cut to {len} B: {other:?}"),
            }
        }
        cuts += 1;
    }
    println!("{cuts} cuts of {} B", whole.len());
    assert!(cuts > 50);
}

#[test]
fn a_lost_page_is_found_wherever_it_is() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let whole = fs::read(&path).unwrap();
    let broken = folder.path().join("broken.db");
    for page in (0..whole.len()).step_by(4096) {
        let mut bytes = whole.clone();
        bytes[page..page + 4096].fill(0);
        fs::write(&broken, &bytes).unwrap();
        let result = Archive::open(&broken).and_then(|archive| archive.blocks(logger.id));
        assert!(
            matches!(result, Err(ArchiveError::Damaged { .. } | ArchiveError::NotSqlite { .. })),
            "page {}: {result:?}",
            page / 4096
        );
    }
}

#[test]
fn a_byte_that_changed_in_a_block_is_found_on_reading() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let mut bytes = fs::read(&path).unwrap();
    // A stretch of a sealed block stands in the file as it is.
    let stretch = &logger.blocks[&1][2000..2040];
    let at = bytes.windows(stretch.len()).position(|window| window == stretch).expect("verbatim");
    bytes[at + 20] ^= 1;
    fs::write(&path, bytes).unwrap();
    let result = Archive::open(&path).unwrap().blocks(logger.id);
    let Err(ArchiveError::Damaged { detail, .. }) = result else { panic!("{result:?}") };
    assert!(detail.contains("block 1 "), "{detail}");
}

/// Permissions do not bind a superuser, so that an archive which can only be read is opened as such.
#[test]
fn an_archive_opened_for_reading_takes_nothing() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let before = fs::read(&path).unwrap();
    let mut archive = Archive::open_read_only(&path).unwrap();
    assert!(archive.is_read_only());
    assert_eq!(archive.blocks(logger.id).unwrap().len(), logger.blocks.len());
    let result = archive.note_logger(LoggerId([9; 8]), None, 0);
    assert!(matches!(result, Err(ArchiveError::ReadOnly { .. })), "{result:?}");
    drop(archive);
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn an_archive_is_read_where_nothing_can_be_written_beside_it() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    // A folder in the place of the file that readers of the write-ahead log share stands for a medium
    // that takes no new files.
    fs::create_dir(folder.path().join("a.db-shm")).unwrap();
    assert!(Archive::open(&path).is_err());
    let archive = Archive::open_read_only(&path).unwrap();
    assert_eq!(archive.blocks(logger.id).unwrap().len(), logger.blocks.len());
}

#[test]
fn a_writer_waits_for_another_and_then_gives_up() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let mut archive = Archive::open(&path).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let result = archive.note_logger(LoggerId([9; 8]), None, 0);
    assert!(matches!(result, Err(ArchiveError::Locked { .. })), "{result:?}");
    // Readers are not held up.
    assert_eq!(archive.blocks(logger.id).unwrap().len(), logger.blocks.len());
    other.execute_batch("COMMIT").unwrap();
    archive.note_logger(LoggerId([9; 8]), None, 0).unwrap();
}

#[test]
fn two_writers_at_once_lose_nothing() {
    let folder = folder();
    let path = folder.path().join("a.db");
    let loggers: Vec<ToyLogger> = [*b"toy-000A", *b"toy-000B"]
        .map(|id| {
            let mut logger = ToyLogger::new(id, 500, 1);
            logger.sample(4000, u32::from(id[7]));
            logger
        })
        .into();
    std::thread::scope(|scope| {
        for logger in &loggers {
            scope.spawn(|| fill(&mut Archive::open_or_create(&path).unwrap(), logger));
        }
    });
    let archive = Archive::open(&path).unwrap();
    for logger in &loggers {
        let held = archive.blocks(logger.id).unwrap();
        assert!(held.iter().map(|block| &block.bytes).eq(logger.blocks.values()));
    }
}

#[test]
fn a_full_disk_is_told_and_keeps_what_was_stored() {
    let (folder, logger) = (folder(), logger());
    let path = folder.path().join("a.db");
    let mut archive = Archive::create(&path).unwrap();
    archive.note_logger(logger.id, None, 7).unwrap();
    archive.put_block(logger.id, &logger.blocks[&0], "test", 8).unwrap();
    // SQLite's own limit answers as a full disk does, and only for this connection.
    archive.limit_pages(1).unwrap();
    let result = logger
        .blocks
        .range(1..)
        .find_map(|(_, bytes)| archive.put_block(logger.id, bytes, "test", 8).err());
    assert!(matches!(result, Some(ArchiveError::DiskFull { .. })), "{result:?}");
    drop(archive);
    let held = Archive::open(&path).unwrap().blocks(logger.id).unwrap();
    assert_eq!(held[0].bytes, logger.blocks[&0]);
}

#[test]
fn an_empty_file_is_no_archive_but_can_become_one() {
    let folder = folder();
    let path = folder.path().join("a.db");
    fs::write(&path, "").unwrap();
    for result in [Archive::open(&path), Archive::open_read_only(&path)] {
        assert!(matches!(result, Err(ArchiveError::Unfinished { .. })), "{result:?}");
    }
    Archive::open_or_create(&path).unwrap();
    Archive::open(&path).unwrap();
}

/// Copies a database that is in use, with the files beside it, as a kill would leave it.
fn copy_as_killed(from: &Path, to: &Path) -> Vec<PathBuf> {
    let beside = |path: &Path, ending: &str| PathBuf::from(format!("{}{ending}", path.display()));
    let copied = ["", "-wal", "-journal"].into_iter().filter_map(|ending| {
        let copy = beside(to, ending);
        fs::copy(beside(from, ending), &copy).ok().map(|_| copy)
    });
    copied.collect()
}

#[test]
fn an_archive_whose_making_was_cut_off_is_made_again() {
    let (folder, logger) = (folder(), logger());
    let making = folder.path().join("making.db");
    let db = rusqlite::Connection::open(&making).unwrap();
    // No room to wait in memory: pages go to the file before the end of the transaction.
    db.execute_batch(
        "PRAGMA cache_size = 1; BEGIN; PRAGMA application_id = 0x476C4461; PRAGMA user_version = 1;
         CREATE TABLE loggers (id); CREATE TABLE filler (x);",
    )
    .unwrap();
    for _ in 0..100 {
        db.execute("INSERT INTO filler VALUES (randomblob(3000))", []).unwrap();
    }
    let path = folder.path().join("a.db");
    let copied = copy_as_killed(&making, &path);
    assert!(copied.len() == 2 && fs::metadata(&path).unwrap().len() > 0, "{copied:?}");
    let result = Archive::open_read_only(&path);
    assert!(matches!(result, Err(ArchiveError::Unfinished { .. })), "{result:?}");
    let mut archive = Archive::open_or_create(&path).unwrap();
    fill(&mut archive, &logger);
    drop(archive);
    let held = Archive::open_read_only(&path).unwrap().blocks(logger.id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(logger.blocks.values()));
}

#[test]
fn a_refused_file_with_the_log_of_a_killed_program_is_left_alone() {
    let (folder, logger) = (folder(), logger());
    let newer = filled(folder.path(), &logger);
    rusqlite::Connection::open(&newer).unwrap().pragma_update(None, "user_version", 5).unwrap();
    let other = folder.path().join("other.db");
    for (from, id) in [(&newer, None), (&other, Some(0x1234_5678))] {
        let db = rusqlite::Connection::open(from).unwrap();
        if let Some(id) = id {
            db.pragma_update(None, "application_id", id).unwrap();
        }
        db.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())).unwrap();
        db.execute_batch("CREATE TABLE tiles (x); INSERT INTO tiles VALUES (1)").unwrap();
        let path = from.with_extension("killed");
        let copied = copy_as_killed(from, &path);
        assert_eq!(copied.len(), 2, "{copied:?}");
        let read = || copied.iter().map(|path| fs::read(path).unwrap()).collect::<Vec<_>>();
        let before = read();
        for result in
            [Archive::open(&path), Archive::open_or_create(&path), Archive::open_read_only(&path)]
        {
            match result {
                Err(ArchiveError::OtherProgram { .. }) if id.is_some() => {}
                Err(ArchiveError::Newer { version: 5, known: 4, .. }) if id.is_none() => {}
                other => panic!("{other:?}"),
            }
        }
        assert!(read() == before, "{} was changed", path.display());
    }
}

/// An archive of the first version, in which a file that was read twice had one mapping only.
#[test]
fn an_archive_of_the_first_version_is_taken_over() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let db = rusqlite::Connection::open(&path).unwrap();
    db.execute_batch(
        "DROP TABLE imports;
         DROP TABLE originals;
         CREATE TABLE imports (
             logger BLOB PRIMARY KEY NOT NULL REFERENCES loggers (id),
             file_name TEXT NOT NULL,
             sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
             original BLOB NOT NULL,
             mapping TEXT NOT NULL CHECK (json_valid(mapping)),
             imported_s INTEGER NOT NULL
         ) STRICT;
         INSERT INTO imports
         VALUES (x'746F792D30303031', 'a.csv', zeroblob(32), x'00FF', '{\"zone\":1}', 77);
         ALTER TABLE pulls DROP COLUMN supply_mv;
         INSERT INTO pulls (logger, at_s, port, bytes, result)
         VALUES (x'746F792D30303031', 88, 'p', 4096, 'complete');
         PRAGMA user_version = 1;",
    )
    .unwrap();
    let original = long_original();
    db.execute("UPDATE imports SET original = ?1", [&original]).unwrap();
    drop(db);
    let before = Archive::open_read_only(&path).unwrap().import(logger.id).unwrap();
    assert_eq!(before.as_ref().map(|import| import.imported_s), Some(77));
    assert_eq!(before.as_ref().map(|import| &import.original), Some(&original));
    // What it does not say is not known, before and after.
    let pull = Archive::open_read_only(&path).unwrap().last_pull(logger.id).unwrap();
    assert_eq!(pull.as_ref().map(|pull| (pull.at_s, pull.supply_mv)), Some((88, None)));
    assert_eq!(Archive::open(&path).unwrap().last_pull(logger.id).unwrap(), pull);
    let archive = Archive::open(&path).unwrap();
    assert_eq!(archive.import(logger.id).unwrap(), before);
    let held = archive.blocks(logger.id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(logger.blocks.values()));
    drop(archive);
    let db = rusqlite::Connection::open(&path).unwrap();
    let version: i32 = db.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
    assert_eq!(version, 4);
}

/// Longer than two of the parts in which an archive keeps a file, and nowhere the same.
fn long_original() -> Vec<u8> {
    (0..150_001_u32).flat_map(u32::to_le_bytes).collect()
}

#[test]
fn an_original_that_lacks_a_part_is_damage_and_not_a_shorter_file() {
    let (folder, logger) = (folder(), logger());
    let path = filled(folder.path(), &logger);
    let original = long_original();
    let mut archive = Archive::open(&path).unwrap();
    let row = |i: i16| ImportRow {
        utc_s: 1_772_409_600 + i64::from(i) * 60,
        slab: Ok(CentiCelsius(2_000 + i)),
        air: Ok(CentiCelsius(2_100)),
        air_rh: Ok(CentiPercent(4_000)),
        supply: Err(Absent::NotFitted),
        line: 1,
    };
    let id = import_id(&original);
    let new = NewImport {
        name: "hall",
        file_name: "hall.csv",
        original: &original,
        mapping: "{}",
        blocks: &import_blocks(&[row(0), row(1)], id).unwrap().blocks,
        logger: id,
    };
    archive.add_import(&new, 1).unwrap();
    assert_eq!(archive.import(id).unwrap().map(|import| import.original), Some(original));
    let db = rusqlite::Connection::open(&path).unwrap();
    let parts: u32 = db.query_row("SELECT count(*) FROM originals", [], |row| row.get(0)).unwrap();
    assert!(parts > 2, "{parts}");
    for change in [
        "DELETE FROM originals WHERE part = 1",
        "UPDATE originals SET part = 1 WHERE part = 2",
        "UPDATE imports SET length = 9000000000000000000",
        "UPDATE imports SET length = 0",
    ] {
        db.execute(change, []).unwrap();
        let error = archive.import(id).unwrap_err();
        assert!(matches!(error, ArchiveError::Damaged { .. }), "{change}: {error:?}");
        let told = error.to_string();
        assert!(told.contains(&id.to_string()), "{change}: {told}");
    }
}
