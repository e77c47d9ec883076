//! Reads and writes the entries of one block, for the logger and the host alike.
//!
//! ```text
//!  offset (a multiple of the write unit)
//!  +--------+------------------+--------+- - - - - - - - - +
//!  |  kind  |       body       | CRC-16 |  0xFF up to the  |
//!  |  1 B   |     1..=63 B     |  2 B   |  next unit       |
//!  +--------+------------------+--------+- - - - - - - - - +
//!   00..3F   a step; the low six bits are the length of the body
//!   40..7F   an entry; the low six bits are the length of the body
//!   FE       a resume mark (12 bytes, see below)
//!   FF       erased: nothing was written here yet
//!   others   unreadable in this version
//! ```
//! The body is the postcard encoding of an [`Entry`] or of a step. The CRC-16 also covers the check
//! of the block's header and the offset: an entry at another offset of its block never validates (the
//! offsets differ in 16 bits, which any CRC-16 tells apart), nor do the bytes of another block, but
//! for one pair of blocks in 65,536.
//!
//! A resume mark says that the bytes from `from` up to the mark were damaged while being written (the
//! power failed) and that entries go on behind it:
//! ```text
//!  +----+------------+------+------+--------+
//!  | FE | "rsm"      | from |  at  | CRC-32 |
//!  | u8 | 3 B        | u16  | u16  |  u32   |
//!  +----+------------+------+------+--------+
//! ```
//! Its CRC-32 covers the check of the block's header and the eight bytes before the CRC. It stands so
//! far behind the damage that it cannot complete what was half-written ([`Cursor::resume_place`]).

mod usual;

pub(crate) use usual::Seed;

use crate::check::{CRC32, entry_check};
use crate::entry::{Entry, Sample, Step};
use crate::header::{BLOCK_LEN, HEADER_LEN, Header};
use heapless::Vec;

/// The longest body of a packed entry.
const BODY_LEN_MAX: usize = 0x3F;
/// The longest packed entry with its check, before it is filled up to a write unit.
pub const PACKED_LEN_MAX: usize = 1 + BODY_LEN_MAX + 2;
/// Bytes of a resume mark.
pub const RESUME_LEN: usize = 12;

const ENTRY_BIT: u8 = 0x40;
const KIND_MAX: u8 = 0x7F;
const RESUME_KIND: u8 = 0xFE;
const RESUME_MAGIC: [u8; 4] = [RESUME_KIND, b'r', b's', b'm'];
/// What erased flash reads as.
pub const ERASED: u8 = 0xFF;

/// Bytes ready to be programmed at the cursor, a multiple of the write unit long.
pub type Packed = Vec<u8, { PACKED_LEN_MAX.next_multiple_of(crate::header::WRITE_UNIT_MAX) }>;

/// A place in a block, with what has to be known there to read or write the next entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cursor {
    header_check: u32,
    write_unit: u8,
    offset: u16,
    interval_s: u16,
    boot: u32,
    number: u32,
    last: Option<Sample>,
}

/// What stands at the cursor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// An entry; the cursor moved behind it.
    Entry(Entry),
    /// A whole entry of a kind that this version does not know, or a step from such a one; the cursor
    /// moved behind it.
    Unknown,
    /// Erased flash, or the end of the block.
    Nothing,
    /// Bytes that are no whole entry. The cursor did not move.
    Damaged,
}

/// Why an entry cannot be packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum PackError {
    /// The rest of the block is too small: it goes into the next block.
    BlockFull,
    /// The entry is longer than an entry may be. Cannot happen with the entries of this version.
    TooLong,
}

impl Cursor {
    /// The place of the first entry behind `header`.
    #[must_use]
    pub fn start(header: &Header) -> Self {
        // 64 is a multiple of every write unit.
        #[allow(clippy::cast_possible_truncation)]
        let offset = HEADER_LEN as u16;
        Self {
            header_check: header.check(),
            write_unit: header.write_unit.max(1),
            offset,
            interval_s: header.interval_s,
            boot: header.boot,
            number: header.first_entry,
            last: None,
        }
    }

    /// Offset in the block, from 64 to 4096.
    #[must_use]
    #[inline]
    pub fn offset(&self) -> u16 {
        self.offset
    }

    /// Number of the entry that comes next.
    #[must_use]
    pub fn number(&self) -> u32 {
        self.number
    }

    /// The boot that goes on here.
    #[must_use]
    pub fn boot(&self) -> u32 {
        self.boot
    }

    /// The nominal sampling interval that holds here, in seconds.
    #[must_use]
    #[inline]
    pub fn interval_s(&self) -> u16 {
        self.interval_s
    }

    /// The last sample of the block before this place.
    #[must_use]
    pub fn last_sample(&self) -> Option<Sample> {
        self.last
    }

    /// Packs `entry` for this place. The cursor does not move: see [`Cursor::advance`].
    ///
    /// # Errors
    /// [`PackError::BlockFull`] when the entry does not fit into the rest of the block.
    pub fn pack(&self, entry: &Entry) -> Result<Packed, PackError> {
        let mut body = [0; BODY_LEN_MAX];
        let step = match (entry, &self.last) {
            (Entry::Sample(sample), Some(last)) => Step::between(last, sample, self.interval_s),
            _ => None,
        };
        let (bit, used) = match step {
            Some(step) => (0, postcard::to_slice(&step, &mut body)),
            None => (ENTRY_BIT, postcard::to_slice(entry, &mut body)),
        };
        let used = used.map_err(|_| PackError::TooLong)?;
        let kind = bit | u8::try_from(used.len()).map_err(|_| PackError::TooLong)?;
        let check = entry_check(self.header_check, self.offset, kind, used);
        self.fill(&[&[kind], used, &check.to_le_bytes()])
    }

    /// Where the resume mark belongs for damage from this place up to `damage_end`, the offset behind
    /// the last byte that is not erased: a multiple of the write unit. `None` when the mark does not fit
    /// into the block there; then a new block has to be begun.
    ///
    /// A mark right behind a torn entry can supply the very byte that its check lacked (one in 256
    /// when just that one is missing), and the entry would swallow the mark. So the longest entry that
    /// can have begun in the damage stays clear of it, and so does a torn mark.
    #[must_use]
    pub fn resume_place(&self, damage_end: u16) -> Option<u16> {
        let end = usize::from(damage_end.max(self.offset));
        let at = self.unit_at_or_after(end + PACKED_LEN_MAX - 1);
        let whole = self.unit_at_or_after(at + RESUME_LEN);
        u16::try_from(at).ok().filter(|_| whole <= BLOCK_LEN)
    }

    /// Packs a resume mark for the place `at`, which skips the damaged bytes from this place on.
    /// [`Cursor::resume_place`] tells where; that `at` is such a place is not checked. The cursor does
    /// not move: see [`Cursor::resume`].
    ///
    /// # Errors
    /// [`PackError::BlockFull`] when `at` is so near the end that the mark does not fit.
    pub fn pack_resume(&self, at: u16) -> Result<Packed, PackError> {
        let (from, to) = (self.offset.to_le_bytes(), at.to_le_bytes());
        let check = self.resume_check(at).to_le_bytes();
        let there = Self { offset: at, ..*self };
        there.fill(&[&RESUME_MAGIC, &from, &to, &check])
    }

    /// Moves behind `packed`, which holds `entry` and was written at this place.
    pub fn advance(&mut self, entry: &Entry, packed: &Packed) {
        self.pass(packed.len());
        self.take_in(entry);
    }

    /// Moves behind a resume mark that was written at `at`.
    pub fn resume(&mut self, at: u16) {
        self.offset = at;
        self.pass(RESUME_LEN);
        // A step is the change from the sample before it; behind damage that one may be lost.
        self.last = None;
    }

    /// Reads what stands at the cursor. `window` is the flash from the cursor on: to the end of what
    /// was written or of the block, or at least [`PACKED_LEN_MAX`] bytes. Bytes that `window` lacks
    /// count as erased, because a check may end in 0xFF.
    pub fn read(&mut self, window: &[u8]) -> Found {
        let room = BLOCK_LEN.saturating_sub(usize::from(self.offset));
        let window = window.get(..room).unwrap_or(window);
        let Some(&kind) = window.first() else { return Found::Nothing };
        if kind == ERASED {
            return Found::Nothing;
        }
        let body_len = usize::from(kind & !ENTRY_BIT);
        if kind > KIND_MAX || 1 + body_len + 2 > room {
            return Found::Damaged;
        }
        let mut bytes = [ERASED; PACKED_LEN_MAX];
        bytes.iter_mut().zip(window).for_each(|(to, from)| *to = *from);
        let Some((body, check)) = bytes.split_at(1).1.split_at_checked(body_len) else {
            return Found::Damaged;
        };
        let check = check.first_chunk::<2>().copied().map(u16::from_le_bytes);
        if check != Some(entry_check(self.header_check, self.offset, kind, body)) {
            return Found::Damaged;
        }
        let found = if kind & ENTRY_BIT == 0 { self.read_step(body) } else { read_entry(body) };
        match found {
            Found::Entry(entry) => {
                self.pass(1 + body_len + 2);
                self.take_in(&entry);
            }
            Found::Unknown => {
                self.pass(1 + body_len + 2);
                self.number = self.number.wrapping_add(1);
                // It may have been a sample, from which the next step counts.
                self.last = None;
            }
            Found::Nothing | Found::Damaged => {}
        }
        found
    }

    /// Whether `window`, the flash from `at` on, begins with the resume mark for damage that starts at
    /// this cursor.
    #[must_use]
    pub fn is_resume(&self, at: u16, window: &[u8]) -> bool {
        // Most places are told without the CRC-32, which would be slow on the logger.
        if !window.starts_with(&RESUME_MAGIC) {
            return false;
        }
        let mut expected = Vec::<u8, RESUME_LEN>::new();
        let parts = [
            &RESUME_MAGIC[..],
            &self.offset.to_le_bytes(),
            &at.to_le_bytes(),
            &self.resume_check(at).to_le_bytes(),
        ];
        // The parts are exactly as long as the vector. Missing bytes count as erased, as in `read`.
        parts.iter().all(|part| expected.extend_from_slice(part).is_ok())
            && usize::from(at) + RESUME_LEN <= BLOCK_LEN
            && window.iter().chain(core::iter::repeat(&ERASED)).zip(&expected).all(|(a, b)| a == b)
    }

    /// The next multiple of the write unit at or behind `offset`.
    #[must_use]
    pub fn unit_at_or_after(&self, offset: usize) -> usize {
        offset.next_multiple_of(usize::from(self.write_unit))
    }

    /// The check was right, so a step that leads nowhere counts from a sample that was not understood.
    fn read_step(&self, body: &[u8]) -> Found {
        let sample = match (&self.last, postcard::take_from_bytes::<Step>(body)) {
            (Some(last), Ok((step, []))) => step.apply(last, self.interval_s),
            _ => None,
        };
        sample.map_or(Found::Unknown, |sample| Found::Entry(Entry::Sample(sample)))
    }

    fn resume_check(&self, at: u16) -> u32 {
        let mut digest = CRC32.digest();
        digest.update(&self.header_check.to_le_bytes());
        digest.update(&RESUME_MAGIC);
        digest.update(&self.offset.to_le_bytes());
        digest.update(&at.to_le_bytes());
        digest.finalize()
    }

    /// Joins `parts` and fills up to the write unit, when that fits behind this place.
    fn fill(&self, parts: &[&[u8]]) -> Result<Packed, PackError> {
        let mut packed = Packed::new();
        for part in parts {
            packed.extend_from_slice(part).map_err(|_| PackError::TooLong)?;
        }
        let whole = self.unit_at_or_after(packed.len());
        packed.resize(whole, ERASED).map_err(|_| PackError::TooLong)?;
        if usize::from(self.offset) + packed.len() > BLOCK_LEN {
            return Err(PackError::BlockFull);
        }
        Ok(packed)
    }

    fn pass(&mut self, len: usize) {
        let end = self.unit_at_or_after(usize::from(self.offset) + len).min(BLOCK_LEN);
        // A block is 4096 bytes long.
        #[allow(clippy::cast_possible_truncation)]
        {
            self.offset = end as u16;
        }
    }

    fn take_in(&mut self, entry: &Entry) {
        self.number = self.number.wrapping_add(1);
        match *entry {
            Entry::Sample(sample) => self.last = Some(sample),
            // Seconds start anew: the next sample is written in full.
            Entry::Boot { boot, .. } => {
                self.boot = boot;
                self.last = None;
            }
            Entry::SettingsChanged { interval_s, .. } => self.interval_s = interval_s.max(1),
            _ => {}
        }
    }
}

fn read_entry(body: &[u8]) -> Found {
    match postcard::take_from_bytes::<Entry>(body) {
        Ok((entry, [])) => Found::Entry(entry),
        // The check was right, so it was written like this: by a newer version.
        _ => Found::Unknown,
    }
}

impl core::fmt::Display for PackError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::BlockFull => "the block is full",
            Self::TooLong => "the entry is longer than an entry may be",
        })
    }
}

impl core::error::Error for PackError {}

#[cfg(test)]
mod tests;
