//! What was written reads back, whole or cut.

use crate::log::{Block, WRITE_UNITS, block, entries, header};
use glueday_types::block::{Item, Reader, written_len};
use glueday_types::{Entry, HEADER_LEN, Header, HeaderError, PackError, digest};
use proptest::prelude::*;
use proptest::sample::select;

/// Lays all entries into as many blocks as they need.
fn write_all(write_unit: u8, entries: &[Entry]) -> Vec<Block> {
    let mut blocks = vec![Block::new(header(write_unit))];
    for entry in entries {
        let last = blocks.last_mut().unwrap();
        match last.append(entry) {
            Ok(()) => {}
            Err(PackError::BlockFull) => {
                let mut next = last.successor();
                next.append(entry).expect("an empty block has room");
                blocks.push(next);
            }
            Err(PackError::TooLong) => panic!("{entry:?}"),
        }
    }
    blocks
}

/// What a reader has to find: the boot is that of the last Boot, the numbers count on.
fn expected(entries: &[Entry]) -> Vec<Item> {
    let (mut boot, mut number) = (header(1).boot, header(1).first_entry);
    let mut items = Vec::new();
    for entry in entries {
        if let Entry::Boot { boot: new, .. } = entry {
            boot = *new;
        }
        items.push(Item::Entry { number, boot, entry: *entry });
        number = number.wrapping_add(1);
    }
    items
}

proptest! {
    #[test]
    fn any_entries_in_any_write_unit_read_back(
        entries in entries(700),
        write_unit in select(&WRITE_UNITS[..]),
    ) {
        let blocks = write_all(write_unit, &entries);
        let mut found = Vec::new();
        for block in &blocks {
            let mut reader = Reader::new(&block.bytes).unwrap();
            prop_assert_eq!(*reader.header(), block.header);
            found.extend(reader.by_ref());
            prop_assert_eq!(*reader.cursor(), block.cursor);
        }
        prop_assert_eq!(found, expected(&entries));
        for pair in blocks.windows(2) {
            prop_assert_eq!(pair[1].header.previous, digest(&pair[0].bytes));
        }
    }

    #[test]
    fn any_header_reads_back(
        unit in 0..6_u32,
        interval_s in 1..=u16::MAX,
        logger: [u8; 8],
        (block, boot, first_entry) in any::<(u32, u32, u32)>(),
        previous: [u8; 32],
    ) {
        let logger = glueday_types::LoggerId(logger);
        let write_unit = 1 << unit;
        let header = Header { write_unit, interval_s, logger, block, boot, first_entry, previous };
        prop_assert_eq!(Header::from_bytes(&header.to_bytes()), Ok(header));
        prop_assert_eq!(logger.to_string().parse(), Ok(logger));
    }

    #[test]
    fn values_that_no_header_may_have_are_refused(write_unit in 0..70_u8, interval_s in 0..3_u16) {
        let bytes = Header { write_unit, interval_s, ..header(1) }.to_bytes();
        let valid = WRITE_UNITS.contains(&write_unit) && interval_s > 0;
        let found = Header::from_bytes(&bytes);
        prop_assert_eq!(found.is_ok(), valid);
        prop_assert!(valid || found == Err(HeaderError::Corrupt));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn a_block_cut_at_any_byte_reads_as_a_prefix(
        entries in entries(60),
        write_unit in select(&WRITE_UNITS[..]),
    ) {
        let (block, fit) = block(write_unit, &entries);
        let whole = expected(&entries[..fit]);
        let written = written_len(&block.bytes);
        let mut longest = 0;
        for len in 0..=usize::from(block.cursor.offset()) {
            let Ok(reader) = Reader::new(&block.bytes[..len]) else {
                prop_assert!(len < HEADER_LEN);
                continue;
            };
            let mut items: Vec<_> = reader.collect();
            match items.last().copied() {
                Some(Item::Damaged { to, .. }) => {
                    prop_assert!(usize::from(to) <= len);
                    items.pop();
                }
                // In one cut of 65,536 the right check of the half that is left is FF FF.
                Some(Item::Unknown { .. }) => {
                    items.pop();
                }
                _ => {}
            }
            prop_assert!(whole.starts_with(&items), "cut at {}", len);
            // Never fewer with more bytes, and all from the last byte that is not erased on.
            prop_assert!(items.len() >= longest);
            longest = items.len();
            if len >= written {
                prop_assert_eq!(items, &whole[..]);
            }
        }
    }
}

#[test]
fn a_block_in_which_nothing_was_written_ends_at_once() {
    let block = Block::new(header(8));
    assert_eq!(Reader::new(&block.bytes).unwrap().next(), None);
    assert_eq!(Reader::new(&block.bytes[..HEADER_LEN]).unwrap().next(), None);
    assert_eq!(written_len(&block.bytes), HEADER_LEN);
    assert_eq!(Reader::new(&[0xFF; 4096]).unwrap_err(), HeaderError::Erased);
    assert_eq!(Reader::new(&[0; 4096]).unwrap_err(), HeaderError::NotABlock);
    assert_eq!(Reader::new(&[0; 63]).unwrap_err(), HeaderError::TooShort);
}

/// The header with another version and, if `right`, the check that goes with it.
fn with_version(version: u8, right: bool) -> Result<Header, HeaderError> {
    let mut bytes = header(1).to_bytes();
    bytes[4] = version;
    if right {
        let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&bytes[..60]);
        bytes[60..].copy_from_slice(&check.to_le_bytes());
    }
    Header::from_bytes(&bytes)
}

#[test]
fn a_newer_format_is_told_apart_from_damage() {
    assert_eq!(with_version(1, true), Ok(header(1)));
    for version in 2..=255 {
        assert_eq!(with_version(version, true), Err(HeaderError::Newer { version }));
        assert_eq!(with_version(version, false), Err(HeaderError::Corrupt));
    }
    assert_eq!(with_version(0, true), Err(HeaderError::Corrupt));
}
