//! Blocks to columns, on as many cores as there are when there is much to do.

use super::{Damage, Damaged};
use glueday_types::block::{Item, Reader};
use glueday_types::{
    Absent, BLOCK_LEN, BlockDigest, CentiCelsius, CentiPercent, Entry, Header, HeaderError,
    Reading, Sample, digest,
};
use std::num::NonZero;
use std::ops::Range;

/// Blocks that are worth a thread of their own: some 70,000 samples, 2 ms.
const BLOCKS_OF_A_THREAD: usize = 128;
/// An entry takes at least so many bytes, nearly always.
const ENTRY_LEN_MIN: usize = 7;

/// A place for a sample.
const NO_SAMPLE: Sample = {
    let none = Absent::NotFitted;
    Sample { at_s: 0, slab: Err(none), air: Err(none), air_rh: Err(none), supply: Err(none) }
};

/// What stands in blocks, not dated yet. Columns as in [`super::History`].
#[derive(Default)]
pub(super) struct Raw {
    pub(super) at_s: Vec<u32>,
    pub(super) interval_s: Vec<u16>,
    pub(super) slab: Vec<Reading<CentiCelsius>>,
    pub(super) air: Vec<Reading<CentiCelsius>>,
    pub(super) air_rh: Vec<Reading<CentiPercent>>,
    pub(super) supply: Vec<Reading<CentiCelsius>>,
    /// Stretches of one boot each, in the order of the log, with all samples among them.
    pub(super) runs: Vec<Run>,
    pub(super) blocks: Vec<Block>,
}

/// A stretch of the log within one boot.
pub(super) struct Run {
    pub(super) boot: u32,
    /// Its samples.
    pub(super) samples: Range<usize>,
    /// Its other entries.
    pub(super) others: Vec<Entry>,
}

/// What is to be known of a block besides its entries.
pub(super) struct Block {
    pub(super) header: Result<Header, HeaderError>,
    /// `None` when the block is not whole yet.
    pub(super) digest: Option<BlockDigest>,
    pub(super) damaged: Vec<Damaged>,
}

/// Decodes all blocks. Each can be read without the others, and so their order is that of the result.
pub(super) fn decode(blocks: &[&[u8]]) -> Raw {
    let threads = blocks.len() / BLOCKS_OF_A_THREAD;
    let cores = || std::thread::available_parallelism().map_or(1, NonZero::get);
    if threads < 2 || cores() < 2 {
        return decode_here(blocks);
    }
    let parts = threads.min(cores());
    // This thread has a shorter part, as it has to put those of the others behind its own.
    let share = (blocks.len() * 4).div_ceil(parts * 4 - 1);
    let own = blocks.len().saturating_sub(share * (parts - 1));
    std::thread::scope(|scope| {
        let (first, others) = blocks.split_at(own);
        let others: Vec<_> =
            others.chunks(share).map(|part| scope.spawn(|| decode_here(part))).collect();
        let mut raw = Raw::with_room(blocks);
        raw.read(first);
        for other in others {
            raw.append(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        raw
    })
}

fn decode_here(blocks: &[&[u8]]) -> Raw {
    let mut raw = Raw::with_room(blocks);
    raw.read(blocks);
    raw
}

impl Raw {
    fn with_room(blocks: &[&[u8]]) -> Self {
        let most = blocks.iter().map(|block| block.len()).sum::<usize>() / ENTRY_LEN_MIN;
        Self {
            at_s: Vec::with_capacity(most),
            interval_s: Vec::with_capacity(most),
            slab: Vec::with_capacity(most),
            air: Vec::with_capacity(most),
            air_rh: Vec::with_capacity(most),
            supply: Vec::with_capacity(most),
            runs: Vec::new(),
            blocks: Vec::with_capacity(blocks.len()),
        }
    }

    fn read(&mut self, blocks: &[&[u8]]) {
        for bytes in blocks {
            let digest = (bytes.len() >= BLOCK_LEN).then(|| digest(bytes));
            let (header, damaged) = match Reader::new(bytes) {
                Ok(reader) => (Ok(*reader.header()), self.read_entries(reader)),
                Err(error) => (Err(error), Vec::new()),
            };
            self.blocks.push(Block { header, digest, damaged });
        }
    }

    fn read_entries(&mut self, mut reader: Reader<'_>) -> Vec<Damaged> {
        let block = reader.header().block;
        let mut damaged = Vec::new();
        let mut unknown = 0_u32;
        let mut some = [NO_SAMPLE; 64];
        loop {
            // Most entries by far, and of the boot that the entry before was of. They are put into the
            // columns some at a time: one by one that would take as long as reading them.
            let interval_s = reader.cursor().interval_s();
            let read = |place: &mut Sample| reader.next_usual().map(|sample| *place = sample);
            let count = some.iter_mut().map_while(read).count();
            if let Some(read) = some.get(..count).filter(|read| !read.is_empty()) {
                self.put(read, interval_s);
                self.run(reader.cursor().boot()).samples.end = self.at_s.len();
            }
            if count == some.len() {
                continue;
            }
            match reader.next() {
                Some(Item::Entry { boot, entry: Entry::Sample(sample), .. }) => {
                    self.put(&[sample], reader.cursor().interval_s());
                    self.run(boot).samples.end = self.at_s.len();
                }
                Some(Item::Entry { boot, entry, .. }) => self.run(boot).others.push(entry),
                Some(Item::Unknown { .. }) => unknown = unknown.saturating_add(1),
                Some(Item::Damaged { from, to }) => {
                    damaged.push(Damaged { block, what: Damage::Bytes { from, to } });
                }
                None => break,
            }
        }
        if unknown > 0 {
            damaged.push(Damaged { block, what: Damage::UnknownEntries(unknown) });
        }
        damaged
    }

    /// The run of a boot at the end of what was read.
    fn run(&mut self, boot: u32) -> &mut Run {
        let here = self.runs.last().map_or(0, |run| run.samples.end);
        match self.runs.pop_if(|run| run.boot == boot) {
            Some(run) => self.runs.push_mut(run),
            None => self.runs.push_mut(Run { boot, samples: here..here, others: Vec::new() }),
        }
    }

    /// Takes samples in a row.
    fn put(&mut self, samples: &[Sample], interval_s: u16) {
        self.at_s.extend(samples.iter().map(|sample| sample.at_s));
        self.interval_s.resize(self.at_s.len(), interval_s);
        self.slab.extend(samples.iter().map(|sample| sample.slab));
        self.air.extend(samples.iter().map(|sample| sample.air));
        self.air_rh.extend(samples.iter().map(|sample| sample.air_rh));
        self.supply.extend(samples.iter().map(|sample| sample.supply));
    }

    fn append(&mut self, mut later: Self) {
        let before = self.at_s.len();
        self.at_s.append(&mut later.at_s);
        self.interval_s.append(&mut later.interval_s);
        self.slab.append(&mut later.slab);
        self.air.append(&mut later.air);
        self.air_rh.append(&mut later.air_rh);
        self.supply.append(&mut later.supply);
        self.runs.extend(later.runs.into_iter().map(|run| Run {
            samples: run.samples.start + before..run.samples.end + before,
            ..run
        }));
        self.blocks.append(&mut later.blocks);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::archive::{ImportRow, import_blocks};
    use glueday_types::LoggerId;

    /// Two logs, one with a probe that fails, and what was cut off of one of their blocks.
    fn blocks() -> Vec<Vec<u8>> {
        let row = |i: i16| ImportRow {
            utc_s: 1_772_409_600 + i64::from(i) * 60,
            slab: Ok(CentiCelsius(2_000 + i % 90)),
            air: Ok(CentiCelsius(2_100 - i % 70)),
            air_rh: Ok(CentiPercent(4_000)),
            supply: if i % 300 < 40 {
                Err(glueday_types::Absent::NoAnswer)
            } else {
                Ok(CentiCelsius(i))
            },
            line: 1,
        };
        let log = |count: i16, id: [u8; 8]| {
            let rows: Vec<ImportRow> = (0..count).map(row).collect();
            import_blocks(&rows, LoggerId(id)).unwrap().blocks
        };
        let mut blocks = log(1_700, *b"one-log.");
        blocks.extend(log(900, *b"another."));
        let mut cut = blocks[1].clone();
        cut.truncate(700);
        cut[300] ^= 0x55;
        blocks.push(cut);
        blocks
    }

    #[test]
    fn many_blocks_are_decoded_as_each_part_alone() {
        let few = blocks();
        assert!(few.len() > 4, "{} blocks", few.len());
        // Enough for several threads, in an order that tells the parts apart.
        let many: Vec<&[u8]> = (0..3 * BLOCKS_OF_A_THREAD + 5)
            .map(|i| few[(i * 7 + i / 11) % few.len()].as_slice())
            .collect();
        let (at_once, alone) = (decode(&many), decode_here(&many));
        assert!(alone.at_s.len() > 50_000);
        // Entry by entry.
        let items = many.iter().flat_map(|block| Reader::new(block).unwrap());
        let samples = items.filter_map(|item| match item {
            Item::Entry { entry: Entry::Sample(sample), .. } => Some(sample),
            _ => None,
        });
        let columns = (0..alone.at_s.len()).map(|i| Sample {
            at_s: alone.at_s[i],
            slab: alone.slab[i],
            air: alone.air[i],
            air_rh: alone.air_rh[i],
            supply: alone.supply[i],
        });
        assert!(samples.eq(columns));
        assert!(alone.interval_s.iter().all(|interval_s| *interval_s == 60));
        assert_eq!(at_once.at_s, alone.at_s);
        assert_eq!(at_once.interval_s, alone.interval_s);
        assert_eq!(at_once.slab, alone.slab);
        assert_eq!(at_once.air, alone.air);
        assert_eq!(at_once.air_rh, alone.air_rh);
        assert_eq!(at_once.supply, alone.supply);
        assert_eq!(at_once.blocks.len(), alone.blocks.len());
        for (a, b) in at_once.blocks.iter().zip(&alone.blocks) {
            assert_eq!((&a.header, &a.digest, &a.damaged), (&b.header, &b.digest, &b.damaged));
        }
        // A run that is cut between two threads is two, one after the other, of the same boot.
        let samples = |raw: &Raw| -> Vec<(u32, usize)> {
            let each = |run: &Run| run.samples.clone().map(|i| (run.boot, i)).collect::<Vec<_>>();
            raw.runs.iter().flat_map(each).collect()
        };
        assert_eq!(samples(&at_once), samples(&alone));
        let others = |raw: &Raw| -> Vec<(u32, Entry)> {
            let each = |run: &Run| run.others.iter().map(|e| (run.boot, *e)).collect::<Vec<_>>();
            raw.runs.iter().flat_map(each).collect()
        };
        assert_eq!(others(&at_once), others(&alone));
        assert!(samples(&alone).iter().map(|(_, i)| *i).eq(0..alone.at_s.len()));
    }
}
