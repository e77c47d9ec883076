//! A NOR flash in memory that only does what it is told, for benchmarks: [`crate::flash`] checks each
//! step, and would be measured itself.

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};

const SECTOR_LEN: usize = 4096;

/// The flash, with a write unit of one byte.
#[derive(Clone, Debug)]
pub struct MemoryFlash {
    bytes: Vec<u8>,
    /// Bytes that were read from it so far.
    pub read_bytes: u64,
}

impl MemoryFlash {
    /// An erased flash.
    #[must_use]
    pub fn new(sectors: usize) -> Self {
        Self { bytes: vec![0xFF; sectors * SECTOR_LEN], read_bytes: 0 }
    }

    fn at(&mut self, offset: u32, len: usize) -> Result<&mut [u8], NorFlashErrorKind> {
        let from = usize::try_from(offset).map_err(|_| NorFlashErrorKind::OutOfBounds)?;
        self.bytes.get_mut(from..from.saturating_add(len)).ok_or(NorFlashErrorKind::OutOfBounds)
    }
}

impl ErrorType for MemoryFlash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for MemoryFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        self.read_bytes += u64::try_from(bytes.len()).unwrap_or(0);
        bytes.copy_from_slice(self.at(offset, bytes.len())?);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl NorFlash for MemoryFlash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        let len = usize::try_from(to.saturating_sub(from)).unwrap_or(usize::MAX);
        self.at(from, len)?.fill(0xFF);
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        for (cell, byte) in self.at(offset, bytes.len())?.iter_mut().zip(bytes) {
            *cell &= byte;
        }
        Ok(())
    }
}
