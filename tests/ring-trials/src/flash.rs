//! A NOR flash in RAM that keeps the rules of a real one, counts, and loses power on demand.
//!
//! Rules: programs and erases are aligned; a unit is programmed once between two erases, even if that
//! left it all ones. Breaking one is refused and counted in [`Counters::violations`], which every test
//! should find at zero.
//!
//! Not modelled: units that were not addressed change; a unit reads differently from one time to the
//! next.

mod cells;
mod chip;
mod fault;
mod random;

pub use cells::{Cells, Deed};
pub use chip::{Chip, Counters};
pub use fault::{Cut, Failure, Outcome, Step, Veto};
pub use random::Random;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash, check_erase, check_read,
    check_write,
};

/// Bytes in a sector, the erase unit.
pub const SECTOR_LEN: usize = 4096;

/// The flash, with a write unit of `W` bytes. A clone is another flash with the same content; see
/// [`SimFlash::handle`] for the same flash once more.
#[derive(Debug)]
pub struct SimFlash<const W: usize> {
    chip: Chip,
}

impl<const W: usize> Clone for SimFlash<W> {
    fn clone(&self) -> Self {
        Self { chip: self.chip.copied() }
    }
}

impl<const W: usize> SimFlash<W> {
    /// An erased flash of `sectors` sectors.
    #[must_use]
    pub fn new(sectors: usize) -> Self {
        Self { chip: Chip::erased(W, sectors) }
    }

    /// A flash with this content.
    #[must_use]
    pub fn from_bytes(bytes: Vec<u8>) -> Self {
        Self { chip: Chip::new(Cells::new(W, bytes)) }
    }

    /// The same flash as `chip`, if that has this write unit.
    #[must_use]
    pub fn from_chip(chip: &Chip) -> Option<Self> {
        (chip.unit() == W).then(|| Self { chip: chip.clone() })
    }

    /// The same flash, without its write unit in the type.
    #[must_use]
    pub fn chip(&self) -> Chip {
        self.chip.clone()
    }

    /// The same flash once more, for whoever hands it over and wants it back.
    #[must_use]
    pub fn handle(&self) -> Self {
        Self { chip: self.chip.clone() }
    }

    /// The content.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        self.chip.with_bytes(<[u8]>::to_vec)
    }

    /// What was done to it.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.chip.counters()
    }

    /// Fails as `cut` says.
    pub fn cut(&self, cut: Cut) {
        self.chip.cut(cut);
    }

    /// Turns the power back on and forgets a cut that has not come.
    pub fn power_on(&self) {
        self.chip.power_on();
    }

    /// Keeps a list of steps from now on.
    pub fn record(&self) {
        self.chip.record();
    }

    /// The steps since [`SimFlash::record`], which ends.
    #[must_use]
    pub fn recorded(&self) -> Vec<Step> {
        let deeds = self.chip.recorded();
        deeds.iter().flat_map(|deed| vec![deed.step(); deed.steps(W)]).collect()
    }
}

/// Why the flash refused or failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SimError {
    /// There is no power.
    #[error("no power")]
    Dark,
    /// This step was told to fail.
    #[error("the flash failed")]
    Failed,
    /// Not aligned, or beyond the end.
    #[error("{0}")]
    Arguments(NorFlashErrorKind),
    /// A unit that is not erased was programmed.
    #[error("programmed without erasing at {0:#x}")]
    NotErased(usize),
    /// More was read than [`Chip::limit_reads`] allows.
    #[error("more was read than is allowed")]
    ReadLimit,
}

impl NorFlashError for SimError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Arguments(kind) => *kind,
            _ => NorFlashErrorKind::Other,
        }
    }
}

impl<const W: usize> ErrorType for SimFlash<W> {
    type Error = SimError;
}

impl<const W: usize> ReadNorFlash for SimFlash<W> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), SimError> {
        let valid = check_read(self, offset, bytes.len());
        self.chip.refuse(valid)?;
        self.chip.read(offset as usize, bytes)
    }

    fn capacity(&self) -> usize {
        self.chip.with_bytes(<[u8]>::len)
    }
}

impl<const W: usize> NorFlash for SimFlash<W> {
    const WRITE_SIZE: usize = W;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), SimError> {
        let valid = check_erase(self, from, to);
        self.chip.refuse(valid)?;
        (from as usize..to as usize).step_by(SECTOR_LEN).try_for_each(|at| self.chip.erase(at))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimError> {
        let valid = check_write(self, offset, bytes.len());
        self.chip.refuse(valid)?;
        self.chip.write(offset as usize, bytes)
    }
}

#[cfg(test)]
mod tests;
