//! What a session asks for next.

use super::WINDOW_BLOCKS;
use super::session::Session;
use glueday_types::BLOCK_LEN;
use std::ops::Range;
use std::time::Duration;

/// Bytes that are read again where a pull goes on in the middle of a block: several entries, each with
/// its check.
const OVERLAP_LEN: usize = 64;

/// A run of chunks that is under way.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// The blocks that were asked for.
    pub(super) blocks: Range<u32>,
    /// Where in the first of them.
    pub(super) offset: u16,
    /// The end of what is wanted: byte `.1` of block `.0`.
    pub(super) stop: (u32, usize),
    /// When it counts as broken off, unless more comes before.
    pub(super) deadline: Duration,
    /// Whether anything new came of it.
    pub(super) progress: bool,
}

impl Session {
    /// The next run that brings something new: what is missing of one block, or from there on whole
    /// blocks up to the window. `None` when everything is there.
    pub(super) fn plan(&self, deadline: Duration) -> Option<Run> {
        let (block, gap) = self.wanted().find_map(|block| {
            let need = self.need(block);
            let gap = match self.work.get(&block) {
                Some(assembly) => assembly.gap(need),
                None => (need > 0).then_some(0..need),
            };
            gap.map(|gap| (block, gap))
        })?;
        let to_end = gap.end == self.need(block);
        let following = self
            .wanted()
            .skip_while(|next| *next <= block)
            // With its end, so that it does not count beyond the last number.
            .zip(block.saturating_add(1)..=u32::MAX)
            .take_while(|(next, expected)| {
                to_end && next == expected && !self.work.contains_key(next) && self.need(*next) > 0
            })
            .take(usize::from(WINDOW_BLOCKS - 1))
            .last();
        let last = following.map_or(block, |(last, _)| last);
        // What the archive holds of a block that was open then may be of another history than what
        // the logger holds now: a few bytes are read twice, so that it shows.
        let overlap = if self.unconfirmed.contains(&block) { OVERLAP_LEN } else { 0 };
        Some(Run {
            blocks: block..last.saturating_add(1),
            // Offsets within a block are below 4096.
            offset: u16::try_from(gap.start.saturating_sub(overlap)).unwrap_or(0),
            stop: (last, if last == block { gap.end } else { self.need(last) }),
            deadline,
            progress: false,
        })
    }

    /// The numbers of the blocks that are to be had and not finished.
    pub(super) fn wanted(&self) -> impl Iterator<Item = u32> + '_ {
        (self.oldest..=self.target.open_block).filter(|block| {
            let over = self.sealed.contains_key(block)
                || self.given_up.contains(block)
                || (self.open_done && *block == self.target.open_block);
            !over
        })
    }

    /// How many bytes there are to have of a block.
    pub(super) fn need(&self, block: u32) -> usize {
        if block < self.target.open_block { BLOCK_LEN } else { usize::from(self.target.open_len) }
    }
}
