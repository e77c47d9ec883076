//! Imported rows as blocks, in the same format as those of a logger.

use super::ImportRow;
use glueday_types::{BlockDigest, Entry, Header, LoggerId, PackError, Sample, block, digest};
use sha2::Digest as _;
use std::collections::BTreeMap;

/// Rows as blocks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportedLog {
    /// The id that the blocks bear.
    pub logger: LoggerId,
    /// The blocks in order, each of 4096 bytes.
    pub blocks: Vec<Vec<u8>>,
    /// The most common spacing of the rows in seconds.
    pub interval_s: u16,
}

/// Why rows cannot be encoded.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    /// There are none.
    #[error("the file has no rows with measurements")]
    NoRows,
    /// A row is older than the one before.
    #[error(
        "line {line}: its time is {back_s} s before that of line {before}; sort the rows by time, and check the time zone at a change of daylight saving"
    )]
    Backwards {
        /// Line of the row.
        line: u64,
        /// Line of the row before.
        before: u64,
        /// How far back it goes in seconds.
        back_s: u64,
    },
    /// A row lies too far from the first.
    #[error(
        "line {line}: its time is more than 136 years after the first row, on line {first}; check the dates"
    )]
    TooLong {
        /// Line of the row.
        line: u64,
        /// Line of the first row.
        first: u64,
    },
    /// An entry does not fit. Cannot happen with the entries of this version.
    #[error("line {line}: the row cannot be encoded ({source})")]
    Pack {
        /// Line of the row.
        line: u64,
        /// What the encoder says.
        source: PackError,
    },
}

/// The id under which an imported file stands: the first 8 bytes of its SHA-256.
#[must_use]
pub fn import_id(original: &[u8]) -> LoggerId {
    id_of_parts(&[original])
}

/// The id of an imported file that is given in parts.
pub(super) fn id_of_parts(parts: &[&[u8]]) -> LoggerId {
    let mut sha = sha2::Sha256::new();
    parts.iter().for_each(|part| sha.update(part));
    let sha: [u8; 32] = sha.finalize().into();
    LoggerId(sha.first_chunk().copied().unwrap_or_default())
}

/// Encodes rows, in order of time, as the log of one boot that began with the first row. The clock is
/// set at both ends, so that every row gets back the time it came with.
///
/// # Errors
/// See [`EncodeError`]; each names the line.
pub fn import_blocks(rows: &[ImportRow], logger: LoggerId) -> Result<ImportedLog, EncodeError> {
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return Err(EncodeError::NoRows);
    };
    let mut writer = Writer::start(logger, common_spacing(rows)?);
    writer.append(&Entry::ClockSet { at_s: 0, utc_s: first.utc_s }, first.line)?;
    let mut end_s = 0;
    for row in rows {
        // Rows do not go backwards, so that the difference is not negative.
        end_s = u32::try_from(row.utc_s.abs_diff(first.utc_s))
            .map_err(|_| EncodeError::TooLong { line: row.line, first: first.line })?;
        let &ImportRow { slab, air, air_rh, supply, line, .. } = row;
        writer.append(&Entry::Sample(Sample { at_s: end_s, slab, air, air_rh, supply }), line)?;
    }
    if end_s > 0 {
        writer.append(&Entry::ClockSet { at_s: end_s, utc_s: last.utc_s }, last.line)?;
    }
    let interval_s = writer.interval_s;
    Ok(ImportedLog { logger, blocks: writer.finish(), interval_s })
}

/// The most common spacing of the rows, the shorter one of two that are equally common, within what a
/// nominal interval can be.
fn common_spacing(rows: &[ImportRow]) -> Result<u16, EncodeError> {
    let mut counts = BTreeMap::<u64, usize>::new();
    // Mostly one spacing for a long time: it is counted here, and noted when it ends.
    let (mut now_s, mut times) = (0, 0);
    for (before, row) in rows.iter().zip(rows.iter().skip(1)) {
        let spacing_s = row.utc_s.abs_diff(before.utc_s);
        if row.utc_s < before.utc_s {
            return Err(EncodeError::Backwards {
                line: row.line,
                before: before.line,
                back_s: spacing_s,
            });
        }
        if spacing_s != now_s {
            *counts.entry(now_s).or_default() += times;
            (now_s, times) = (spacing_s, 0);
        }
        times += 1;
    }
    *counts.entry(now_s).or_default() += times;
    let common = counts
        .into_iter()
        .filter(|(spacing_s, _)| *spacing_s > 0)
        .max_by_key(|(spacing_s, count)| (*count, std::cmp::Reverse(*spacing_s)));
    // A lone row has no spacing; any interval does for it.
    let spacing_s = common.map_or(1, |(spacing_s, _)| spacing_s);
    Ok(u16::try_from(spacing_s).unwrap_or(u16::MAX))
}

/// Fills one block after the other.
struct Writer {
    logger: LoggerId,
    interval_s: u16,
    block: block::Writer,
    done: Vec<Vec<u8>>,
}

impl Writer {
    fn start(logger: LoggerId, interval_s: u16) -> Self {
        let block = begin(logger, interval_s, 0, 0, [0; 32]);
        Self { logger, interval_s, block, done: Vec::new() }
    }

    fn append(&mut self, entry: &Entry, line: u64) -> Result<(), EncodeError> {
        match self.block.append(entry) {
            Err(PackError::BlockFull) => {
                self.next_block();
                self.block.append(entry)
            }
            appended => appended,
        }
        .map_err(|source| EncodeError::Pack { line, source })
    }

    fn next_block(&mut self) {
        let previous = digest(self.block.bytes());
        self.done.push(self.block.bytes().to_vec());
        // A count of blocks that fit into memory.
        let number = u32::try_from(self.done.len()).unwrap_or(u32::MAX);
        let first_entry = self.block.cursor().number();
        self.block = begin(self.logger, self.interval_s, number, first_entry, previous);
    }

    fn finish(mut self) -> Vec<Vec<u8>> {
        self.done.push(self.block.bytes().to_vec());
        self.done
    }
}

fn begin(
    logger: LoggerId,
    interval_s: u16,
    block: u32,
    first_entry: u32,
    previous: BlockDigest,
) -> block::Writer {
    block::Writer::new(&Header {
        write_unit: 1,
        interval_s,
        logger,
        block,
        boot: 1,
        first_entry,
        previous,
    })
}
