//! A serial NOR flash chip on SPI: the commands that chips of all makers have in common.
//!
//! Written here because the drivers on the registry do not fit a logger that runs for weeks alone:
//! `w25q32jv` 0.5.1, the best kept of those on `embedded-hal` 1.0, waits without an end for a chip
//! that stays busy, panics when an erase fails, takes the chip's size at build time without asking
//! the chip, and leaves deep power-down to its user.
//!
//! Between two calls the chip is in deep power-down, where it takes about 1 µA instead of some 20 µA
//! (data sheets, from memory). Each call wakes it, waits for work that a reset of the processor may
//! have left it with, and asks for its id: a chip that fell off the board would read as an erased
//! one otherwise. That costs ten bytes on the bus.
//!
//! Chips that start with all sectors locked, and chips whose size is not in the third byte of their
//! id as a power of two, are not supported: both are told by an error.

use crate::fmt::warning;
use embedded_hal::delay::DelayNs;
use embedded_hal::spi::{Operation, SpiDevice};
use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash, check_erase, check_read,
    check_write,
};

/// Bytes that one command can program, without crossing a multiple of it.
const PAGE_LEN: usize = 256;
/// Bytes that one command erases.
const SECTOR_LEN: usize = 4096;
/// Addresses have three bytes.
const LEN_MAX: usize = 1 << 24;

// Commands (JEDEC JESD216 lists them; from memory, as are the times below).
const PAGE_PROGRAM: u8 = 0x02;
const READ: u8 = 0x03;
const READ_STATUS: u8 = 0x05;
const WRITE_ENABLE: u8 = 0x06;
const SECTOR_ERASE: u8 = 0x20;
const READ_ID: u8 = 0x9F;
const WAKE: u8 = 0xAB;
const POWER_DOWN: u8 = 0xB9;

/// The chip works and takes no other command than [`READ_STATUS`].
const STATUS_BUSY: u8 = 0x01;
/// The chip will obey the next program or erase.
const STATUS_WRITE_ENABLED: u8 = 0x02;

/// From [`WAKE`] to the next command: 3 to 30 µs, by maker.
const WAKE_US: u32 = 40;
/// A page takes 0.4 to 3 ms.
const PROGRAM_MAX_US: u32 = 3_000;
const PROGRAM_STEP_US: u32 = 100;
/// A sector takes 45 to 400 ms.
const ERASE_MAX_US: u32 = 400_000;
const ERASE_STEP_US: u32 = 5_000;

/// The flash chip. The log takes `LEN` bytes of it; a larger chip does as well.
#[derive(Debug)]
pub struct SpiNor<SPI, D, const LEN: usize> {
    spi: SPI,
    delay: D,
}

/// Why the flash chip cannot do what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error<E> {
    /// The bus of the processor failed.
    Bus(E),
    /// Nothing answers: look at the solder joints and the chip's supply.
    NoAnswer,
    /// It says that it works on something for longer than any chip takes.
    Busy,
    /// It is smaller than the log, or does not say its size in this way.
    TooSmall {
        /// Its id.
        id: [u8; 3],
    },
    /// It does not take the command that allows writing: look at its write protection pin.
    WriteRefused,
    /// Not aligned, or beyond the end of the log.
    Arguments(NorFlashErrorKind),
}

impl<E> Error<E> {
    fn text(&self) -> &'static str {
        match self {
            Self::Bus(_) => "the SPI bus failed",
            Self::NoAnswer => "the flash chip does not answer",
            Self::Busy => "the flash chip stays busy",
            Self::TooSmall { .. } => "the flash chip is too small, or does not say its size",
            Self::WriteRefused => "the flash chip is write protected",
            Self::Arguments(_) => "not aligned, or beyond the end of the flash",
        }
    }
}

impl<E> core::fmt::Display for Error<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.text())?;
        match self {
            Self::TooSmall { id: [maker, kind, size] } => {
                write!(f, ": its id is {maker:02x} {kind:02x} {size:02x}")
            }
            _ => Ok(()),
        }
    }
}

impl<E: core::fmt::Debug> core::error::Error for Error<E> {}

impl<E: core::fmt::Debug> NorFlashError for Error<E> {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Arguments(kind) => *kind,
            _ => NorFlashErrorKind::Other,
        }
    }
}

impl<SPI: SpiDevice, D: DelayNs, const LEN: usize> SpiNor<SPI, D, LEN> {
    /// What must hold of the length; breaking it does not compile.
    const FITS: () = assert!(LEN.is_multiple_of(SECTOR_LEN) && LEN <= LEN_MAX);

    /// A chip on `spi`, in mode 0 or 3. Nothing is sent yet: a missing chip is told by the first use.
    pub fn new(spi: SPI, delay: D) -> Self {
        let () = Self::FITS;
        Self { spi, delay }
    }

    /// Gives the bus and the delay back.
    pub fn release(self) -> (SPI, D) {
        (self.spi, self.delay)
    }

    /// Maker, kind and size as the chip says them.
    ///
    /// # Errors
    /// [`Error::NoAnswer`], [`Error::Busy`], [`Error::Bus`].
    pub fn id(&mut self) -> Result<[u8; 3], Error<SPI::Error>> {
        self.awake(|chip| chip.read_id())
    }

    /// Does `work` with the chip awake, and sends it to sleep again.
    fn awake<T>(
        &mut self,
        work: impl FnOnce(&mut Self) -> Result<T, Error<SPI::Error>>,
    ) -> Result<T, Error<SPI::Error>> {
        let result = self.wake().and_then(|()| work(self));
        if let Err(error) = &result {
            warning!("{}", error.text());
        }
        // If this is lost, the chip takes more until the next use; what it did stays done.
        let _ = self.command(POWER_DOWN);
        result
    }

    /// Wakes the chip and makes sure that it is there and large enough.
    fn wake(&mut self) -> Result<(), Error<SPI::Error>> {
        self.command(WAKE)?;
        self.delay.delay_us(WAKE_US);
        self.wait(ERASE_STEP_US, ERASE_MAX_US)?;
        let id = self.read_id()?;
        let [_, _, size] = id;
        match 1_usize.checked_shl(size.into()) {
            Some(len) if len >= LEN => Ok(()),
            _ => Err(Error::TooSmall { id }),
        }
    }

    fn read_id(&mut self) -> Result<[u8; 3], Error<SPI::Error>> {
        let mut id = [0; 3];
        self.transaction(&mut [Operation::Write(&[READ_ID]), Operation::Read(&mut id)])?;
        match id {
            [0, ..] | [0xFF, ..] => Err(Error::NoAnswer),
            id => Ok(id),
        }
    }

    fn status(&mut self) -> Result<u8, Error<SPI::Error>> {
        let mut status = [0];
        self.transaction(&mut [Operation::Write(&[READ_STATUS]), Operation::Read(&mut status)])?;
        let [status] = status;
        Ok(status)
    }

    /// Waits until the chip has done its work, `max_us` at most.
    fn wait(&mut self, step_us: u32, max_us: u32) -> Result<(), Error<SPI::Error>> {
        let mut waited_us = 0;
        loop {
            match self.status()? {
                // All bits at once are no status but a line that nobody pulls down.
                0xFF => return Err(Error::NoAnswer),
                status if status & STATUS_BUSY == 0 => return Ok(()),
                _ if waited_us >= max_us => return Err(Error::Busy),
                _ => self.delay.delay_us(step_us),
            }
            waited_us += step_us;
        }
    }

    /// Allows the next program or erase.
    fn enable_write(&mut self) -> Result<(), Error<SPI::Error>> {
        self.command(WRITE_ENABLE)?;
        match self.status()? {
            0xFF => Err(Error::NoAnswer),
            status if status & STATUS_WRITE_ENABLED == 0 => Err(Error::WriteRefused),
            _ => Ok(()),
        }
    }

    fn program_page(&mut self, address: u32, bytes: &[u8]) -> Result<(), Error<SPI::Error>> {
        self.enable_write()?;
        let command = Self::at(PAGE_PROGRAM, address);
        self.transaction(&mut [Operation::Write(&command), Operation::Write(bytes)])?;
        self.wait(PROGRAM_STEP_US, PROGRAM_MAX_US)
    }

    fn erase_sector(&mut self, address: u32) -> Result<(), Error<SPI::Error>> {
        self.enable_write()?;
        self.transaction(&mut [Operation::Write(&Self::at(SECTOR_ERASE, address))])?;
        self.wait(ERASE_STEP_US, ERASE_MAX_US)
    }

    /// A command with its address.
    fn at(command: u8, address: u32) -> [u8; 4] {
        let [_, high, middle, low] = address.to_be_bytes();
        [command, high, middle, low]
    }

    fn command(&mut self, command: u8) -> Result<(), Error<SPI::Error>> {
        self.transaction(&mut [Operation::Write(&[command])])
    }

    fn transaction(&mut self, operations: &mut [Operation<u8>]) -> Result<(), Error<SPI::Error>> {
        self.spi.transaction(operations).map_err(Error::Bus)
    }
}

impl<SPI: SpiDevice, D, const LEN: usize> ErrorType for SpiNor<SPI, D, LEN> {
    type Error = Error<SPI::Error>;
}

impl<SPI: SpiDevice, D: DelayNs, const LEN: usize> ReadNorFlash for SpiNor<SPI, D, LEN> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Self::Error> {
        check_read(self, offset, bytes.len()).map_err(Error::Arguments)?;
        let command = Self::at(READ, offset);
        self.awake(|chip| {
            chip.transaction(&mut [Operation::Write(&command), Operation::Read(bytes)])
        })
    }

    fn capacity(&self) -> usize {
        LEN
    }
}

impl<SPI: SpiDevice, D: DelayNs, const LEN: usize> NorFlash for SpiNor<SPI, D, LEN> {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Self::Error> {
        check_erase(self, from, to).map_err(Error::Arguments)?;
        self.awake(|chip| {
            (from..to).step_by(SECTOR_LEN).try_for_each(|address| chip.erase_sector(address))
        })
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Self::Error> {
        check_write(self, offset, bytes.len()).map_err(Error::Arguments)?;
        self.awake(|chip| {
            let (mut address, mut rest) = (offset, bytes);
            while !rest.is_empty() {
                // The chip would go on at the beginning of the page, over what stands there.
                let [in_page, ..] = address.to_le_bytes();
                let room = PAGE_LEN - usize::from(in_page);
                let (page, behind) = rest.split_at_checked(room).unwrap_or((rest, &[]));
                chip.program_page(address, page)?;
                address = (address | 0xFF).wrapping_add(1);
                rest = behind;
            }
            Ok(())
        })
    }
}
