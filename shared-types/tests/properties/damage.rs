//! What power failures, flipped bits and stale bytes do: entries may be lost, never altered.

use crate::log::{Block, WRITE_UNITS, block, entries, header};
use glueday_types::block::{Item, Reader, written_len};
use glueday_types::cursor::RESUME_LEN;
use glueday_types::{BLOCK_LEN, Cursor, Entry, Found, HEADER_LEN, Header};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::{Index, select};

fn items(bytes: &[u8]) -> Vec<Item> {
    Reader::new(bytes).unwrap().collect()
}

/// A cursor at another offset of the block: as far as a check goes, only the offset matters.
fn at(start: &Cursor, offset: usize) -> Cursor {
    let mut cursor = *start;
    cursor.resume(u16::try_from(offset - RESUME_LEN).unwrap());
    assert_eq!(usize::from(cursor.offset()), offset);
    cursor
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn no_flipped_bit_alters_an_entry(
        entries in entries(25),
        write_unit in select(&WRITE_UNITS[..]),
    ) {
        let (block, fit) = block(write_unit, &entries);
        let whole = items(&block.bytes);
        prop_assert_eq!(whole.len(), fit);
        let end = usize::from(block.cursor.offset());
        let mut kinds: Vec<usize> = {
            let mut reader = Reader::new(&block.bytes).unwrap();
            (0..fit).map(|_| {
                let at = usize::from(reader.cursor().offset());
                reader.next();
                at
            }).collect()
        };
        kinds.push(end);
        for bit in 0..(end + 2).min(BLOCK_LEN) * 8 {
            let mut bytes = block.bytes;
            bytes[bit / 8] ^= 1 << (bit % 8);
            let Ok(reader) = Reader::new(&bytes) else {
                prop_assert!(bit < HEADER_LEN * 8);
                continue;
            };
            prop_assert!(bit >= HEADER_LEN * 8, "bit {} of the header", bit);
            for (place, item) in reader.enumerate() {
                match item {
                    Item::Entry { .. } => prop_assert_eq!(Some(&item), whole.get(place), "{}", bit),
                    // A flipped length takes other bytes for the check. One in 65,536 passes; the
                    // body is then too long or too short for any entry.
                    Item::Unknown { .. } => {
                        prop_assert!(kinds.contains(&(bit / 8)), "bit {}", bit);
                    }
                    Item::Damaged { .. } => {}
                }
            }
        }
    }

    #[test]
    fn an_entry_moved_to_any_other_offset_never_validates(
        entries in entries(12),
        write_unit in select(&WRITE_UNITS[..]),
    ) {
        let (mut block, start) = (Block::new(header(write_unit)), Cursor::start(&header(write_unit)));
        for entry in &entries {
            let (offset, packed) = (usize::from(block.cursor.offset()), block.cursor.pack(entry));
            let Ok(packed) = packed else { break };
            block.append(entry).unwrap();
            let first = HEADER_LEN + RESUME_LEN.next_multiple_of(usize::from(write_unit));
            for other in (first..BLOCK_LEN - packed.len()).step_by(usize::from(write_unit)) {
                let found = at(&start, other).read(&packed);
                prop_assert_eq!(found == Found::Damaged, other != offset, "{} to {}", offset, other);
            }
        }
    }

    #[test]
    fn entries_go_on_behind_one_that_was_torn_at_any_byte(
        before in entries(4),
        torn in entries(1),
        after in entries(6),
        write_unit in select(&WRITE_UNITS[..]),
    ) {
        let (base, _) = block(write_unit, &before);
        for entry in &torn {
            let packed = base.cursor.pack(entry).unwrap();
            for cut in 1..=packed.len() {
                let mut block = base.clone();
                block.program(usize::from(base.cursor.offset()), &packed[..cut]);
                go_on(block, &before, entry, &after, &[])?;
            }
            // And the mark is torn as well, at any byte, after an entry torn at its last.
            let cut = packed.iter().rposition(|byte| *byte != 0xFF).unwrap();
            for mark_cut in 1..=RESUME_LEN {
                let mut block = base.clone();
                block.program(usize::from(base.cursor.offset()), &packed[..cut]);
                go_on(block, &before, entry, &after, &[mark_cut, 13 - mark_cut])?;
            }
        }
    }
}

/// Mounts the block as a logger would, after marks that were torn too, and writes on.
fn go_on(
    mut block: Block,
    before: &[Entry],
    torn: &Entry,
    after: &[Entry],
    torn_marks: &[usize],
) -> Result<(), TestCaseError> {
    let mut torn_marks = torn_marks.iter();
    let mut expected: Vec<Entry> = before.to_vec();
    let mut resumed = false;
    loop {
        let mut reader = Reader::new(&block.bytes).unwrap();
        let last = reader.by_ref().last();
        block.cursor = *reader.cursor();
        let Some(Item::Damaged { from, to }) = last else { break };
        if from != block.cursor.offset() {
            // The mark was torn behind its last byte that is not 0xFF: it is whole.
            prop_assert_eq!(to % u16::from(block.header.write_unit), 0);
            resumed = true;
            break;
        }
        let place = block.cursor.resume_place(to).unwrap();
        let mark = block.cursor.pack_resume(place).unwrap();
        let cut = torn_marks.next().copied().unwrap_or(mark.len()).min(mark.len());
        block.program(usize::from(place), &mark[..cut]);
        resumed |= cut == mark.len();
        if cut == mark.len() {
            block.cursor.resume(place);
            break;
        }
    }
    let read: Vec<Item> = items(&block.bytes);
    let damaged = read.iter().filter(|item| matches!(item, Item::Damaged { .. })).count();
    // In one cut of 65,536 the right check of the half that is left is FF FF.
    let unknown = read.iter().filter(|item| matches!(item, Item::Unknown { .. })).count();
    prop_assert!(damaged + unknown <= 1);
    if damaged + unknown == 0 {
        // Torn behind its last byte that is not 0xFF: it is whole.
        expected.push(*torn);
    }
    prop_assert_eq!(damaged == 1, resumed);
    for entry in after {
        block.append(entry).unwrap();
        expected.push(*entry);
        // Each one is safe as soon as it is written.
        let mut number = header(1).first_entry;
        let mut expected = expected.iter();
        for item in items(&block.bytes) {
            match item {
                Item::Entry { number: found, entry, .. } => {
                    prop_assert_eq!((found, Some(&entry)), (number, expected.next()));
                    number = number.wrapping_add(1);
                }
                Item::Unknown { .. } => number = number.wrapping_add(1),
                Item::Damaged { .. } => {}
            }
        }
        prop_assert_eq!(expected.next(), None);
    }
    let mut reader = Reader::new(&block.bytes[..written_len(&block.bytes)]).unwrap();
    prop_assert_eq!(reader.by_ref().count(), expected.len() + damaged + unknown);
    prop_assert_eq!(*reader.cursor(), block.cursor);
    Ok(())
}

proptest! {
    #[test]
    fn an_entry_of_another_block_validates_only_where_the_headers_leave_the_same_remainder(
        entries in entries(2),
        previous: [u8; 32],
        number in 1..9_u32,
    ) {
        let ours = header(1);
        let other = Header { block: number, previous, ..ours };
        let crc = crc::Crc::<u16>::new(&crc::CRC_16_M17);
        let remainder = |header: &Header| crc.checksum(&header.check().to_le_bytes());
        for entry in &entries {
            let packed = Cursor::start(&ours).pack(entry).unwrap();
            let passes = Cursor::start(&other).read(&packed) != Found::Damaged;
            prop_assert_eq!(passes, remainder(&ours) == remainder(&other));
        }
    }

    #[test]
    fn any_bytes_behind_a_header_are_read_to_an_end(
        write_unit in select(&WRITE_UNITS[..]),
        rest in vec(any::<u8>(), 0..5000),
    ) {
        let bytes = [&header(write_unit).to_bytes()[..], &rest].concat();
        // Whatever is found takes a byte at least.
        prop_assert!(items(&bytes).len() <= bytes.len());
        for item in items(&bytes) {
            if let Item::Damaged { from, to } = item {
                prop_assert!(from <= to && usize::from(to) <= bytes.len().min(BLOCK_LEN));
            }
        }
    }

    #[test]
    fn any_bytes_at_all_are_read_to_an_end(bytes in vec(any::<u8>(), 0..200)) {
        if let Ok(reader) = Reader::new(&bytes) {
            prop_assert!(reader.count() <= bytes.len());
        }
        let written = written_len(&bytes);
        prop_assert!(written >= HEADER_LEN);
    }

    #[test]
    fn spans_of_noise_in_a_block_are_read_to_an_end(
        entries in entries(300),
        write_unit in select(&WRITE_UNITS[..]),
        spans in vec((any::<Index>(), vec(any::<u8>(), 1..40)), 1..4),
    ) {
        let (mut block, _) = block(write_unit, &entries);
        let whole = items(&block.bytes);
        for (index, noise) in spans {
            let from = HEADER_LEN + index.index(BLOCK_LEN - HEADER_LEN - noise.len());
            block.bytes[from..from + noise.len()].copy_from_slice(&noise);
        }
        let found = items(&block.bytes);
        prop_assert!(found.len() <= whole.len() + 2);
    }
}
