//! What an archive keeps: blocks once, differing copies beside them, loggers, imports. Whatever keeps it.

use glueday::archive::{
    Archive, ArchiveError, ImportRow, Job, Kept, LoggerKind, NewImport, PullRecord,
    StoredAttestation, import_blocks, import_id,
};
use glueday_tests::faulty_link::ToyLogger;
use glueday_types::wire::Attestation;
use glueday_types::{Absent, CentiCelsius, CentiPercent, LoggerId, digest};
use sha2::Digest as _;

/// A logger with some blocks.
pub(crate) fn logger() -> ToyLogger {
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(1500, 5);
    logger
}

/// A row of an imported file, by its line.
fn row(line: u64) -> ImportRow {
    let wave = i16::try_from(line % 40).unwrap();
    ImportRow {
        utc_s: 1_790_000_000 + i64::try_from(line).unwrap() * 300,
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

pub(crate) fn a_block_is_kept_once(archive: &mut Archive) {
    let logger = logger();
    archive.note_logger(logger.id, None, 7).unwrap();
    let block = &logger.blocks[&0];
    assert_eq!(archive.put_block(logger.id, block, "first", 1).unwrap(), Kept::Stored);
    let before = archive.blocks(logger.id).unwrap();
    assert_eq!(archive.put_block(logger.id, block, "second", 2).unwrap(), Kept::Already);
    let part = &block[..1000];
    assert_eq!(archive.extend_open_block(logger.id, part, "third", 3).unwrap(), Kept::Already);
    assert_eq!(archive.blocks(logger.id).unwrap(), before);
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
}

pub(crate) fn an_open_block_grows_and_is_sealed(archive: &mut Archive) {
    let logger = logger();
    archive.note_logger(logger.id, None, 7).unwrap();
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

pub(crate) fn a_differing_copy_is_kept_beside_it(archive: &mut Archive) {
    let logger = logger();
    archive.note_logger(logger.id, None, 7).unwrap();
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

pub(crate) fn what_is_no_block_of_the_logger_is_not_stored(archive: &mut Archive) {
    let logger = logger();
    archive.note_logger(logger.id, None, 7).unwrap();
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

pub(crate) fn loggers_are_found_by_name_id_and_its_beginning(archive: &mut Archive) {
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

pub(crate) fn jobs_attestations_and_pulls_come_back(archive: &mut Archive) {
    let logger = logger();
    archive.note_logger(logger.id, None, 7).unwrap();
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
    // The same again adds nothing; an older one goes before it.
    archive.put_attestation(&attestation).unwrap();
    let older = StoredAttestation { taken_s: 4, nonce: [2; 16], ..attestation };
    archive.put_attestation(&older).unwrap();
    assert_eq!(archive.attestations(logger.id).unwrap(), [older, attestation]);

    let whole = PullRecord {
        logger: logger.id,
        at_s: 100,
        port: "a line – größte".to_owned(),
        bytes: u64::from(u32::MAX) + 1,
        result: PullRecord::COMPLETE.to_owned(),
        supply_mv: Some(3_300),
    };
    let broken =
        PullRecord { at_s: 90, result: "cut off".to_owned(), supply_mv: None, ..whole.clone() };
    assert_eq!(archive.last_pull(logger.id).unwrap(), None);
    for pull in [&whole, &broken] {
        archive.note_pull(pull).unwrap();
    }
    assert_eq!(archive.pulls(logger.id).unwrap(), [whole.clone(), broken]);
    assert_eq!(archive.last_pull(logger.id).unwrap(), Some(whole));
    // Of a logger that nobody knows there is nothing to note.
    let nobody = PullRecord {
        logger: LoggerId(*b"toy-0009"),
        ..archive.pulls(logger.id).unwrap()[0].clone()
    };
    assert!(archive.note_pull(&nobody).is_err());
}

/// By the bytes of the names in small letters: ASCII letters alone have a small form.
pub(crate) fn loggers_stand_in_the_order_of_their_names(archive: &mut Archive) {
    let names = ["hall 10", "Hall 2", "änne", "ANNE", "Äpfel", "_cellar", "zz", "Z"];
    for (i, name) in names.iter().enumerate() {
        archive.adopt(LoggerId([i as u8 + 1; 8]), name, None, 1).unwrap();
    }
    archive.note_logger(LoggerId([0; 8]), None, 1).unwrap();
    archive.note_logger(LoggerId([0xFF; 8]), None, 1).unwrap();
    let found: Vec<_> = archive.loggers().unwrap().into_iter().map(|l| l.name).collect();
    let expected = ["_cellar", "ANNE", "hall 10", "Hall 2", "Z", "zz", "Äpfel", "änne"];
    let expected = expected.map(|name| Some(name.to_owned())).into_iter().chain([None, None]);
    assert_eq!(found, expected.collect::<Vec<_>>());
    assert_eq!(archive.find_logger("anne").unwrap().name.as_deref(), Some("ANNE"));
    assert_eq!(archive.find_logger("änne").unwrap().name.as_deref(), Some("änne"));
    assert!(archive.find_logger("ÄNNE").is_err());
    archive.adopt(LoggerId([9; 8]), "ÄNNE", None, 1).unwrap();
}

pub(crate) fn each_reading_of_a_file_keeps_its_mapping(archive: &mut Archive) {
    let original = b"time;slab\n...";
    let rows: Vec<ImportRow> = (2..20).map(row).collect();
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

pub(crate) fn an_import_is_kept_with_its_original(archive: &mut Archive) {
    let original = b"time;slab\n...";
    let id = import_id(original);
    let rows: Vec<ImportRow> = (2..4000).map(row).collect();
    let log = import_blocks(&rows, id).unwrap();
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

pub(crate) fn an_original_of_any_length_comes_back(archive: &mut Archive) {
    let rows: Vec<ImportRow> = (2..20).map(row).collect();
    // Around the length of the parts in which it is kept.
    for length in [0, 1, 262_143, 262_144, 262_145, 700_000] {
        let original: Vec<u8> =
            (0..length).map(|i: u32| i.wrapping_mul(2_654_435_761).to_be_bytes()[0]).collect();
        let id = import_id(&original);
        let log = import_blocks(&rows, id).unwrap();
        let new = NewImport {
            name: &format!("of {length} B"),
            file_name: "hall.csv",
            original: &original,
            mapping: "{}",
            blocks: &log.blocks,
            logger: id,
        };
        assert_eq!(archive.add_import(&new, 1).unwrap(), Kept::Stored);
        assert_eq!(archive.add_import(&new, 2).unwrap(), Kept::Already);
        assert!(archive.import(id).unwrap().unwrap().original == original, "{length}");
    }
}
