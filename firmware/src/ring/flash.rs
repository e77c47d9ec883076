//! The flash as the ring sees it: slots of one block each, checked reads, programs and erases.

use super::error::{Error, Operation};
use embedded_storage::nor_flash::{NorFlash, NorFlashError as _};
use glueday_types::cursor::{ERASED, PACKED_LEN_MAX};
use glueday_types::header::WRITE_UNIT_MAX;
use glueday_types::{BLOCK_LEN, BlockDigest, HEADER_LEN};
use sha2::{Digest as _, Sha256};

/// Bytes read at a time when a whole block is gone through.
const WINDOW_LEN: usize = 256;

const _: () = assert!(BLOCK_LEN.is_multiple_of(WINDOW_LEN));
const _: () = assert!(PACKED_LEN_MAX.next_multiple_of(WRITE_UNIT_MAX) <= WINDOW_LEN);

/// The flash, divided into slots.
#[derive(Clone, Debug)]
pub(super) struct Slots<F> {
    flash: F,
    count: u32,
}

/// A part of one block in RAM, moved along it as needed.
#[derive(Debug)]
pub(super) struct Window {
    from: usize,
    len: usize,
    bytes: [u8; WINDOW_LEN],
}

impl Window {
    pub(super) fn new() -> Self {
        Self { from: 0, len: 0, bytes: [0; WINDOW_LEN] }
    }
}

impl<F: NorFlash> Slots<F> {
    /// What must hold of the flash for blocks to fit it; breaking it does not compile.
    const FITS: () = {
        assert!(BLOCK_LEN.is_multiple_of(F::ERASE_SIZE), "the erase size must divide 4096");
        assert!(F::WRITE_SIZE.is_power_of_two() && F::WRITE_SIZE <= WRITE_UNIT_MAX);
        assert!(HEADER_LEN.is_multiple_of(F::WRITE_SIZE));
        assert!(F::READ_SIZE == 1, "wrap a flash that reads whole words only");
    };

    /// The write unit of the flash.
    // At most 32 by the assertion above.
    #[allow(clippy::cast_possible_truncation)]
    pub(super) const WRITE_UNIT: u8 = {
        let () = Self::FITS;
        F::WRITE_SIZE as u8
    };

    pub(super) fn new(flash: F) -> Result<Self, Error> {
        let capacity = u32::try_from(flash.capacity());
        let count = u32::try_from(flash.capacity() / BLOCK_LEN).unwrap_or(u32::MAX);
        match capacity {
            Ok(_) if count >= 2 => Ok(Self { flash, count }),
            capacity => Err(Error::WrongSize { capacity: capacity.unwrap_or(u32::MAX) }),
        }
    }

    pub(super) fn count(&self) -> u32 {
        self.count
    }

    pub(super) fn slot_of(&self, block: u32) -> u32 {
        block.checked_rem(self.count).unwrap_or(0)
    }

    pub(super) fn flash(&self) -> &F {
        &self.flash
    }

    pub(super) fn release(self) -> F {
        self.flash
    }

    /// The address of `offset` within `slot`. Below the capacity, which was checked to fit a u32.
    fn address(slot: u32, offset: usize) -> u32 {
        // A block is 4096 bytes, so neither the cast nor the product loses anything.
        #[allow(clippy::cast_possible_truncation)]
        let (block_len, offset) = (BLOCK_LEN as u32, offset as u32);
        slot.wrapping_mul(block_len).wrapping_add(offset)
    }

    pub(super) fn read(&mut self, slot: u32, offset: usize, out: &mut [u8]) -> Result<(), Error> {
        let address = Self::address(slot, offset);
        self.flash.read(address, out).map_err(|error| Error::Flash {
            operation: Operation::Read,
            address,
            kind: error.kind(),
        })
    }

    /// Programs `bytes`, a multiple of the write unit long, and reads them back.
    ///
    /// Units of ones at the end are left erased, which reads the same: had they been programmed and
    /// the units before them failed to be, all would look erased and they would be programmed again.
    pub(super) fn program(&mut self, slot: u32, offset: usize, bytes: &[u8]) -> Result<(), Error> {
        let address = Self::address(slot, offset);
        let used = bytes.iter().rposition(|byte| *byte != ERASED).map_or(0, |last| last + 1);
        let used = bytes.get(..used.next_multiple_of(F::WRITE_SIZE)).unwrap_or(bytes);
        self.flash.write(address, used).map_err(|error| Error::Flash {
            operation: Operation::Program,
            address,
            kind: error.kind(),
        })?;
        let mut back = [0; WINDOW_LEN];
        let back = back.get_mut(..bytes.len()).ok_or(Error::LogicBug("a program over a window"))?;
        self.read(slot, offset, back)?;
        if back != bytes {
            return Err(Error::NotProgrammed { address });
        }
        Ok(())
    }

    /// Erases `slot` and checks that it is all ones.
    pub(super) fn erase(&mut self, slot: u32) -> Result<(), Error> {
        let (from, to) = (Self::address(slot, 0), Self::address(slot, BLOCK_LEN));
        self.flash.erase(from, to).map_err(|error| Error::Flash {
            operation: Operation::Erase,
            address: from,
            kind: error.kind(),
        })?;
        match self.written_len(slot)? {
            0 => Ok(()),
            _ => Err(Error::NotErased { slot }),
        }
    }

    /// SHA-256 of the whole slot.
    pub(super) fn digest(&mut self, slot: u32) -> Result<BlockDigest, Error> {
        self.digest_of(slot, BLOCK_LEN)
    }

    /// SHA-256 of the first `len` bytes of the slot.
    pub(super) fn digest_of(&mut self, slot: u32, len: usize) -> Result<BlockDigest, Error> {
        let mut digest = Sha256::new();
        let mut bytes = [0; WINDOW_LEN];
        for offset in (0..len.min(BLOCK_LEN)).step_by(WINDOW_LEN) {
            let part = bytes.get_mut(..WINDOW_LEN.min(len - offset)).unwrap_or_default();
            self.read(slot, offset, part)?;
            digest.update(part);
        }
        Ok(digest.finalize().into())
    }

    /// The offset behind the last byte of the slot that is not erased.
    pub(super) fn written_len(&mut self, slot: u32) -> Result<usize, Error> {
        let mut bytes = [0; WINDOW_LEN];
        for offset in (0..BLOCK_LEN).step_by(WINDOW_LEN).rev() {
            self.read(slot, offset, &mut bytes)?;
            if let Some(last) = bytes.iter().rposition(|byte| *byte != ERASED) {
                return Ok(offset + last + 1);
            }
        }
        Ok(0)
    }

    /// The bytes of `slot` from `offset` on: at least as many as the longest entry has, or as there
    /// are up to the end of the block. `window` must have been used with this slot only.
    pub(super) fn view<'w>(
        &mut self,
        slot: u32,
        offset: usize,
        window: &'w mut Window,
    ) -> Result<&'w [u8], Error> {
        let wanted = PACKED_LEN_MAX.min(BLOCK_LEN.saturating_sub(offset));
        if offset < window.from || offset + wanted > window.from + window.len {
            let len = WINDOW_LEN.min(BLOCK_LEN.saturating_sub(offset));
            window.from = offset;
            window.len = 0;
            if let Some(bytes) = window.bytes.get_mut(..len) {
                self.read(slot, offset, bytes)?;
                window.len = len;
            }
        }
        let view = window.bytes.get(offset - window.from..window.len);
        view.ok_or(Error::LogicBug("a window that does not hold its block"))
    }
}
