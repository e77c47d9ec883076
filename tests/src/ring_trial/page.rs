//! A second reader of blocks, written from `shared-types/SPEC.md` and sharing no code with the logger:
//! what the log is judged by must not be what it is made of. The tests compare both readers.
//!
//! It keeps what it read, and reads a block again only from the first byte on that changed.

use super::body;
use glueday_types::block::{Item, Reader};
use glueday_types::{Entry, Sample};
use sha2::{Digest as _, Sha256};

/// Bytes in a block.
pub(super) const LEN: usize = 4096;
/// Bytes in its header.
const HEAD: usize = 64;
/// Bytes in a resume mark.
const MARK: usize = 12;

const CRC16: [u16; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 256 {
        let mut value = (i as u16) << 8;
        let mut bit = 0;
        while bit < 8 {
            value = if value & 0x8000 == 0 { value << 1 } else { (value << 1) ^ 0x5935 };
            bit += 1;
        }
        table[i] = value;
        i += 1;
    }
    table
};

const CRC32: [u32; 256] = {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 256 {
        let mut value = i as u32;
        let mut bit = 0;
        while bit < 8 {
            // 04C11DB7 with its bits reversed.
            value = if value & 1 == 0 { value >> 1 } else { (value >> 1) ^ 0xEDB8_8320 };
            bit += 1;
        }
        table[i] = value;
        i += 1;
    }
    table
};

fn crc16(start: u16, bytes: &[u8]) -> u16 {
    bytes.iter().fold(start, |crc, byte| (crc << 8) ^ CRC16[usize::from((crc >> 8) as u8 ^ byte)])
}

fn crc32(parts: &[&[u8]]) -> u32 {
    let bytes = parts.iter().flat_map(|part| part.iter());
    !bytes.fold(!0u32, |crc, byte| (crc >> 8) ^ CRC32[usize::from(crc as u8 ^ byte)])
}

/// The header of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) unit: usize,
    pub(super) interval_s: u16,
    pub(super) logger: [u8; 8],
    pub(super) block: u32,
    pub(super) boot: u32,
    pub(super) first_entry: u32,
    pub(super) previous: [u8; 32],
    check: [u8; 4],
}

impl Head {
    /// The header of a block that this version reads.
    pub(super) fn of(block: &[u8]) -> Option<Self> {
        let (covered, check) = block.get(..HEAD)?.split_at(60);
        let check: [u8; 4] = check.try_into().ok()?;
        let four = |at: usize| u32::from_le_bytes(covered[at..at + 4].try_into().unwrap());
        let head = Self {
            unit: usize::from(covered[5]),
            interval_s: u16::from_le_bytes([covered[6], covered[7]]),
            logger: covered[8..16].try_into().ok()?,
            block: four(16),
            boot: four(20),
            first_entry: four(24),
            previous: covered[28..60].try_into().ok()?,
            check,
        };
        let right = covered[..4] == [0x47, 0x6C, 0x44, 0x79]
            && covered[4] == 1
            && [1, 2, 4, 8, 16, 32].contains(&head.unit)
            && head.interval_s > 0
            && crc32(&[covered]).to_le_bytes() == check;
        right.then_some(head)
    }
}

/// What is kept while reading.
#[derive(Clone, Copy, Debug)]
pub(super) struct State {
    /// Where the next entry would begin.
    pub(super) at: usize,
    pub(super) boot: u32,
    pub(super) interval_s: u16,
    /// Number of the next entry.
    pub(super) number: u32,
    last: Option<Sample>,
}

/// Something in a block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) from: usize,
    /// Behind its last byte that matters, filling not counted.
    end: usize,
    pub(super) what: What,
    pub(super) after: State,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum What {
    Entry(Entry),
    Unknown,
    /// Skipped by a resume mark.
    Resumed,
    /// Damage up to the end of the block.
    Lost,
}

/// A block as this reader sees it.
#[derive(Clone, Debug, Default)]
pub(super) struct Page {
    bytes: Vec<u8>,
    pub(super) head: Option<Head>,
    pub(super) found: Vec<Found>,
    digest: Option<[u8; 32]>,
    /// The readers were compared since it changed.
    agreed: bool,
}

impl Page {
    /// Reads `block`, or what differs in it from the block that was read last.
    pub(super) fn read(&mut self, block: &[u8]) {
        if self.bytes == block {
            return;
        }
        let same = common(&self.bytes, block);
        self.bytes.resize(block.len(), 0);
        self.bytes.copy_from_slice(block);
        self.digest = None;
        self.agreed = false;
        if same < HEAD {
            self.head = Head::of(block);
            self.found.clear();
        }
        self.found.truncate(self.found.partition_point(|found| found.end <= same));
        let Some(head) = self.head else { return };
        let written = written(block);
        let mut state = self.end(&head);
        while state.at < written {
            let found = next(&head, block, &state, written);
            state = found.after;
            self.found.push(found);
        }
    }

    fn end(&self, head: &Head) -> State {
        let start = State {
            at: HEAD,
            boot: head.boot,
            interval_s: head.interval_s,
            number: head.first_entry,
            last: None,
        };
        self.found.last().map_or(start, |found| found.after)
    }

    /// What holds at the end of the block, if it has a header.
    pub(super) fn state(&self) -> Option<State> {
        self.head.as_ref().map(|head| self.end(head))
    }

    pub(super) fn digest(&mut self) -> [u8; 32] {
        let bytes = &self.bytes;
        *self.digest.get_or_insert_with(|| Sha256::digest(bytes).into())
    }

    /// Entries with their numbers.
    pub(super) fn entries(&self) -> impl DoubleEndedIterator<Item = (u32, Entry)> {
        self.found.iter().filter_map(|found| match found.what {
            What::Entry(entry) => Some((found.after.number.wrapping_sub(1), entry)),
            _ => None,
        })
    }

    /// Whether the reader of the formats sees the same in this block.
    pub(super) fn agrees(&mut self) -> bool {
        if !self.agreed {
            self.agreed = self.compare();
        }
        self.agreed
    }

    fn compare(&self) -> bool {
        let Ok(reader) = Reader::new(&self.bytes) else { return self.head.is_none() };
        let mut mine = self.found.iter();
        let same = self.head.is_some()
            && reader.into_iter().all(|item| {
                mine.next().is_some_and(|found| match (item, found.what) {
                    (Item::Entry { number, boot, entry }, What::Entry(mine)) => {
                        (number.wrapping_add(1), boot, entry)
                            == (found.after.number, found.after.boot, mine)
                    }
                    (Item::Unknown { number }, What::Unknown) => {
                        number.wrapping_add(1) == found.after.number
                    }
                    (Item::Damaged { from, to }, What::Resumed) => {
                        usize::from(from) == found.from && usize::from(to) + MARK == found.end
                    }
                    (Item::Damaged { from, .. }, What::Lost) => usize::from(from) == found.from,
                    _ => false,
                })
            });
        same && mine.next().is_none()
    }
}

/// The offset behind the last byte that is not 0xFF.
fn written(block: &[u8]) -> usize {
    const AT_A_TIME: usize = 64;
    let erased = block.rchunks(AT_A_TIME).take_while(|chunk| **chunk == [0xFF; AT_A_TIME]).count();
    let rest = &block[..block.len() - erased * AT_A_TIME];
    rest.iter().rposition(|byte| *byte != 0xFF).map_or(0, |last| last + 1)
}

/// How many bytes at the front are the same.
fn common(a: &[u8], b: &[u8]) -> usize {
    const AT_A_TIME: usize = 64;
    let chunks = a.chunks(AT_A_TIME).zip(b.chunks(AT_A_TIME));
    let whole = chunks.take_while(|(a, b)| a == b).count() * AT_A_TIME;
    let rest = a.iter().skip(whole).zip(b.iter().skip(whole));
    whole + rest.take_while(|(a, b)| a == b).count()
}

/// The kind and the body of the entry at `at`, if one with the right check stands there.
fn whole<'a>(check: &[u8; 4], block: &'a [u8], at: usize) -> Option<(u8, &'a [u8])> {
    let kind = *block.get(at).filter(|kind| **kind < 0x80)?;
    let len = usize::from(kind & 0x3F);
    let covered = block.get(at..at + 1 + len)?;
    let stored = block.get(at + 1 + len..at + 3 + len)?;
    let bound = crc16(crc16(0xFFFF, check), &(at as u16).to_le_bytes());
    (crc16(bound, covered).to_le_bytes() == stored).then_some((kind, &covered[1..]))
}

/// Whether an entry that nobody wrote stands at `offset`, where `written` was being written: random
/// bytes pass the check of an entry once in 65,536 times. For [`Chip::veto`](crate::flash::Chip::veto).
pub(super) fn by_chance(block: &[u8], offset: usize, written: &[u8]) -> bool {
    if offset < HEAD {
        return false;
    }
    let check = [block[60], block[61], block[62], block[63]];
    whole(&check, block, offset)
        .is_some_and(|(kind, body)| written[..body.len() + 1] != *[&[kind], body].concat())
}

fn next(head: &Head, block: &[u8], before: &State, written: usize) -> Found {
    let from = before.at;
    let Some((kind, body)) = whole(&head.check, block, from) else {
        return damage(head, block, before, written);
    };
    let entry = if kind & 0x40 == 0 {
        body::step(body, before.last.as_ref(), before.interval_s).map(Entry::Sample)
    } else {
        body::entry(body)
    };
    let end = from + 3 + body.len();
    let mut after = State {
        at: end.next_multiple_of(head.unit),
        number: before.number.wrapping_add(1),
        ..*before
    };
    match entry {
        Some(Entry::Sample(sample)) => after.last = Some(sample),
        Some(Entry::Boot { boot, .. }) => (after.boot, after.last) = (boot, None),
        Some(Entry::SettingsChanged { interval_s, .. }) => after.interval_s = interval_s.max(1),
        Some(_) => {}
        None => after.last = None,
    }
    Found { from, end, what: entry.map_or(What::Unknown, What::Entry), after }
}

fn damage(head: &Head, block: &[u8], before: &State, written: usize) -> Found {
    let from = before.at;
    let marks = (from + 1).next_multiple_of(head.unit)..=LEN - MARK;
    for at in marks.step_by(head.unit) {
        let Some(mark) = block.get(at..at + MARK) else { break };
        if mark.starts_with(&[0xFE, b'r', b's', b'm'])
            && mark[4..6] == (from as u16).to_le_bytes()
            && mark[6..8] == (at as u16).to_le_bytes()
            && mark[8..] == crc32(&[&head.check, &mark[..8]]).to_le_bytes()
        {
            let end = at + MARK;
            let after = State { at: end.next_multiple_of(head.unit), last: None, ..*before };
            return Found { from, end, what: What::Resumed, after };
        }
    }
    // Nothing more is read of this block, whatever changes in it.
    let after = State { at: LEN.max(written), ..*before };
    Found { from, end: usize::MAX, what: What::Lost, after }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checks_are_those_of_the_formats_page() {
        assert_eq!(crc16(0xFFFF, b"123456789"), 0x772B);
        assert_eq!(crc32(&[b"123456789"]), 0xCBF4_3926);
    }
}
