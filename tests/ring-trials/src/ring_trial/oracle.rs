//! Whether a log is as it must be.

use super::log::{Facts, ID, Maker};
use super::model::{Model, mount};
use super::page::{self, Page, What};
use super::{Check, Counts, Log, ensure};
use crate::flash::{Cells, Chip};
use glueday_firmware::ring::Error;
use glueday_types::{Entry, MarkKind};
use std::ops::Range;

/// The most bytes that mounting may read.
///
/// ```text
///   2 * 64 * slots + 64       each header twice, and the one behind the oldest once more
/// + 4096                      the oldest block, for its digest
/// + 4096                      the newest, from its end down to the last byte written
/// + 23 * 256                  the newest, entry by entry, in windows that overlap by 65
/// + (23 + 2 * spans) * 256    once more what is damaged of it; only if something is
/// + 256                       a mark and a boot entry, read back
/// + 2 * 4096 + 64             if a block is opened: the digest of the full one, the check of the
///                             erase, the header read back
/// ```
#[must_use]
pub(super) fn mount_bound(slots: usize, spans: usize, opened: bool) -> u64 {
    let damaged = if spans == 0 { 0 } else { (23 + 2 * spans) * 256 };
    let opening = if opened { 2 * page::LEN + 64 } else { 0 };
    (2 * 64 * slots + 64 + 2 * page::LEN + 23 * 256 + damaged + 256 + opening) as u64
}

/// The blocks on a flash, as the trial's own reader sees them.
#[derive(Debug, Default)]
pub(super) struct Book {
    pub(super) pages: Vec<Page>,
}

impl Book {
    pub(super) fn read(&mut self, bytes: &[u8]) {
        let blocks = bytes.chunks_exact(page::LEN);
        self.pages.resize(blocks.len(), Page::default());
        self.pages.iter_mut().zip(blocks).for_each(|(page, block)| page.read(block));
    }

    fn slot(&self, block: u32) -> usize {
        block as usize % self.pages.len()
    }

    pub(super) fn page(&mut self, block: u32) -> &mut Page {
        let slot = self.slot(block);
        &mut self.pages[slot]
    }

    pub(super) fn holds(&self, block: u32) -> bool {
        self.pages[self.slot(block)].head.is_some_and(|head| head.block == block)
    }

    /// Number of the newest block.
    pub(super) fn newest(&self) -> Option<u32> {
        self.pages.iter().filter_map(|page| page.head).map(|head| head.block).max()
    }

    /// The oldest block from which an unbroken chain leads to `newest`.
    pub(super) fn oldest(&mut self, newest: u32) -> u32 {
        let slots = self.pages.len() as u32;
        let mut oldest = newest;
        while oldest > 0 && newest - oldest + 1 < slots && self.holds(oldest - 1) {
            let previous = self.page(oldest).head.map(|head| head.previous);
            if previous != Some(self.page(oldest - 1).digest()) {
                break;
            }
            oldest -= 1;
        }
        oldest
    }
}

/// What a campaign carries from case to case.
#[derive(Debug)]
pub(super) struct Trial<'m> {
    pub(super) maker: &'m Maker,
    pub(super) book: Book,
    pub(super) counts: Counts,
}

impl<'m> Trial<'m> {
    pub(super) fn new(maker: &'m Maker) -> Self {
        Self { maker, book: Book::default(), counts: Counts::default() }
    }

    /// Mounts, and checks how much that reads.
    pub(super) fn mount(&mut self, chip: &Chip, at_s: u32) -> Check<Result<Box<dyn Log>, Error>> {
        chip.with_bytes(|bytes| self.book.read(bytes));
        let newest = self.book.newest();
        let spans = newest.map_or(0, |newest| {
            let found = &self.book.page(newest).found;
            found.iter().filter(|f| matches!(f.what, What::Resumed | What::Lost)).count()
        });
        let slots = chip.sectors();
        chip.limit_reads(10 * mount_bound(slots, spans, true));
        let before = chip.counters().read_bytes;
        let log = mount(self.maker, chip, at_s);
        let read = chip.counters().read_bytes - before;
        chip.limit_reads(u64::MAX);
        let opened = log.as_ref().map_or(true, |log| Some(log.facts().open) != newest);
        let bound = mount_bound(slots, spans, opened);
        ensure!(read <= bound, "mounting read {read} bytes of at most {bound}");
        self.counts.mounted(slots, read);
        Ok(log)
    }

    /// Checks the log against what was written. Returns which of what was in flight are there. `fresh`
    /// says that it was just mounted.
    pub(super) fn verify(
        &mut self,
        log: &mut dyn Log,
        model: &Model,
        fresh: bool,
    ) -> Check<Vec<usize>> {
        let facts = log.facts();
        let chip = log.chip();
        chip.with_bytes(|bytes| self.book.read(bytes));
        let newest = self.book.newest().ok_or("no block is left")?;
        let oldest = self.book.oldest(newest);
        ensure!(facts.open == newest, "block {newest} is open, the log says {}", facts.open);
        // When opening a block failed, the oldest one is given up before it is erased.
        let given_up = !fresh && facts.oldest == oldest + 1;
        ensure!(
            facts.oldest == oldest || given_up,
            "block {oldest} is the oldest of a whole chain, the log says {}",
            facts.oldest
        );
        let slots = self.book.pages.len() as u32;
        ensure!(
            oldest == 0 || newest - oldest + 2 >= slots,
            "only blocks {oldest} to {newest} of {slots} are left"
        );
        let damaged = self.walk(oldest..newest + 1, chip.unit())?;
        ensure!(damaged <= model.flaws, "{damaged} damaged spans after {} flaws", model.flaws);
        self.agree(&facts)?;
        let blocks = (oldest..=newest).rev();
        let found = blocks.flat_map(|block| self.book.pages[self.book.slot(block)].entries().rev());
        let (arrived, missing) = model.compare(found)?;
        let first = self.book.page(oldest).head.map_or(0, |head| head.first_entry);
        if let Some(missing) = missing {
            ensure!(missing < first, "number {missing} is gone, though block {oldest} has {first}");
            ensure!(oldest > 0, "acknowledged entries are gone without a wrap");
        }
        let counters = chip.counters();
        for block in facts.oldest..=facts.open {
            let mut bytes = [0; page::LEN];
            let read = chip.without_failing_reads(|| log.read(block, 0, &mut bytes));
            read.map_err(|error| format!("block {block}: {error}"))?;
            let slot = self.book.slot(block) * page::LEN;
            let same = chip.with_bytes(|all| all[slot..slot + page::LEN] == bytes);
            ensure!(same, "block {block} is read from elsewhere");
        }
        let after = chip.counters();
        ensure!(
            (counters.programs, counters.erases) == (after.programs, after.erases),
            "reading changed the flash"
        );
        ensure!(after.violations == 0, "a rule of the flash was broken");
        Ok(arrived)
    }

    /// Goes through the blocks: headers follow one another, and so do numbers and boots. Returns how
    /// many spans are damaged.
    fn walk(&mut self, blocks: Range<u32>, unit: usize) -> Check<usize> {
        let newest = blocks.end - 1;
        let mut damaged = 0;
        let mut before: Option<page::State> = None;
        for block in blocks {
            let page = self.book.page(block);
            let Some(head) = page.head else { return Err(format!("block {block} has no header")) };
            ensure!((head.logger, head.unit) == (ID.0, unit), "the header of block {block}");
            if let Some(before) = before {
                let went_on = (before.number, before.boot, before.interval_s);
                let goes_on = (head.first_entry, head.boot, head.interval_s);
                ensure!(went_on == goes_on, "block {block}: {goes_on:?} behind {went_on:?}");
            }
            let mut boot = head.boot;
            for found in &page.found {
                match found.what {
                    What::Entry(Entry::Boot { boot: number, .. }) => {
                        ensure!(number == boot + 1, "boot {number} behind boot {boot}");
                        boot = number;
                    }
                    What::Entry(_) => {}
                    What::Unknown => return Err(format!("an unknown entry in block {block}")),
                    What::Resumed => damaged += 1,
                    What::Lost => {
                        damaged += 1;
                        ensure!(block != newest, "nothing can be written behind the damage");
                    }
                }
            }
            before = page.state();
        }
        Ok(damaged)
    }

    /// What the log says of itself is so.
    fn agree(&mut self, facts: &Facts) -> Check {
        let state = self.book.page(facts.open).state().ok_or("the open block has no header")?;
        let there = (state.at, state.number, state.boot, state.interval_s);
        let said = (usize::from(facts.open_len), facts.entries, facts.boot, facts.interval_s);
        ensure!(there == said, "the log says {said:?}, the flash {there:?}");
        Ok(())
    }

    /// The readers agree about every block.
    pub(super) fn readers_agree(&mut self, bytes: &[u8]) -> Check {
        self.book.read(bytes);
        for (slot, page) in self.book.pages.iter_mut().enumerate() {
            ensure!(page.agrees(), "the two readers of blocks see different things in slot {slot}");
        }
        Ok(())
    }

    /// What happens after the power is back: mount, check, and see that the log is settled.
    pub(super) fn recover(&mut self, cells: Cells, model: &Model, at_s: u32) -> Check {
        let chip = Chip::new(cells);
        let mut model = model.clone();
        let mut log = self.mount(&chip, at_s)?.map_err(|error| format!("mounting: {error}"))?;
        model.mounted(&log.facts(), at_s);
        self.verify(log.as_mut(), &model, true)?;
        ensure!(log.facts().lost == 0, "{} entries lost in a new boot", log.facts().lost);
        self.settled(log, model, at_s)
    }

    /// The log was just mounted: the next entry is written and survives one more mount, which finds
    /// nothing to repair and changes nothing.
    pub(super) fn settled(&mut self, log: Box<dyn Log>, mut model: Model, at_s: u32) -> Check {
        let mut log = log;
        let next = Entry::Mark { at_s: at_s + 1, kind: MarkKind::Button };
        model.append(log.as_mut(), next).map_err(|error| format!("the next entry: {error}"))?;
        let chip = log.chip();
        drop(log);
        self.again(&chip, model, at_s + 2)
    }

    /// Mounting once more repairs nothing and changes nothing.
    pub(super) fn again(&mut self, chip: &Chip, mut model: Model, at_s: u32) -> Check {
        let before = chip.cells();
        chip.with_bytes(|bytes| self.book.read(bytes));
        let newest = self.book.newest().ok_or("no block is left")?;
        let from = self.book.page(newest).state().map_or(0, |state| state.at);
        let erases = chip.counters().erases;
        let mut log =
            self.mount(chip, at_s)?.map_err(|error| format!("mounting again: {error}"))?;
        ensure!(log.facts().resumed == 0, "mounting again found something to repair");
        let opened = log.facts().open - newest;
        ensure!(chip.counters().erases - erases == u64::from(opened), "mounting again erased");
        chip.with_bytes(|bytes| untouched(before.bytes(), bytes, newest, from, opened > 0))?;
        model.mounted(&log.facts(), at_s);
        self.verify(log.as_mut(), &model, true).map(drop)
    }
}

/// Nothing changed from `before` to `after` but behind `from` in block `newest` and, when the next one
/// was opened, in that.
pub(super) fn untouched(
    before: &[u8],
    after: &[u8],
    newest: u32,
    from: usize,
    opened: bool,
) -> Check {
    let slots = before.len() / page::LEN;
    let at = |block: u32| block as usize % slots;
    for (slot, (old, new)) in before.chunks(page::LEN).zip(after.chunks(page::LEN)).enumerate() {
        let kept = match slot {
            slot if opened && slot == at(newest.wrapping_add(1)) => 0,
            slot if slot == at(newest) => from,
            _ => page::LEN,
        };
        ensure!(old[..kept] == new[..kept], "slot {slot} was changed");
    }
    Ok(())
}
