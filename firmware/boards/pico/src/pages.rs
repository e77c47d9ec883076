//! The part of a NOR flash that log and key have, whose chip programs whole pages, as a flash that
//! programs single bytes.
//!
//! A page is programmed with ones wherever nothing is to be written. That leaves those bytes as they
//! are: programming NOR flash only turns ones into zeros, whatever the page held before. It needs a
//! flash that takes several programs into one page between two erases, as flash without error
//! correction does (data sheets of the 2 MiB class, from memory). A flash that does not is found out:
//! the ring reads back each entry that it programs, and each block is checked when it is pulled.

use crate::layout::{DATA_LEN, LOG_FROM, PAGE_LEN, SECTOR_LEN};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};

/// Bytes of a page.
pub(crate) const PAGE: usize = PAGE_LEN as usize;

/// A page or a sector of the log, by its place in the flash. Nothing outside the log has one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place(u32);

impl Place {
    /// The place that is `len` bytes long and `address` bytes into the log.
    fn new(address: u32, len: u32) -> Result<Self, LogFlashError> {
        if !address.is_multiple_of(len) {
            return Err(LogFlashError::NotAligned);
        }
        match address.checked_add(len) {
            Some(end) if end <= DATA_LEN => Ok(Self(LOG_FROM + address)),
            _ => Err(LogFlashError::OutsideLog),
        }
    }

    /// Bytes from the start of the flash.
    pub(crate) fn in_flash(self) -> u32 {
        self.0
    }
}

/// A flash chip, and the supply that it needs for what cannot be broken off.
pub(crate) trait Chip {
    /// Reads bytes from `place` on, which do not reach beyond its page.
    fn read(&mut self, place: Place, offset: usize, out: &mut [u8]);
    /// Programs a page.
    fn program(&mut self, place: Place, page: &[u8; PAGE]);
    /// Erases a sector.
    fn erase(&mut self, place: Place);
    /// Whether the supply is known to be too low to begin either.
    fn supply_is_too_low(&mut self) -> bool;
}

/// Why the flash was not touched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LogFlashError {
    /// The address is not in the log.
    OutsideLog,
    /// An erase that does not begin and end at a sector.
    NotAligned,
    /// The supply may fail before it is done.
    SupplyTooLow,
}

impl NorFlashError for LogFlashError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::OutsideLog => NorFlashErrorKind::OutOfBounds,
            Self::NotAligned => NorFlashErrorKind::NotAligned,
            Self::SupplyTooLow => NorFlashErrorKind::Other,
        }
    }
}

/// The part of a chip that the log and the key behind it have.
#[derive(Debug)]
pub(crate) struct LogFlash<C> {
    chip: C,
}

impl<C: Chip> LogFlash<C> {
    /// That part of `chip`.
    pub(crate) fn new(chip: C) -> Self {
        Self { chip }
    }

    /// Does `each` with every page that the `len` bytes at `address` lie in: its place, the offset in
    /// it, and which of the bytes lie there.
    fn pages(
        &mut self,
        address: u32,
        len: usize,
        mut each: impl FnMut(&mut C, Place, usize, core::ops::Range<usize>),
    ) -> Result<(), LogFlashError> {
        let len = u32::try_from(len).map_err(|_| LogFlashError::OutsideLog)?;
        let end = address.checked_add(len).filter(|end| *end <= DATA_LEN);
        let end = end.ok_or(LogFlashError::OutsideLog)?;
        let mut at = address;
        while at < end {
            let page = at - at % PAGE_LEN;
            let next = end.min(page + PAGE_LEN);
            let bytes = (at - address) as usize..(next - address) as usize;
            each(&mut self.chip, Place::new(page, PAGE_LEN)?, (at - page) as usize, bytes);
            at = next;
        }
        Ok(())
    }

    fn check_supply(&mut self) -> Result<(), LogFlashError> {
        if self.chip.supply_is_too_low() { Err(LogFlashError::SupplyTooLow) } else { Ok(()) }
    }
}

impl<C> ErrorType for LogFlash<C> {
    type Error = LogFlashError;
}

impl<C: Chip> ReadNorFlash for LogFlash<C> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, address: u32, out: &mut [u8]) -> Result<(), Self::Error> {
        self.pages(address, out.len(), |chip, place, offset, bytes| {
            if let Some(out) = out.get_mut(bytes) {
                chip.read(place, offset, out);
            }
        })
    }

    fn capacity(&self) -> usize {
        DATA_LEN as usize
    }
}

impl<C: Chip> NorFlash for LogFlash<C> {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_LEN as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        if from > to || to > DATA_LEN {
            return Err(LogFlashError::OutsideLog);
        }
        if !from.is_multiple_of(SECTOR_LEN) || !to.is_multiple_of(SECTOR_LEN) {
            return Err(LogFlashError::NotAligned);
        }
        let mut at = from;
        while at < to {
            self.check_supply()?;
            self.chip.erase(Place::new(at, SECTOR_LEN)?);
            at += SECTOR_LEN;
        }
        Ok(())
    }

    fn write(&mut self, address: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        self.check_supply()?;
        self.pages(address, bytes.len(), |chip, place, offset, range| {
            let mut page = [0xFF; PAGE];
            let len = range.len();
            if let (Some(to), Some(from)) = (page.get_mut(offset..offset + len), bytes.get(range)) {
                to.copy_from_slice(from);
                chip.program(place, &page);
            }
        })
    }
}
