//! The log on flash: a ring of blocks, each entry durable on its own.
//!
//! ```text
//!  slot      0        1        2        3        4        (block number % slots)
//!        +--------+--------+--------+--------+--------+
//!  block | 5      | 6      | 7 open | 3      | 4      |
//!        +--------+--------+--------+--------+--------+
//!                   |  ^     |  ^ ^     ^ oldest: erased when block 8 is opened
//!                   |  |     |  | |
//!                   |  +-----+  | +-- cursor: the next entry goes here
//!                   |  previous |
//!                   |           +---- entries, each programmed and read back before it counts
//!                   +---------------- sealed: never written again, its digest is in block 7
//!
//!  a block after the power failed twice while it was open:
//!   0        64
//!   +--------+-----+-----+-----+#####+------+-----+-----+##+------+-----+- - - - - -+
//!   | header |entry|entry|entry| torn|resume|entry|entry|  |resume|entry|  erased   |
//!   +--------+-----+-----+-----+#####+------+-----+-----+##+------+-----+- - - - - -+
//! ```
//! Opening the next block: digest of the full one, erase the slot, check that it is all ones, program
//! the header, read it back. Only then does the entry that had no room go in. The power may fail
//! between any two of these: the header is what makes a block, so until it reads right the block
//! before it is the newest, and the slot is erased again.
//!
//! Excluded from what this can survive: flash that disturbs units it was not told to change, and a
//! unit that reads erased now but not later. Damage in the middle of the open block hides what was
//! written behind it in that block, since a step is the change from the sample before it.

mod error;
mod flash;
mod scan;

pub use error::{Error, Operation};

use crate::fmt::{info, warning};
use embedded_storage::nor_flash::NorFlash;
use flash::Slots;
use glueday_types::{
    BLOCK_LEN, BlockDigest, BootReason, Cursor, Entry, HEADER_LEN, Header, LoggerId, PackError,
    Packed,
};
use scan::Tail;

/// What the log is told when the logger starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Boot {
    /// Why it started.
    pub reason: BootReason,
    /// Seconds since then, now.
    pub at_s: u32,
    /// Firmware version as major, minor, patch.
    pub firmware: (u8, u8, u8),
}

/// The log of one logger on a NOR flash.
///
/// Clones exist for simulators; two logs on the same flash would overwrite each other.
#[derive(Clone, Debug)]
pub struct RingLog<F> {
    slots: Slots<F>,
    open: Header,
    cursor: Cursor,
    oldest: u32,
    boot: u32,
    lost: u32,
    resumed: u32,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// The cursor is at the end of the log.
    Ready,
    /// Writing an entry failed: what stands behind the cursor is not known.
    InDoubt,
    /// The open block is full. Its digest may stand in the next slot already, so that it must not
    /// be written again.
    Sealed,
}

impl<F: NorFlash> RingLog<F> {
    /// Takes up the log on `flash`, or begins one, and writes an [`Entry::Boot`].
    ///
    /// `interval_s` is the sampling interval of a log that begins; a log that goes on keeps its own.
    /// Reads one header a slot, and the newest and the oldest block.
    ///
    /// # Errors
    /// See [`Error`]. A flash with the log of another logger or in a newer format is not changed.
    pub fn mount(flash: F, logger: LoggerId, interval_s: u16, boot: Boot) -> Result<Self, Error> {
        let mut slots = Slots::new(flash)?;
        let mut ring = match scan::extent(&mut slots, logger)? {
            Some(extent) => {
                let cursor = Cursor::start(&extent.newest);
                Self {
                    slots,
                    open: extent.newest,
                    cursor,
                    oldest: extent.oldest,
                    boot: 0,
                    lost: 0,
                    resumed: 0,
                    state: State::InDoubt,
                }
            }
            None => Self::begin(slots, logger, interval_s)?,
        };
        ring.settle()?;
        ring.boot = ring.cursor.boot().checked_add(1).ok_or(Error::NumbersUsedUp)?;
        ring.append(&Entry::Boot {
            boot: ring.boot,
            at_s: boot.at_s,
            reason: boot.reason,
            firmware: boot.firmware,
        })?;
        info!("boot {}: block {}, entry {}", ring.boot, ring.open.block, ring.cursor.number());
        Ok(ring)
    }

    /// Whether `flash` has, or may have, a log: one that can be taken up, one that must not be
    /// touched, or one that cannot be looked for because the flash fails. Reads one header a slot.
    pub fn is_begun(flash: F, logger: LoggerId) -> bool {
        match Slots::new(flash).and_then(|mut slots| scan::extent(&mut slots, logger)) {
            Ok(extent) => extent.is_some(),
            Err(_) => true,
        }
    }

    /// Opens block 0 on a flash without a log.
    fn begin(mut slots: Slots<F>, logger: LoggerId, interval_s: u16) -> Result<Self, Error> {
        let open = Header {
            write_unit: Slots::<F>::WRITE_UNIT,
            interval_s: interval_s.max(1),
            logger,
            block: 0,
            boot: 0,
            first_entry: 0,
            previous: [0; 32],
        };
        slots.erase(0)?;
        slots.program(0, 0, &open.to_bytes())?;
        let cursor = Cursor::start(&open);
        Ok(Self {
            slots,
            open,
            cursor,
            oldest: 0,
            boot: 0,
            lost: 0,
            resumed: 0,
            state: State::Ready,
        })
    }

    /// Writes `entry` at the end of the log and returns its number. When this returns, the entry is
    /// on flash.
    ///
    /// # Errors
    /// The flash failed. The entry counts as lost, and the next call finds the end of the log anew
    /// before it writes.
    pub fn append(&mut self, entry: &Entry) -> Result<u32, Error> {
        let result = self.settle().and_then(|()| self.append_settled(entry));
        if let Err(error) = &result {
            self.lost = self.lost.saturating_add(1);
            warning!("entry not written: {}", error);
        }
        result
    }

    fn append_settled(&mut self, entry: &Entry) -> Result<u32, Error> {
        let packed = match self.cursor.pack(entry) {
            Ok(packed) => packed,
            Err(PackError::BlockFull) => {
                self.open_next()?;
                self.cursor.pack(entry).map_err(|_| Error::LogicBug("an entry fits no block"))?
            }
            Err(PackError::TooLong) => return Err(Error::LogicBug("an entry over its budget")),
        };
        let number = self.cursor.number();
        if number == u32::MAX {
            return Err(Error::NumbersUsedUp);
        }
        self.program(self.cursor.offset(), &packed)?;
        self.cursor.advance(entry, &packed);
        Ok(number)
    }

    /// Programs into the open block; from a failure on, the end of the log is in doubt.
    fn program(&mut self, offset: u16, packed: &Packed) -> Result<(), Error> {
        let slot = self.slots.slot_of(self.open.block);
        self.state = State::InDoubt;
        self.slots.program(slot, usize::from(offset), packed)?;
        self.state = State::Ready;
        Ok(())
    }

    /// Brings the log into a state in which the next entry can be written.
    fn settle(&mut self) -> Result<(), Error> {
        match self.state {
            State::Ready => Ok(()),
            State::Sealed => self.open_next(),
            State::InDoubt => self.find_end(),
        }
    }

    /// Finds the end of the open block on flash, and marks damage there so that entries can follow.
    fn find_end(&mut self) -> Result<(), Error> {
        let slot = self.slots.slot_of(self.open.block);
        let mut cursor = Cursor::start(&self.open);
        let tail = scan::tail(&mut self.slots, slot, &mut cursor)?;
        if self.boot != 0 && cursor.number() > self.cursor.number() {
            // The entry whose writing failed is there after all.
            self.lost = self.lost.saturating_sub(1);
        }
        self.cursor = cursor;
        // A flash with a smaller write unit wrote this block; it cannot go on here.
        let other_unit = !usize::from(self.open.write_unit).is_multiple_of(F::WRITE_SIZE);
        match tail {
            Tail::Clean if other_unit => self.open_next(),
            Tail::Clean => {
                self.state = State::Ready;
                Ok(())
            }
            Tail::Damaged(end) => {
                self.resumed = self.resumed.saturating_add(1);
                warning!("damage in block {} up to {}", self.open.block, end);
                let end =
                    u16::try_from(end).map_err(|_| Error::LogicBug("damage beyond its block"))?;
                let place = cursor.resume_place(end).filter(|_| !other_unit);
                let mark = place.and_then(|at| Some((at, cursor.pack_resume(at).ok()?)));
                match mark {
                    Some((at, packed)) => {
                        self.program(at, &packed)?;
                        self.cursor.resume(at);
                        Ok(())
                    }
                    None => self.open_next(),
                }
            }
        }
    }

    /// Seals the open block and opens the next one over the oldest.
    fn open_next(&mut self) -> Result<(), Error> {
        self.state = State::Sealed;
        let block = self.open.block.checked_add(1).ok_or(Error::NumbersUsedUp)?;
        let previous = self.slots.digest(self.slots.slot_of(self.open.block))?;
        let header = Header {
            write_unit: Slots::<F>::WRITE_UNIT,
            interval_s: self.cursor.interval_s(),
            logger: self.open.logger,
            block,
            boot: self.cursor.boot(),
            first_entry: self.cursor.number(),
            previous,
        };
        let slot = self.slots.slot_of(block);
        // What stands there is gone from here on, whether erasing succeeds or not.
        self.oldest = self.oldest.max(block.saturating_sub(self.slots.count() - 1));
        self.slots.erase(slot)?;
        self.slots.program(slot, 0, &header.to_bytes())?;
        self.open = header;
        self.cursor = Cursor::start(&header);
        self.state = State::Ready;
        info!("block {} opened at entry {}", block, header.first_entry);
        Ok(())
    }

    /// Reads bytes of a block as they stand on flash.
    ///
    /// # Errors
    /// [`Error::NoSuchBlock`] when the ring does not hold the block or the bytes reach beyond its end;
    /// or the flash failed.
    pub fn read(&mut self, block: u32, offset: u16, out: &mut [u8]) -> Result<(), Error> {
        let within = usize::from(offset) + out.len() <= BLOCK_LEN;
        if !within || !(self.oldest..=self.open.block).contains(&block) {
            return Err(Error::NoSuchBlock { oldest: self.oldest, newest: self.open.block });
        }
        self.slots.read(self.slots.slot_of(block), usize::from(offset), out)
    }

    /// SHA-256 of the written bytes of the open block, as they stand on flash.
    ///
    /// # Errors
    /// The flash failed.
    pub fn open_digest(&mut self) -> Result<BlockDigest, Error> {
        self.slots.digest_of(self.slots.slot_of(self.open.block), usize::from(self.open_len()))
    }

    /// Whose log it is.
    #[must_use]
    pub fn logger(&self) -> LoggerId {
        self.open.logger
    }

    /// How many blocks the ring holds.
    #[must_use]
    pub fn slots(&self) -> u32 {
        self.slots.count()
    }

    /// Number of this boot.
    #[must_use]
    pub fn boot(&self) -> u32 {
        self.boot
    }

    /// The oldest block in the ring.
    #[must_use]
    pub fn oldest_block(&self) -> u32 {
        self.oldest
    }

    /// The block that entries are written to now.
    #[must_use]
    pub fn open_block(&self) -> u32 {
        self.open.block
    }

    /// Bytes written of the open block, its header included.
    #[must_use]
    pub fn open_len(&self) -> u16 {
        self.cursor.offset()
    }

    /// The nominal sampling interval that holds now, in seconds.
    #[must_use]
    pub fn interval_s(&self) -> u16 {
        self.cursor.interval_s()
    }

    /// Entries written over the life of the logger.
    #[must_use]
    pub fn entries(&self) -> u32 {
        self.cursor.number()
    }

    /// Entries that could not be written in this boot, because the flash failed.
    #[must_use]
    pub fn lost(&self) -> u32 {
        self.lost
    }

    /// Damaged spans that the log was resumed behind, in this boot.
    #[must_use]
    pub fn resumed(&self) -> u32 {
        self.resumed
    }

    /// The flash.
    #[must_use]
    pub fn flash(&self) -> &F {
        self.slots.flash()
    }

    /// Gives the flash back.
    #[must_use]
    pub fn release(self) -> F {
        self.slots.release()
    }
}

const _: () = assert!(HEADER_LEN <= glueday_types::cursor::PACKED_LEN_MAX);
