//! Finds what a flash holds: the newest block, the oldest one that is whole, and the end of the log.

use super::error::Error;
use super::flash::{Slots, Window};
use embedded_storage::nor_flash::NorFlash;
use glueday_types::cursor::ERASED;
use glueday_types::{BLOCK_LEN, Cursor, Found, HEADER_LEN, Header, HeaderError, LoggerId};

/// The blocks that a flash holds.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    /// The header of the newest block.
    pub(super) newest: Header,
    /// Number of the oldest block that is whole.
    pub(super) oldest: u32,
}

/// The end of a block's entries.
#[derive(Clone, Copy, Debug)]
pub(super) enum Tail {
    /// Erased flash follows the last entry, or the block is full.
    Clean,
    /// Something that is no entry follows; this is the offset behind its last written byte.
    Damaged(usize),
}

/// Reads the header in `slot`, if there is one that belongs there.
fn header<F: NorFlash>(
    slots: &mut Slots<F>,
    slot: u32,
    logger: LoggerId,
) -> Result<Option<Header>, Error> {
    let mut bytes = [0; HEADER_LEN];
    slots.read(slot, 0, &mut bytes)?;
    match Header::from_bytes(&bytes) {
        Ok(header) if header.logger != logger => {
            Err(Error::OtherLogger { found: header.logger, slot })
        }
        Ok(header) if slots.slot_of(header.block) != slot => {
            Err(Error::Misplaced { block: header.block, slot })
        }
        Ok(header) => Ok(Some(header)),
        Err(HeaderError::Newer { version }) => Err(Error::NewerFormat { version, slot }),
        // Half-written or half-erased when the power failed, or never used.
        Err(_) => Ok(None),
    }
}

/// Reads one header a slot, and goes through the slot that is erased next.
pub(super) fn extent<F: NorFlash>(
    slots: &mut Slots<F>,
    logger: LoggerId,
) -> Result<Option<Extent>, Error> {
    let mut newest: Option<Header> = None;
    for slot in 0..slots.count() {
        if let Some(found) = header(slots, slot, logger)?
            && newest.is_none_or(|newest| found.block > newest.block)
        {
            newest = Some(found);
        }
    }
    let Some(newest) = newest else { return Ok(None) };
    // The first block that a whole ring would hold.
    let first = newest.block.saturating_sub(slots.count() - 1);
    let mut oldest = newest.block;
    for block in (first..newest.block).rev() {
        let slot = slots.slot_of(block);
        if header(slots, slot, logger)?.is_some_and(|found| found.block == block) {
            oldest = block;
        }
    }
    // An erase that the power cut short may have left a header that still reads right over
    // entries that do not.
    if newest.block - oldest == slots.count() - 1 {
        let next = slots.slot_of(oldest + 1);
        let successor = header(slots, next, logger)?;
        let digest = slots.digest(slots.slot_of(oldest))?;
        if successor.is_none_or(|next| next.previous != digest) {
            oldest += 1;
        }
    }
    Ok(Some(Extent { newest, oldest }))
}

/// Moves `cursor` behind the last entry of the block in `slot`, over damage that resume marks skip.
pub(super) fn tail<F: NorFlash>(
    slots: &mut Slots<F>,
    slot: u32,
    cursor: &mut Cursor,
) -> Result<Tail, Error> {
    let written = slots.written_len(slot)?;
    let mut window = Window::new();
    // Each turn moves the cursor by at least a byte or ends the loop.
    for _ in 0..BLOCK_LEN {
        let at = usize::from(cursor.offset());
        match cursor.read(slots.view(slot, at, &mut window)?) {
            Found::Entry(_) | Found::Unknown => {}
            Found::Nothing if at >= written => return Ok(Tail::Clean),
            Found::Nothing | Found::Damaged => match resume_mark(slots, slot, cursor, written)? {
                Some(place) => cursor.resume(place),
                None => return Ok(Tail::Damaged(written)),
            },
        }
    }
    Err(Error::LogicBug("a block with more entries than bytes"))
}

/// Where the resume mark for the damage at `cursor` stands, if there is one before `written`.
fn resume_mark<F: NorFlash>(
    slots: &mut Slots<F>,
    slot: u32,
    cursor: &Cursor,
    written: usize,
) -> Result<Option<u16>, Error> {
    let mut window = Window::new();
    let mut at = cursor.unit_at_or_after(usize::from(cursor.offset()) + 1);
    while at < written {
        let bytes = slots.view(slot, at, &mut window)?;
        let place = u16::try_from(at).map_err(|_| Error::LogicBug("a place outside its block"))?;
        if bytes.first() != Some(&ERASED) && cursor.is_resume(place, bytes) {
            return Ok(Some(place));
        }
        at = cursor.unit_at_or_after(at + 1);
    }
    Ok(None)
}
