//! Which blocks of a session are right: headers, and the chain of digests from one to the next.

use super::Finding;
use super::assembly::Assembly;
use super::session::{Event, Session, SessionError};
use crate::archive::HeldBlock;
use glueday_types::{BLOCK_LEN, BlockDigest, HEADER_LEN, HeaderError};

/// How often a block is read until it counts as bad.
const READS_MAX: u32 = 3;

impl Session {
    /// Looks whether `block`, of which bytes came, or the one before it is finished now.
    pub(super) fn settle(&mut self, block: u32) {
        if let Some(before) = block.checked_sub(1) {
            self.try_finish(before);
        }
        self.try_finish(block);
    }

    fn try_finish(&mut self, block: u32) {
        let Some(part) = self.work.get(&block) else { return };
        let header = match part.header() {
            None => return,
            Some(Ok(header)) => header,
            Some(Err(HeaderError::Newer { version })) => {
                return self.fail(SessionError::FormatNewer { block, version });
            }
            Some(Err(error)) => return self.read_again(block, &error.to_string()),
        };
        if header.logger != self.target.logger {
            return self.fail(SessionError::OtherLogger { found: header.logger });
        }
        if header.block != block {
            return self.read_again(block, &format!("it says that it is block {}", header.block));
        }
        let before = match block.checked_sub(1) {
            Some(before) => self.sealed.get(&before).map(|held| held.digest),
            None => Some([0; 32]),
        };
        if before.is_some_and(|digest| digest != header.previous) && !self.doubt(block) {
            return;
        }
        if block == self.target.open_block {
            self.finish_open();
        } else {
            self.finish_sealed(block);
        }
    }

    fn finish_open(&mut self) {
        let block = self.target.open_block;
        let Some(part) = self.work.get(&block) else { return };
        if !self.open_done && part.prefix_len() >= usize::from(self.target.open_len) {
            self.open_done = true;
            self.queue.push_back(Event::Open { number: block, bytes: part.prefix().to_vec() });
        }
    }

    fn finish_sealed(&mut self, block: u32) {
        let Some(part) = self.work.get(&block) else { return };
        let next = block.saturating_add(1);
        let whole = part.len() == BLOCK_LEN;
        match self.previous_of(next) {
            // A logger may leave out the erased end of a block: the digest covers it.
            Some(vouched) if part.is_prefix_only() && part.digest() == vouched => {}
            Some(_) if whole && self.unchained.contains(&next) => {}
            Some(_) if whole => {
                if !self.doubt(next) {
                    return;
                }
            }
            None if whole && !self.can_be_had(next) => {}
            _ => return,
        }
        let Some(part) = self.work.remove(&block) else { return };
        let Some(Ok(header)) = part.header() else { return };
        let held = HeldBlock { digest: part.digest(), previous: header.previous };
        self.sealed.insert(block, held);
        self.tally.blocks += 1;
        self.queue.push_back(Event::Sealed { number: block, bytes: part.into_bytes() });
        // The one behind it may have waited for this one to be read again.
        self.try_finish(next);
    }

    /// What `block` says is the digest of the one before, if it is there to say so.
    fn previous_of(&self, block: u32) -> Option<BlockDigest> {
        if let Some(held) = self.sealed.get(&block) {
            return Some(held.previous);
        }
        match self.work.get(&block)?.header()? {
            Ok(header) if header.block == block && header.logger == self.target.logger => {
                Some(header.previous)
            }
            _ => None,
        }
    }

    /// Whether the header of `block` will come.
    fn can_be_had(&self, block: u32) -> bool {
        block >= self.oldest
            && block <= self.target.open_block
            && self.need(block) >= HEADER_LEN
            && !self.given_up.contains(&block)
    }

    /// `block` does not bear the digest of the one before. Has that one read again, or, when that was
    /// done or cannot be, reports the broken chain and returns true.
    fn doubt(&mut self, block: u32) -> bool {
        if self.unchained.contains(&block) {
            return true;
        }
        if let Some(before) = block.checked_sub(1).filter(|before| *before >= self.oldest) {
            let reads = self.reads.entry(before).or_default();
            *reads += 1;
            if *reads < READS_MAX {
                self.sealed.remove(&before);
                self.work.insert(before, Assembly::new());
                return false;
            }
        }
        self.unchained.insert(block);
        self.found(Finding::ChainBroken { block });
        true
    }

    /// Has a block read again that cannot be right, or gives it up.
    pub(super) fn read_again(&mut self, block: u32, why: &str) {
        let reads = self.reads.entry(block).or_default();
        *reads += 1;
        if *reads < READS_MAX {
            self.work.insert(block, Assembly::new());
            self.open_done &= block != self.target.open_block;
        } else {
            self.give_up(block, why);
        }
    }

    pub(super) fn give_up(&mut self, block: u32, why: &str) {
        self.work.remove(&block);
        self.given_up.insert(block);
        self.found(Finding::BadBlock { block, detail: why.to_owned() });
        // The one before has nobody to wait for any more.
        if let Some(before) = block.checked_sub(1) {
            self.try_finish(before);
        }
    }
}
