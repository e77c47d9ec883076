//! Imported rows as blocks. What an archive keeps of them is tried in `archive_stores`.

// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use glueday::archive::{EncodeError, ImportRow, import_blocks, import_id};
use glueday_types::block::{Item, Reader};
use glueday_types::{Absent, CentiCelsius, CentiPercent, Entry, LoggerId, digest};
use proptest::prelude::*;
use sha2::Digest as _;

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
fn an_import_stands_as_blocks() {
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

#[test]
fn entries_are_numbered_through_all_blocks_and_each_names_the_one_before() {
    let rows: Vec<ImportRow> = (0..3000).map(|i| row(i * 60, i.unsigned_abs() + 2)).collect();
    let blocks = import_blocks(&rows, LoggerId(*b"numbered")).unwrap().blocks;
    assert!(blocks.len() > 3, "{} blocks", blocks.len());
    let mut next = 0;
    let mut previous = [0; 32];
    for (number, block) in (0..).zip(&blocks) {
        let reader = Reader::new(block).unwrap();
        let header = *reader.header();
        assert_eq!((header.block, header.first_entry, header.previous), (number, next, previous));
        for item in reader {
            let Item::Entry { number, .. } = item else { panic!("{item:?}") };
            assert_eq!(number, next);
            next += 1;
        }
        previous = digest(block);
    }
    // The clock is set at both ends.
    assert_eq!(next, 3002);
}

#[test]
fn the_spacing_is_the_most_common_one_wherever_it_stands() {
    for (spacings, expected) in [
        (&[60, 60, 600, 600, 600][..], 600),
        (&[600, 600, 600, 60, 60], 600),
        (&[60, 600, 60, 600, 60], 60),
        (&[600, 60, 600, 60], 60),
        (&[0, 0, 0, 300], 300),
        (&[], 1),
    ] {
        let times = spacings.iter().scan(0, |time_s, spacing_s| {
            *time_s += spacing_s;
            Some(*time_s)
        });
        let rows: Vec<ImportRow> = [0].into_iter().chain(times).map(|s| row(s, 2)).collect();
        let log = import_blocks(&rows, LoggerId(*b"spacings")).unwrap();
        assert_eq!(log.interval_s, expected, "{spacings:?}");
    }
}
