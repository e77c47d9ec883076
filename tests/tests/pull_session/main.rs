//! Pulls from a simulated logger over a line that drops, doubles, damages, cuts and delays.
//!
//! Whatever happens, a pull ends complete, or with an error; the archive never holds a byte that the
//! logger did not write.
// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

#[cfg(test)]
mod bit_errors;
#[cfg(test)]
mod campaign;
#[cfg(test)]
mod ends;
#[cfg(test)]
mod every_exchange;
#[cfg(test)]
mod every_frame;
#[cfg(test)]
mod line;
#[cfg(test)]
mod log;
#[cfg(test)]
mod requests;

use glueday::archive::Archive;
use glueday::pull::{Link, NoProgress, PullError, PullReport};
use glueday_tests::faulty_link::{FaultyLink, ToyLogger};
use glueday_types::block::{Item, Reader};

pub(crate) const NOW_S: i64 = 1_790_000_000;

pub(crate) fn logger(samples: u32) -> ToyLogger {
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(samples, 5);
    logger
}

pub(crate) fn pull(
    line: &mut Link<FaultyLink>,
    archive: &mut Archive,
) -> Result<PullReport, PullError> {
    line.pull(archive, NOW_S, &mut NoProgress)
}

pub(crate) fn archive() -> Archive {
    Archive::in_memory().unwrap()
}

/// The line again, with another session number.
pub(crate) fn again(line: FaultyLink, number: u16) -> Link<FaultyLink> {
    Link::new(line, number)
}

/// Every byte held is one that the logger wrote; returns how many blocks are held whole.
pub(crate) fn assert_nothing_false(archive: &Archive, logger: &ToyLogger) -> usize {
    let mut sealed = 0;
    for block in archive.blocks(logger.id).unwrap() {
        if let Some(written) = logger.blocks.get(&block.number) {
            assert!(written.starts_with(&block.bytes), "block {} differs", block.number);
            assert!(!block.sealed || block.number < *logger.blocks.last_key_value().unwrap().0);
            sealed += usize::from(block.sealed);
        }
    }
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
    sealed
}

/// The archive holds the log to its last byte, and decodes to what was written.
pub(crate) fn assert_complete(archive: &Archive, logger: &ToyLogger) {
    let held = archive.blocks(logger.id).unwrap();
    for (number, bytes) in &logger.blocks {
        let block = held.iter().find(|block| block.number == *number).expect("block is held");
        assert!(
            block.bytes == *bytes,
            "block {number}: {} of {} B",
            block.bytes.len(),
            bytes.len()
        );
    }
    let decoded: Vec<_> = held
        .iter()
        .flat_map(|block| Reader::new(&block.bytes).unwrap())
        .map(|item| match item {
            Item::Entry { number, boot, entry } => (number, boot, entry),
            other => panic!("{other:?}"),
        })
        .collect();
    let first = decoded.first().expect("entries").0;
    let written: Vec<_> =
        logger.entries.iter().copied().filter(|(number, ..)| *number >= first).collect();
    assert!(decoded == written, "{} of {} entries", decoded.len(), written.len());
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
}
