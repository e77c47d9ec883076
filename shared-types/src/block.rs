//! Reads a block, or as much of it as there is, into entries; writes entries into a block.

use crate::cursor::{Cursor, ERASED, Found, PackError, Seed};
use crate::entry::{Entry, Sample};
use crate::header::{BLOCK_LEN, HEADER_LEN, Header, HeaderError};

/// Goes through the entries of one block.
///
/// ```
/// use glueday_types::block::{Item, Reader};
/// use glueday_types::header::Header;
/// use glueday_types::{Cursor, Entry, LoggerId, MarkKind};
///
/// let header = Header {
///     write_unit: 1,
///     interval_s: 600,
///     logger: LoggerId(*b"exampleA"),
///     block: 0,
///     boot: 1,
///     first_entry: 0,
///     previous: [0; 32],
/// };
/// let mark = Entry::Mark { at_s: 90, kind: MarkKind::Delivered };
/// let mut block = header.to_bytes().to_vec();
/// block.extend_from_slice(&Cursor::start(&header).pack(&mark)?);
///
/// let mut reader = Reader::new(&block)?;
/// assert_eq!(reader.next(), Some(Item::Entry { number: 0, boot: 1, entry: mark }));
/// assert_eq!(reader.next(), None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Reader<'a> {
    header: Header,
    cursor: Cursor,
    seed: Seed,
    bytes: &'a [u8],
}

/// What a block holds, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// An entry.
    Entry {
        /// Its number over the life of the logger.
        number: u32,
        /// The boot in which it was written.
        boot: u32,
        /// The entry.
        entry: Entry,
    },
    /// A whole entry of a kind that this version does not know, or a step from such a one.
    Unknown {
        /// Its number over the life of the logger.
        number: u32,
    },
    /// Bytes that cannot be read: half-written when the power failed, or changed since.
    Damaged {
        /// Offset of the first such byte.
        from: u16,
        /// Offset behind the last one.
        to: u16,
    },
}

impl<'a> Reader<'a> {
    /// Reads the header of `block`; bytes behind the length of a block are not looked at.
    ///
    /// # Errors
    /// See [`HeaderError`].
    pub fn new(block: &'a [u8]) -> Result<Self, HeaderError> {
        let header = Header::from_bytes(block)?;
        let bytes = block.get(..BLOCK_LEN).unwrap_or(block);
        let cursor = Cursor::start(&header);
        Ok(Self { header, cursor, seed: cursor.seed(), bytes })
    }

    /// The header of the block.
    #[must_use]
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Where the next entry would stand, with what holds there.
    #[must_use]
    pub fn cursor(&self) -> &Cursor {
        &self.cursor
    }

    /// The next entry, when it is a sample written in the usual way, as a small step from the one
    /// before it. `None` says nothing of what comes: ask [`Iterator::next`], which gives such samples
    /// as well. For whoever goes through a whole log, and takes most entries this way.
    #[inline]
    pub fn next_usual(&mut self) -> Option<Sample> {
        let rest = self.rest();
        self.cursor.read_usual(self.seed, rest)
    }

    #[inline]
    fn rest(&self) -> &'a [u8] {
        self.bytes.get(usize::from(self.cursor.offset())..).unwrap_or(&[])
    }

    /// Skips damage at the cursor up to a resume mark, or to the end.
    fn skip_damage(&mut self) -> Item {
        let from = self.cursor.offset();
        let mut at = self.cursor.unit_at_or_after(usize::from(from) + 1);
        while let Some(window) = self.bytes.get(at..).filter(|window| !window.is_empty()) {
            // `at` is within a block, and so fits.
            let Ok(place) = u16::try_from(at) else { break };
            if self.cursor.is_resume(place, window) {
                self.cursor.resume(place);
                return Item::Damaged { from, to: place };
            }
            at = self.cursor.unit_at_or_after(at + 1);
        }
        let end = self.bytes.iter().rposition(|byte| *byte != ERASED).map_or(0, |last| last + 1);
        self.bytes = &[];
        Item::Damaged { from, to: u16::try_from(end).unwrap_or(from).max(from) }
    }
}

impl Iterator for Reader<'_> {
    type Item = Item;

    fn next(&mut self) -> Option<Item> {
        let (number, rest) = (self.cursor.number(), self.rest());
        if let Some(sample) = self.next_usual() {
            let entry = Entry::Sample(sample);
            return Some(Item::Entry { number, boot: self.cursor.boot(), entry });
        }
        match self.cursor.read(rest) {
            Found::Entry(entry) => Some(Item::Entry { number, boot: self.cursor.boot(), entry }),
            Found::Unknown => Some(Item::Unknown { number }),
            Found::Nothing if rest.iter().all(|byte| *byte == ERASED) => None,
            Found::Nothing | Found::Damaged => Some(self.skip_damage()),
        }
    }
}

/// Fills one block, for whoever has it in memory as a whole: the host. A logger programs each entry by
/// itself, as [`Cursor::pack`] gives it.
///
/// ```
/// use glueday_types::block::{Item, Reader, Writer};
/// use glueday_types::header::Header;
/// use glueday_types::{Entry, LoggerId, MarkKind};
///
/// let header = Header {
///     write_unit: 1,
///     interval_s: 600,
///     logger: LoggerId(*b"exampleA"),
///     block: 0,
///     boot: 1,
///     first_entry: 0,
///     previous: [0; 32],
/// };
/// let mark = Entry::Mark { at_s: 90, kind: MarkKind::Delivered };
/// let mut writer = Writer::new(&header);
/// writer.append(&mark)?;
///
/// let mut reader = Reader::new(writer.bytes())?;
/// assert_eq!(reader.next(), Some(Item::Entry { number: 0, boot: 1, entry: mark }));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Writer {
    cursor: Cursor,
    seed: Seed,
    bytes: [u8; BLOCK_LEN],
}

impl Writer {
    /// A block with nothing but its header.
    #[must_use]
    pub fn new(header: &Header) -> Self {
        let mut bytes = [ERASED; BLOCK_LEN];
        bytes.iter_mut().zip(header.to_bytes()).for_each(|(to, byte)| *to = byte);
        let cursor = Cursor::start(header);
        Self { cursor, seed: cursor.seed(), bytes }
    }

    /// Where the next entry goes, with what holds there.
    #[must_use]
    pub fn cursor(&self) -> &Cursor {
        &self.cursor
    }

    /// The whole block, erased behind its last entry.
    #[must_use]
    pub fn bytes(&self) -> &[u8; BLOCK_LEN] {
        &self.bytes
    }

    /// Writes an entry behind the last one.
    ///
    /// # Errors
    /// [`PackError::BlockFull`] when it does not fit into the rest of the block, which did not change.
    pub fn append(&mut self, entry: &Entry) -> Result<(), PackError> {
        if let Entry::Sample(sample) = entry
            && self.cursor.write_usual(self.seed, sample, &mut self.bytes).is_some()
        {
            return Ok(());
        }
        self.append_any(entry)
    }

    fn append_any(&mut self, entry: &Entry) -> Result<(), PackError> {
        let packed = self.cursor.pack(entry)?;
        let from = usize::from(self.cursor.offset());
        let place = self.bytes.get_mut(from..from + packed.len()).ok_or(PackError::BlockFull)?;
        place.copy_from_slice(&packed);
        self.cursor.advance(entry, &packed);
        Ok(())
    }
}

/// How many bytes of a block have to be kept: all up to the last one that is not erased, but at least
/// the header. The bytes behind it are 0xFF in every copy of the block. Some of them may have been
/// written (filling, or the end of a check): a [`Reader`] takes them as such, and the digest of a
/// block needs them put back.
#[must_use]
pub fn written_len(block: &[u8]) -> usize {
    block.iter().rposition(|byte| *byte != ERASED).map_or(0, |last| last + 1).max(HEADER_LEN)
}
