//! What a trial asks of a log, so that the real one and broken ones can be tried alike.

use crate::flash::Chip;
use glueday_firmware::ring::{self, Boot, Error};
use glueday_types::{Entry, LoggerId};

/// Whose log it is.
pub(super) const ID: LoggerId = LoggerId(*b"faulTest");

/// What a log says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // As the log's own methods.
pub struct Facts {
    pub oldest: u32,
    pub open: u32,
    pub open_len: u16,
    pub interval_s: u16,
    pub entries: u32,
    pub boot: u32,
    pub lost: u32,
    pub resumed: u32,
}

/// A log on a [`Chip`].
pub trait Log {
    /// Writes an entry; see [`ring::RingLog::append`].
    ///
    /// # Errors
    /// As there.
    fn append(&mut self, entry: &Entry) -> Result<u32, Error>;

    /// Reads bytes of a block; see [`ring::RingLog::read`].
    ///
    /// # Errors
    /// As there.
    fn read(&mut self, block: u32, offset: u16, out: &mut [u8]) -> Result<(), Error>;

    /// What it says of itself.
    fn facts(&self) -> Facts;

    /// The flash it is on.
    fn chip(&self) -> Chip;

    /// The same log in the same state on a copy of the flash.
    fn fork(&self) -> Box<dyn Log>;
}

/// Mounts a log for a logger with this id, with this interval if it begins.
pub type Mount = fn(&Chip, LoggerId, u16, Boot) -> Result<Box<dyn Log>, Error>;

/// A kind of log.
#[derive(Clone, Copy, Debug)]
pub struct Maker {
    /// What it is called.
    pub name: &'static str,
    /// Mounts it.
    pub mount: Mount,
}

/// The [`Maker`] of the log in a module that looks like [`ring`].
#[macro_export]
macro_rules! ring_maker {
    ($name:expr, $ring:ident) => {{
        use $crate::flash::{Chip, SimFlash};
        use $crate::ring_trial::{Facts, Log, Maker};
        use $crate::{Boot, Entry, Error, LoggerId};

        struct Made<const W: usize>($ring::RingLog<SimFlash<W>>);

        impl<const W: usize> Log for Made<W> {
            fn append(&mut self, entry: &Entry) -> Result<u32, Error> {
                self.0.append(entry)
            }

            fn read(&mut self, block: u32, offset: u16, out: &mut [u8]) -> Result<(), Error> {
                self.0.read(block, offset, out)
            }

            fn facts(&self) -> Facts {
                Facts {
                    oldest: self.0.oldest_block(),
                    open: self.0.open_block(),
                    open_len: self.0.open_len(),
                    interval_s: self.0.interval_s(),
                    entries: self.0.entries(),
                    boot: self.0.boot(),
                    lost: self.0.lost(),
                    resumed: self.0.resumed(),
                }
            }

            fn chip(&self) -> Chip {
                self.0.flash().chip()
            }

            fn fork(&self) -> Box<dyn Log> {
                Box::new(Self(self.0.clone()))
            }
        }

        fn made<const W: usize>(
            chip: &Chip,
            id: LoggerId,
            interval_s: u16,
            boot: Boot,
        ) -> Result<Box<dyn Log>, Error> {
            let flash =
                SimFlash::<W>::from_chip(chip).ok_or(Error::LogicBug("another write unit"))?;
            let Boot { reason, at_s, firmware } = boot;
            let boot = $ring::Boot { reason, at_s, firmware };
            Ok(Box::new(Made($ring::RingLog::mount(flash, id, interval_s, boot)?)))
        }

        fn mount(
            chip: &Chip,
            id: LoggerId,
            interval_s: u16,
            boot: Boot,
        ) -> Result<Box<dyn Log>, Error> {
            match chip.unit() {
                1 => made::<1>(chip, id, interval_s, boot),
                4 => made::<4>(chip, id, interval_s, boot),
                8 => made::<8>(chip, id, interval_s, boot),
                _ => made::<32>(chip, id, interval_s, boot),
            }
        }

        Maker { name: $name, mount }
    }};
}

/// The log as it is.
#[must_use]
pub fn real() -> Maker {
    ring_maker!("the ring log", ring)
}
