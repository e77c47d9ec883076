//! The memory that outlives the machine, as a NOR flash: programming only clears bits, erasing sets
//! whole sectors.

use crate::registers::{MEMORY, switchboard};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash, check_erase, check_read,
    check_write,
};
use glueday_bench_tunnel::switchboard::{
    FLASH_BUSY, FLASH_SPINS, KEY_AT, SLOTS, SLOTS_DEFAULT, SLOTS_MAX,
};
use glueday_firmware::part::Part;

const SECTOR_LEN: usize = 4096;

/// The flash: all of the memory but for the page of the switchboard.
#[derive(Debug)]
pub(crate) struct Nor;

/// A place in the memory of 16 MiB has 32 bits here.
const fn word(place: usize) -> u32 {
    place as u32
}

/// The log: as many sectors as the switchboard says.
pub(crate) fn log() -> Part<Nor> {
    let slots = match switchboard(SLOTS).read() {
        0 => SLOTS_DEFAULT,
        slots => slots.min(SLOTS_MAX),
    };
    Part::new(Nor, 0, slots * word(SECTOR_LEN))
}

/// The sector of the key.
pub(crate) fn key_sector() -> Part<Nor> {
    Part::new(Nor, word(KEY_AT), word(SECTOR_LEN))
}

impl Nor {
    /// The byte at `offset`, which was checked.
    fn get(offset: usize) -> u8 {
        // SAFETY: inside of the memory of 16 MiB, which nothing else in the program uses.
        unsafe { core::ptr::with_exposed_provenance::<u8>(MEMORY + offset).read_volatile() }
    }

    /// Sets the byte at `offset`, which was checked. One after the other, in order: the machine may be
    /// killed between any two.
    fn set(offset: usize, byte: u8) {
        // SAFETY: as in `get`.
        unsafe {
            core::ptr::with_exposed_provenance_mut::<u8>(MEMORY + offset).write_volatile(byte);
        }
    }

    /// Sets bytes one after the other, as slowly as the switchboard says.
    fn set_all(erases: bool, cells: impl Iterator<Item = (usize, u8)>) {
        let spins = switchboard(FLASH_SPINS).read();
        switchboard(FLASH_BUSY).write(1);
        for (at, byte) in cells {
            for _ in 0..if erases { spins / 32 } else { spins } {
                cortex_m::asm::nop();
            }
            Self::set(at, byte);
        }
        switchboard(FLASH_BUSY).write(0);
    }
}

/// Why the flash refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NorError {
    /// Not aligned, or beyond the end.
    Arguments(NorFlashErrorKind),
    /// A program would have had to set a bit, which only erasing can.
    NotErased,
}

impl NorFlashError for NorError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Arguments(kind) => *kind,
            Self::NotErased => NorFlashErrorKind::Other,
        }
    }
}

impl ErrorType for Nor {
    type Error = NorError;
}

/// The place of an address, which fits in the 32 bits of a `usize` here.
fn place(offset: u32) -> usize {
    usize::try_from(offset).unwrap_or(usize::MAX)
}

impl ReadNorFlash for Nor {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len()).map_err(NorError::Arguments)?;
        for (at, byte) in (place(offset)..).zip(bytes) {
            *byte = Self::get(at);
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        KEY_AT + SECTOR_LEN
    }
}

impl NorFlash for Nor {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to).map_err(NorError::Arguments)?;
        Self::set_all(true, (place(from)..place(to)).map(|at| (at, 0xFF)));
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len()).map_err(NorError::Arguments)?;
        let cells = || (place(offset)..).zip(bytes);
        if cells().any(|(at, byte)| Self::get(at) & byte != *byte) {
            return Err(NorError::NotErased);
        }
        Self::set_all(false, cells().map(|(at, byte)| (at, *byte)));
        Ok(())
    }
}
