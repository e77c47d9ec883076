//! What stands on a flash: its blocks and its entries, read as any reader would.

use glueday_types::block::{Item, Reader};
use glueday_types::{BLOCK_LEN, Entry, Header, digest};

/// Blocks on flash in their order, with their headers.
///
/// # Panics
/// When their chain is broken.
#[must_use]
pub fn blocks(flash: &[u8]) -> Vec<(Header, &[u8])> {
    let mut blocks: Vec<(Header, &[u8])> = flash
        .chunks(BLOCK_LEN)
        .filter_map(|block| Some((Header::from_bytes(block).ok()?, block)))
        .collect();
    blocks.sort_by_key(|(header, _)| header.block);
    for pair in blocks.windows(2) {
        let [(before, bytes), (header, _)] = pair else { continue };
        assert_eq!(header.block, before.block + 1, "a block is missing");
        assert_eq!(header.previous, digest(bytes), "block {} does not follow", header.block);
    }
    blocks
}

/// Entries on flash with their numbers.
///
/// # Panics
/// When a block or the chain is broken.
#[must_use]
#[allow(clippy::expect_used)] // Only ever called by tests.
pub fn entries(flash: &[u8]) -> Vec<(u32, Entry)> {
    let mut entries = Vec::new();
    for (_, block) in blocks(flash) {
        let reader = Reader::new(block).expect("a header, which was read before");
        entries.extend(reader.filter_map(|item| match item {
            Item::Entry { number, entry, .. } => Some((number, entry)),
            _ => None,
        }));
    }
    entries
}
