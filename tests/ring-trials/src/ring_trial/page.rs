//! A second reader of blocks, written from `shared-types/SPEC.md` and sharing no code with the logger:
//! what the log is judged by must not be what it is made of. The tests compare both readers.
//!
//! It keeps what it read, and reads a block again only from the first byte on that changed.

use super::body;
use super::head::{HEAD, Head, crc16, crc32};
use glueday_types::block::{Item, Reader};
use glueday_types::{Entry, Sample};
use sha2::{Digest as _, Sha256};

/// Bytes in a block.
pub(super) const LEN: usize = 4096;
/// Bytes in a resume mark.
const MARK: usize = 12;

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
    whole(&check, block, offset).is_some_and(|(kind, body)| {
        written.split_first().is_none_or(|(first, rest)| *first != kind || !rest.starts_with(body))
    })
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
