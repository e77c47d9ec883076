//! What the archive keeps: blocks once, differing copies beside them, loggers, imports.

// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use glueday::archive::{
    Archive, ArchiveError, EncodeError, ImportRow, Job, Kept, LoggerKind, NewImport,
    StoredAttestation, import_blocks, import_id,
};
use glueday_tests::faulty_link::ToyLogger;
use glueday_types::block::{Item, Reader};
use glueday_types::wire::Attestation;
use glueday_types::{Absent, CentiCelsius, CentiPercent, Entry, LoggerId, digest};
use proptest::prelude::*;
use sha2::Digest as _;

fn logger() -> ToyLogger {
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(1500, 5);
    logger
}

fn archive(logger: &ToyLogger) -> Archive {
    let mut archive = Archive::in_memory().unwrap();
    archive.note_logger(logger.id, None, 7).unwrap();
    archive
}

#[test]
fn a_block_is_kept_once() {
    let logger = logger();
    let mut archive = archive(&logger);
    let block = &logger.blocks[&0];
    assert_eq!(archive.put_block(logger.id, block, "first", 1).unwrap(), Kept::Stored);
    let before = archive.blocks(logger.id).unwrap();
    assert_eq!(archive.put_block(logger.id, block, "second", 2).unwrap(), Kept::Already);
    let part = &block[..1000];
    assert_eq!(archive.extend_open_block(logger.id, part, "third", 3).unwrap(), Kept::Already);
    assert_eq!(archive.blocks(logger.id).unwrap(), before);
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
}

#[test]
fn an_open_block_grows_and_is_sealed() {
    let logger = logger();
    let mut archive = archive(&logger);
    let block = &logger.blocks[&0];
    for (len, kept) in
        [(64, Kept::Stored), (700, Kept::Stored), (300, Kept::Already), (4096, Kept::Stored)]
    {
        let result = archive.extend_open_block(logger.id, &block[..len], "test", 1).unwrap();
        assert_eq!(result, kept, "{len}");
        assert!(!archive.blocks(logger.id).unwrap()[0].sealed);
    }
    assert_eq!(archive.put_block(logger.id, block, "test", 1).unwrap(), Kept::Stored);
    let held = archive.blocks(logger.id).unwrap().remove(0);
    assert!(held.sealed);
    assert_eq!((held.bytes.as_slice(), held.digest), (block.as_slice(), digest(block)));
}

#[test]
fn a_differing_copy_is_kept_beside_it() {
    let logger = logger();
    let mut archive = archive(&logger);
    let block = logger.blocks[&0].clone();
    archive.put_block(logger.id, &block, "first", 1).unwrap();
    let mut other = block.clone();
    other[3000] ^= 1;
    for _ in 0..2 {
        let kept = archive.put_block(logger.id, &other, "second", 2).unwrap();
        assert_eq!(kept, Kept::Conflict);
    }
    assert_eq!(archive.blocks(logger.id).unwrap()[0].bytes, block);
    let conflicts = archive.conflicts(logger.id).unwrap();
    assert_eq!(conflicts.len(), 1);
    let found = &conflicts[0];
    assert_eq!((&found.bytes, found.origin.as_str(), found.seen_s), (&other, "second", 2));
    // A part that differs is one as well.
    let kept = archive.extend_open_block(logger.id, &other[..3500], "third", 3).unwrap();
    assert_eq!((kept, archive.conflicts(logger.id).unwrap().len()), (Kept::Conflict, 2));
}

#[test]
fn what_is_no_block_of_the_logger_is_not_stored() {
    let logger = logger();
    let mut archive = archive(&logger);
    let block = &logger.blocks[&0];
    let mut damaged = block.clone();
    damaged[20] ^= 1;
    for (id, bytes, why) in [
        (LoggerId(*b"toy-0002"), &block[..], "belongs to logger"),
        (logger.id, &block[..4095], "4096 bytes"),
        (logger.id, &damaged[..], "damaged block header"),
        (logger.id, &[0xFF; 4096], "erased flash"),
    ] {
        let error = archive.put_block(id, bytes, "test", 1).expect_err(why).to_string();
        assert!(error.contains(why), "{error}");
    }
    assert!(archive.extend_open_block(logger.id, &block[..63], "test", 1).is_err());
    assert_eq!(archive.blocks(logger.id).unwrap(), []);
}

#[test]
fn loggers_are_found_by_name_id_and_its_beginning() {
    let mut archive = Archive::in_memory().unwrap();
    let error = archive.find_logger("hall").expect_err("none").to_string();
    assert!(error.contains("no loggers yet"), "{error}");
    let (hall, bath) =
        (LoggerId([0xAB, 1, 0, 0, 0, 0, 0, 1]), LoggerId([0xAB, 2, 0, 0, 0, 0, 0, 2]));
    archive.adopt(hall, "Hall", Some([7; 32]), 10).unwrap();
    archive.adopt(bath, "bath", None, 11).unwrap();
    for (text, id) in
        [("hall", hall), ("Hall", hall), ("ab02", bath), ("AB01", hall), ("ab02000000000002", bath)]
    {
        assert_eq!(archive.find_logger(text).unwrap().id, id, "{text}");
    }
    let error = archive.find_logger("ab").expect_err("two").to_string();
    assert!(error.contains("bath (ab02") && error.contains(" or Hall (ab01"), "{error}");
    let error = archive.find_logger("attic").expect_err("none").to_string();
    assert!(error.contains("bath (ab02") && error.contains("Hall (ab01"), "{error}");
    assert!(matches!(archive.find_logger(""), Err(ArchiveError::UnknownLogger { .. })));

    let error = archive.adopt(bath, "HALL", None, 12).expect_err("taken");
    assert!(matches!(error, ArchiveError::NameTaken { owner, .. } if owner == hall), "{error}");
    for bad in ["", " hall", "ha\nll", "ab02000000000002"] {
        let error = archive.name_logger(hall, bad).expect_err("bad name");
        assert!(matches!(error, ArchiveError::BadName { .. }), "{error}");
    }
    assert_eq!(archive.name_logger(hall, "hall").unwrap().name.as_deref(), Some("hall"));
    let error = archive.note_logger(hall, Some([8; 32]), 13).expect_err("another key");
    assert!(matches!(error, ArchiveError::KeyChanged { .. }), "{error}");
    let hall = archive.find_logger("hall").unwrap();
    assert_eq!((hall.public_key, hall.first_seen_s), (Some([7; 32]), 10));
}

#[test]
fn jobs_and_attestations_come_back() {
    let logger = logger();
    let mut archive = archive(&logger);
    let mut job =
        Job { name: "Hill House".into(), path: "j.toml".into(), text: "a".into(), stored_s: 1 };
    archive.put_job(&job).unwrap();
    job.text = "b".into();
    archive.put_job(&job).unwrap();
    assert_eq!(archive.jobs().unwrap(), [job]);
    let attestation = StoredAttestation {
        logger: logger.id,
        taken_s: 5,
        nonce: [3; 16],
        attestation: Attestation {
            open_block: 2,
            open_len: 900,
            boot: 1,
            uptime_s: 77,
            digest: [4; 32],
            signature_r: [5; 32],
            signature_s: [6; 32],
        },
    };
    archive.put_attestation(&attestation).unwrap();
    assert_eq!(archive.attestations(logger.id).unwrap(), [attestation]);
}

fn row(utc_s: i64, line: u64) -> ImportRow {
    let wave = i16::try_from(line % 40).unwrap();
    ImportRow {
        utc_s,
        slab: Ok(CentiCelsius(1900 + wave)),
        air: Ok(CentiCelsius(2100 - wave)),
        air_rh: if line.is_multiple_of(50) {
            Err(Absent::EmptyCell)
        } else {
            Ok(CentiPercent(4500))
        },
        supply: Err(Absent::NotFitted),
        line,
    }
}

/// What the blocks say, as rows again: times from the clock entry at the start.
fn decode(blocks: &[Vec<u8>]) -> Vec<ImportRow> {
    let mut start_s = None;
    let mut rows = Vec::new();
    for item in blocks.iter().flat_map(|block| Reader::new(block).unwrap()) {
        match item {
            Item::Entry { boot: 1, entry: Entry::ClockSet { at_s, utc_s }, .. } => {
                let start = *start_s.get_or_insert(utc_s - i64::from(at_s));
                assert_eq!(start, utc_s - i64::from(at_s), "both clock entries agree");
            }
            Item::Entry { boot: 1, entry: Entry::Sample(s), .. } => rows.push(ImportRow {
                utc_s: start_s.expect("clock first") + i64::from(s.at_s),
                slab: s.slab,
                air: s.air,
                air_rh: s.air_rh,
                supply: s.supply,
                line: 0,
            }),
            other => panic!("{other:?}"),
        }
    }
    rows
}

#[test]
fn an_import_stands_as_blocks_beside_its_original() {
    let original = b"time;slab\n...";
    let id = import_id(original);
    assert_eq!(id.0, sha2::Sha256::digest(original)[..8]);
    let mut utc_s = 1_790_000_000;
    let rows: Vec<ImportRow> = (2..4000)
        .map(|line| {
            utc_s += if line % 100 == 0 { 3600 } else { 300 };
            row(utc_s, line)
        })
        .collect();
    let log = import_blocks(&rows, id).unwrap();
    assert_eq!(log.interval_s, 300);
    assert!(log.blocks.len() > 2 && log.blocks.iter().all(|block| block.len() == 4096));
    for (number, block) in log.blocks.iter().enumerate() {
        let reader = Reader::new(block).unwrap();
        let previous = number.checked_sub(1).map_or([0; 32], |before| digest(&log.blocks[before]));
        assert_eq!((reader.header().block as usize, reader.header().previous), (number, previous));
    }
    let expected: Vec<ImportRow> = rows.iter().map(|row| ImportRow { line: 0, ..*row }).collect();
    assert_eq!(decode(&log.blocks), expected);
    println!("{:.2} B a row", (log.blocks.len() * 4096) as f64 / rows.len() as f64);

    let mut archive = Archive::in_memory().unwrap();
    let new = NewImport {
        name: "hall",
        file_name: "hall.csv",
        original,
        mapping: r#"{"zone":"Europe/Oslo"}"#,
        blocks: &log.blocks,
        logger: id,
    };
    assert_eq!(archive.add_import(&new, 1).unwrap(), Kept::Stored);
    assert_eq!(archive.add_import(&new, 2).unwrap(), Kept::Already);
    let import = archive.import(id).unwrap().unwrap();
    assert_eq!((import.original.as_slice(), import.imported_s), (&original[..], 1));
    assert_eq!(import.sha256, <[u8; 32]>::from(sha2::Sha256::digest(original)));
    assert_eq!(archive.loggers().unwrap()[0].kind, LoggerKind::Import);
    let held = archive.blocks(id).unwrap();
    assert!(held.iter().map(|block| &block.bytes).eq(log.blocks.iter()));

    // The same file by another mapping: the first stays, the other is not lost.
    let other = import_blocks(&rows[1..], id).unwrap();
    let new = NewImport { blocks: &other.blocks, ..new };
    assert_eq!(archive.add_import(&new, 3).unwrap(), Kept::Conflict);
    assert_eq!(archive.blocks(id).unwrap(), held);
    let bad = NewImport { mapping: "not json", original: b"x", ..new };
    assert!(archive.add_import(&bad, 3).is_err());
}

#[test]
fn each_reading_of_a_file_keeps_its_mapping() {
    let original = b"time;slab\n...";
    let rows: Vec<ImportRow> =
        (2..20).map(|line| row(1_790_000_000 + i64::try_from(line).unwrap() * 300, line)).collect();
    let mut archive = Archive::in_memory().unwrap();
    for (name, mapping) in [("oslo", r#"{"zone":"Europe/Oslo"}"#), ("utc", r#"{"zone":"UTC"}"#)] {
        let id = import_id(&[&original[..], mapping.as_bytes()].concat());
        let log = import_blocks(&rows, id).unwrap();
        let new = NewImport {
            name,
            file_name: "hall.csv",
            original,
            mapping,
            blocks: &log.blocks,
            logger: id,
        };
        assert_eq!(archive.add_import(&new, 1).unwrap(), Kept::Stored);
        let import = archive.import(id).unwrap().expect(name);
        assert_eq!((import.mapping.as_str(), import.original.as_slice()), (mapping, &original[..]));
        assert_eq!(archive.find_logger(name).unwrap().id, id);

        // A name that belongs to other data: nothing is stored.
        let id = LoggerId([9; 8]);
        let log = import_blocks(&rows, id).unwrap();
        let taken = NewImport { name: "OSLO", blocks: &log.blocks, logger: id, ..new };
        let error = archive.add_import(&taken, 1).expect_err("taken");
        assert!(matches!(error, ArchiveError::NameTaken { .. }), "{error}");
        assert!(archive.find_logger(&id.to_string()).is_err());
        assert_eq!(archive.blocks(id).unwrap(), []);
        assert_eq!(archive.import(id).unwrap(), None);
    }
}

#[test]
fn rows_that_cannot_be_told_name_their_line() {
    let id = LoggerId([1; 8]);
    assert_eq!(import_blocks(&[], id), Err(EncodeError::NoRows));
    assert_eq!(
        import_blocks(&[row(100, 2), row(90, 3)], id),
        Err(EncodeError::Backwards { line: 3, before: 2, back_s: 10 })
    );
    let far = row(100 + i64::from(u32::MAX) + 1, 3);
    assert_eq!(
        import_blocks(&[row(100, 2), far], id),
        Err(EncodeError::TooLong { line: 3, first: 2 })
    );
    let farthest = [row(i64::MIN, 2), row(i64::MAX, 3)];
    assert!(matches!(import_blocks(&farthest, id), Err(EncodeError::TooLong { .. })));
}

proptest! {
    #[test]
    fn any_rows_come_back_as_they_were(
        start in -4_000_000_000_i64..8_000_000_000,
        rows in prop::collection::vec((
            prop_oneof![5 => Just(600_u32), 1 => 0..5_000_000_u32],
            any::<i16>(), any::<i16>(), any::<u16>(), prop::option::of(any::<i16>()),
        ), 1..600),
    ) {
        let mut utc_s = start;
        let rows: Vec<ImportRow> = rows.into_iter().map(|(step, slab, air, rh, supply)| {
            utc_s += i64::from(step);
            ImportRow {
                utc_s,
                slab: Ok(CentiCelsius(slab)),
                air: Ok(CentiCelsius(air)),
                air_rh: Ok(CentiPercent(rh)),
                supply: supply.map(CentiCelsius).ok_or(Absent::EmptyCell),
                line: 0,
            }
        }).collect();
        let log = import_blocks(&rows, LoggerId([1; 8])).unwrap();
        prop_assert_eq!(decode(&log.blocks), rows);
    }
}
