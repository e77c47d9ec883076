//! A block that is being put together from chunks.

use glueday_types::cursor::ERASED;
use glueday_types::{BLOCK_LEN, BlockDigest, HEADER_LEN, Header, HeaderError, digest};
use std::ops::Range;

/// What came of bytes that were added.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Added {
    /// So many of them were new.
    New(usize),
    /// They differ from bytes that were there.
    Differs,
}

/// The bytes of a block that came so far; the others read as erased.
#[derive(Clone, Debug)]
pub(super) struct Assembly {
    bytes: Vec<u8>,
    /// Spans that came, in order, neither touching nor overlapping.
    have: Vec<Range<usize>>,
}

impl Assembly {
    pub(super) fn new() -> Self {
        Self { bytes: vec![ERASED; BLOCK_LEN], have: Vec::new() }
    }

    pub(super) fn from_prefix(prefix: &[u8]) -> Self {
        let mut assembly = Self::new();
        assembly.add(0, prefix);
        assembly
    }

    /// Adds `bytes` at `offset`; what lies beyond the end of a block is not looked at.
    pub(super) fn add(&mut self, offset: usize, bytes: &[u8]) -> Added {
        let end = offset.saturating_add(bytes.len()).min(BLOCK_LEN);
        let span = offset.min(end)..end;
        let same = self.have.iter().all(|held| {
            let both = held.start.max(span.start)..held.end.min(span.end);
            both.is_empty()
                || self.bytes.get(both.clone())
                    == bytes.get(both.start - span.start..both.end - span.start)
        });
        if !same {
            return Added::Differs;
        }
        if let Some(place) = self.bytes.get_mut(span.clone()) {
            for (slot, byte) in place.iter_mut().zip(bytes) {
                *slot = *byte;
            }
        }
        let before = self.len();
        self.have.push(span);
        self.have.sort_by_key(|span| span.start);
        let mut joined: Vec<Range<usize>> = Vec::with_capacity(self.have.len());
        for span in self.have.drain(..).filter(|span| !span.is_empty()) {
            match joined.last_mut() {
                Some(last) if span.start <= last.end => last.end = last.end.max(span.end),
                _ => joined.push(span),
            }
        }
        self.have = joined;
        Added::New(self.len() - before)
    }

    /// How many bytes came.
    pub(super) fn len(&self) -> usize {
        self.have.iter().map(ExactSizeIterator::len).sum()
    }

    /// The first span of the first `need` bytes that did not come.
    pub(super) fn gap(&self, need: usize) -> Option<Range<usize>> {
        let start = self.prefix_len();
        let end = self.have.iter().map(|span| span.start).find(|at| *at > start);
        (start < need).then(|| start..end.unwrap_or(need).min(need))
    }

    /// How many bytes came without a gap from the start.
    pub(super) fn prefix_len(&self) -> usize {
        self.have.first().filter(|span| span.start == 0).map_or(0, |span| span.end)
    }

    /// The bytes that came without a gap from the start.
    pub(super) fn prefix(&self) -> &[u8] {
        self.bytes.get(..self.prefix_len()).unwrap_or_default()
    }

    /// Whether nothing is missing before the last byte that came.
    pub(super) fn is_prefix_only(&self) -> bool {
        self.prefix_len() == self.len()
    }

    /// The header, once its bytes came.
    pub(super) fn header(&self) -> Option<Result<Header, HeaderError>> {
        (self.prefix_len() >= HEADER_LEN).then(|| Header::from_bytes(&self.bytes))
    }

    /// SHA-256 of the block if nothing else was written to it.
    pub(super) fn digest(&self) -> BlockDigest {
        digest(&self.bytes)
    }

    /// All bytes of the block, as far as they came.
    pub(super) fn into_bytes(self) -> Vec<u8> {
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_close_in_any_order_and_count_once() {
        let mut block = Assembly::from_prefix(&[7; 100]);
        assert_eq!(block.gap(4096), Some(100..4096));
        assert_eq!(block.add(1000, &[1; 24]), Added::New(24));
        assert_eq!(block.gap(4096), Some(100..1000));
        assert!(!block.is_prefix_only());
        assert_eq!(block.add(50, &[7; 50]), Added::New(0));
        assert_eq!(block.add(90, &[7; 910]), Added::New(900));
        assert_eq!(
            (block.prefix_len(), block.gap(1024), block.gap(4096)),
            (1024, None, Some(1024..4096))
        );
        assert_eq!(block.add(4000, &[3; 200]), Added::New(96), "cut at the end of the block");
        assert_eq!(block.add(1023, &[1, 1]), Added::New(1));
        assert_eq!(block.add(1023, &[2]), Added::Differs);
        assert_eq!(block.add(4095, &[2]), Added::Differs);
        assert_eq!(block.len(), 1025 + 96);
    }
}
