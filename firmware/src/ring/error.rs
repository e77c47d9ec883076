//! What can go wrong with the log.

use embedded_storage::nor_flash::NorFlashErrorKind;
use glueday_types::LoggerId;

/// What the ring was doing with the flash when it failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Operation {
    /// Reading.
    Read,
    /// Programming.
    Program,
    /// Erasing.
    Erase,
}

/// Why the ring log cannot do what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Error {
    /// The flash reported a failure.
    Flash {
        /// What it was doing.
        operation: Operation,
        /// Address in the flash where it began.
        address: u32,
        /// What the flash said.
        #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
        kind: NorFlashErrorKind,
    },
    /// The flash reported success but reads back something else than was programmed.
    NotProgrammed {
        /// Address in the flash where the bytes should stand.
        address: u32,
    },
    /// The flash reported success but a slot is not all ones after erasing it.
    NotErased {
        /// The slot.
        slot: u32,
    },
    /// The flash has fewer than two slots, or more than block numbers can count.
    WrongSize {
        /// Its capacity in bytes.
        capacity: u32,
    },
    /// The flash holds the log of another logger. It is left as it is.
    OtherLogger {
        /// Whose it is.
        found: LoggerId,
        /// The slot where that stands.
        slot: u32,
    },
    /// The flash holds a block of a format that this firmware does not know. It is left as it is:
    /// install the newer firmware again, or pull the log with it before going back.
    NewerFormat {
        /// The format.
        version: u8,
        /// The slot where that stands.
        slot: u32,
    },
    /// A block stands in a slot where a ring of this size never puts it: the size was changed. It
    /// is left as it is.
    Misplaced {
        /// The block.
        block: u32,
        /// The slot where it stands.
        slot: u32,
    },
    /// The block is not in the ring (any more, or yet), or the bytes reach beyond its end.
    NoSuchBlock {
        /// The oldest block that is.
        oldest: u32,
        /// The newest block that is.
        newest: u32,
    },
    /// All block or entry numbers are used up, which takes longer than any flash lasts.
    NumbersUsedUp,
    /// The firmware contradicts itself. Would be a panic elsewhere; please report it.
    LogicBug(&'static str),
}

impl core::fmt::Display for Error {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Flash { operation, address, kind } => {
                let what = match operation {
                    Operation::Read => "reading",
                    Operation::Program => "programming",
                    Operation::Erase => "erasing",
                };
                write!(f, "the flash failed when {what} at {address:#x}: {kind}")
            }
            Self::NotProgrammed { address } => {
                write!(f, "the flash reads back something else than was programmed at {address:#x}")
            }
            Self::NotErased { slot } => write!(f, "slot {slot} of the flash cannot be erased"),
            Self::WrongSize { capacity } => {
                write!(f, "a flash of {capacity} bytes: a log takes at least two blocks of 4096")
            }
            Self::OtherLogger { found, slot } => write!(
                f,
                "slot {slot} holds the log of logger {found}; it is left as it is. \
                 Use another flash, or erase this one once its log is safe"
            ),
            Self::NewerFormat { version, slot } => write!(
                f,
                "slot {slot} holds block format {version}, newer than this firmware writes; it is \
                 left as it is. Go back to the newer firmware"
            ),
            Self::Misplaced { block, slot } => write!(
                f,
                "block {block} stands in slot {slot}, where a ring of this size never puts it. \
                 Give the number of slots that the log was begun with"
            ),
            Self::NoSuchBlock { oldest, newest } => {
                write!(f, "not in the log, which holds blocks {oldest} to {newest}")
            }
            Self::NumbersUsedUp => f.write_str("all block or entry numbers are used up"),
            Self::LogicBug(what) => write!(f, "the firmware contradicts itself: {what}"),
        }
    }
}

impl core::error::Error for Error {}
