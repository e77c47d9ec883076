//! A part of a flash as a flash of its own: the log has one, the key another.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};

/// `len` bytes of a flash from `from` on; `&mut F` is a flash too.
#[derive(Clone, Copy, Debug)]
pub struct Part<F> {
    flash: F,
    from: u32,
    len: u32,
}

/// Why a part of a flash cannot do what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartError<E> {
    /// The bytes are not all of this part.
    Outside,
    /// The flash failed.
    Flash(E),
}

impl<E: core::fmt::Debug> core::fmt::Display for PartError<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Outside => f.write_str("beyond the end of this part of the flash"),
            Self::Flash(error) => write!(f, "{error:?}"),
        }
    }
}

impl<E: core::fmt::Debug> core::error::Error for PartError<E> {}

impl<E: NorFlashError> NorFlashError for PartError<E> {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Outside => NorFlashErrorKind::OutOfBounds,
            Self::Flash(error) => error.kind(),
        }
    }
}

impl<F: NorFlash> Part<F> {
    /// The `len` bytes from `from` on. Both should be multiples of the erase size.
    pub fn new(flash: F, from: u32, len: u32) -> Self {
        Self { flash, from, len }
    }

    /// The address in the flash of `len` bytes at `offset`.
    fn place(&self, offset: u32, len: u32) -> Result<u32, PartError<F::Error>> {
        let end = offset.checked_add(len).filter(|end| *end <= self.len);
        end.and(self.from.checked_add(offset)).ok_or(PartError::Outside)
    }

    fn len_of(bytes: &[u8]) -> Result<u32, PartError<F::Error>> {
        u32::try_from(bytes.len()).map_err(|_| PartError::Outside)
    }
}

impl<F: NorFlash> ErrorType for Part<F> {
    type Error = PartError<F::Error>;
}

impl<F: NorFlash> ReadNorFlash for Part<F> {
    const READ_SIZE: usize = F::READ_SIZE;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        let place = self.place(offset, Self::len_of(bytes)?)?;
        self.flash.read(place, bytes).map_err(PartError::Flash)
    }

    fn capacity(&self) -> usize {
        usize::try_from(self.len).unwrap_or(usize::MAX)
    }
}

impl<F: NorFlash> NorFlash for Part<F> {
    const WRITE_SIZE: usize = F::WRITE_SIZE;
    const ERASE_SIZE: usize = F::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        let len = to.checked_sub(from).ok_or(PartError::Outside)?;
        let place = self.place(from, len)?;
        self.flash.erase(place, place.saturating_add(len)).map_err(PartError::Flash)
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        let place = self.place(offset, Self::len_of(bytes)?)?;
        self.flash.write(place, bytes).map_err(PartError::Flash)
    }
}
