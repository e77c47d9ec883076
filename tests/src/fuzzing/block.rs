//! Blocks of any content, as the host decodes them and as a logger finds them on its flash.

use super::input::Input;
use crate::flash::SimFlash;
use glueday::history;
use glueday_firmware::ring::{Boot, Error, RingLog};
use glueday_types::block::{Item, Reader};
use glueday_types::cursor::ERASED;
use glueday_types::{
    BLOCK_LEN, BootReason, CentiCelsius, Cursor, Entry, Found, Header, LoggerId, MarkKind, Sample,
    digest,
};
use std::collections::BTreeMap;

const ID: LoggerId = LoggerId(*b"fuzzBloc");

/// What was put into a block by the rules: offsets and bytes of packed entries.
type Packed = BTreeMap<u16, Vec<u8>>;

/// Any blocks, or blocks whose checks are right around any entries. They are read to the end, each
/// entry can be written again, the history holds what the entries say, and a logger that finds them on
/// its flash either refuses or goes on so that what it writes is there after a restart.
pub fn block(data: &[u8]) {
    let mut input = Input::new(data);
    let head = input.take::<u8>();
    let count = 2 + usize::from(head >> 2 & 1) + usize::from(head >> 3 & 1);
    let blocks: Vec<(Vec<u8>, Packed)> = match head & 3 {
        0 => {
            let mut bytes = input.rest().to_vec();
            bytes.resize((count * BLOCK_LEN).max(bytes.len().min(16 * BLOCK_LEN)), ERASED);
            bytes.chunks(BLOCK_LEN).map(|block| (block.to_vec(), Packed::new())).collect()
        }
        _ => built(&mut input, count),
    };
    for (bytes, packed) in &blocks {
        read(bytes, packed);
    }
    build(&blocks);
    let mut bytes: Vec<u8> = Vec::new();
    // As a ring has them: block n in slot n % slots.
    let rotate = usize::from(head >> 4) % blocks.len();
    blocks.iter().cycle().skip(rotate).take(blocks.len()).for_each(|(b, _)| bytes.extend(b));
    match head >> 6 {
        0 => mount::<1>(bytes),
        1 => mount::<4>(bytes),
        2 => mount::<8>(bytes),
        _ => mount::<32>(bytes),
    }
}

/// Blocks with right checks.
fn built(input: &mut Input<'_>, count: usize) -> Vec<(Vec<u8>, Packed)> {
    let mut blocks: Vec<(Vec<u8>, Packed)> = Vec::new();
    let mut block = input.take::<u32>();
    let mut boot = input.take::<u32>();
    let mut first_entry = input.take::<u32>();
    for _ in 0..count {
        if input.is_empty() {
            blocks.push((vec![ERASED; BLOCK_LEN], Packed::new()));
            continue;
        }
        let before = blocks.last().map_or([0; 32], |(bytes, _)| digest(bytes));
        let odd = input.below(16);
        let header = Header {
            write_unit: input.of(&[1, 1, 4, 8, 32]),
            interval_s: input.of(&[600, 600, 60, 1, u16::MAX]),
            logger: if odd == 15 { LoggerId([1; 8]) } else { ID },
            block,
            boot,
            first_entry,
            previous: if odd == 14 { [odd; 32] } else { before },
        };
        let mut writer = Writer::new(&header);
        let fill = input.take::<u8>();
        writer.fill(input, fill);
        (boot, first_entry) = (writer.cursor.boot(), writer.cursor.number());
        block = block.wrapping_add(if odd == 13 { 2 } else { 1 });
        blocks.push((writer.bytes, writer.packed));
    }
    blocks
}

struct Writer {
    header_check: u32,
    cursor: Cursor,
    bytes: Vec<u8>,
    packed: Packed,
    at_s: u32,
}

impl Writer {
    fn new(header: &Header) -> Self {
        let mut bytes = header.to_bytes().to_vec();
        bytes.resize(BLOCK_LEN, ERASED);
        Self {
            header_check: header.check(),
            cursor: Cursor::start(header),
            bytes,
            packed: Packed::new(),
            at_s: 0,
        }
    }

    /// Adds so many things, as the input has them; then the block may be filled up with samples.
    fn fill(&mut self, input: &mut Input<'_>, fill: u8) {
        for _ in 0..fill & 0x3F {
            match input.below(8) {
                0 | 1 => {
                    let body = input.some_bytes();
                    self.raw(input.take::<u8>() & 0x40, &body[..body.len().min(63)]);
                }
                2 => self.damage(input.some_bytes()),
                3 => {
                    let boot = self.cursor.boot().wrapping_add(1);
                    let reason = BootReason::PowerOn;
                    self.entry(Entry::Boot { boot, at_s: 0, reason, firmware: (0, 1, 0) });
                    self.at_s = 0;
                }
                _ => {
                    let entry = input.entry(&mut self.at_s);
                    self.entry(entry);
                }
            }
        }
        if fill & 0x40 != 0 {
            while self.entry(self.sample()) {
                self.at_s = self.at_s.wrapping_add(600);
            }
        }
    }

    fn sample(&self) -> Entry {
        let value = Ok(CentiCelsius(2000));
        let air_rh = Err(glueday_types::Absent::NoAnswer);
        Entry::Sample(Sample { at_s: self.at_s, slab: value, air: value, air_rh, supply: value })
    }

    /// Writes an entry as a logger does; whether there was room.
    fn entry(&mut self, entry: Entry) -> bool {
        let Ok(packed) = self.cursor.pack(&entry) else { return false };
        let at = self.cursor.offset();
        self.put(at, &packed);
        self.packed.insert(at, packed.to_vec());
        self.cursor.advance(&entry, &packed);
        true
    }

    /// Writes any body with a right check, by the layout that the specification gives.
    fn raw(&mut self, bit: u8, body: &[u8]) {
        let at = self.cursor.offset();
        let kind = bit | u8::try_from(body.len()).expect("at most 63");
        let crc = crc::Crc::<u16>::new(&crc::CRC_16_M17);
        let mut check = crc.digest();
        check.update(&self.header_check.to_le_bytes());
        check.update(&at.to_le_bytes());
        check.update(&[kind]);
        check.update(body);
        let bytes = [&[kind], body, &check.finalize().to_le_bytes()].concat();
        if usize::from(at) + bytes.len() > BLOCK_LEN {
            return;
        }
        self.put(at, &bytes);
        let window = &self.bytes[usize::from(at)..];
        assert!(!matches!(self.cursor.read(window), Found::Nothing | Found::Damaged));
    }

    /// Writes bytes without a check, and a resume mark behind them.
    fn damage(&mut self, bytes: &[u8]) {
        let at = self.cursor.offset();
        let end = (usize::from(at) + bytes.len()).min(BLOCK_LEN);
        self.put(at, &bytes[..end - usize::from(at)]);
        if matches!(
            self.cursor.read(&self.bytes[usize::from(at)..]),
            Found::Entry(_) | Found::Unknown
        ) {
            return;
        }
        let written =
            self.bytes.iter().rposition(|byte| *byte != ERASED).map_or(0, |last| last + 1);
        if written <= usize::from(at) {
            return;
        }
        let written = u16::try_from(written).expect("a block");
        let Some(place) = self.cursor.resume_place(written) else { return };
        let mark = self.cursor.pack_resume(place).expect("the place is one for it");
        self.put(place, &mark);
        self.cursor.resume(place);
    }

    fn put(&mut self, at: u16, bytes: &[u8]) {
        self.bytes[usize::from(at)..][..bytes.len()].copy_from_slice(bytes);
    }
}

/// Reads a block to its end.
fn read(bytes: &[u8], packed: &Packed) {
    let Ok(mut reader) = Reader::new(bytes) else { return };
    let mut expected = reader.header().first_entry;
    let mut end = reader.cursor().offset();
    for _ in 0..=BLOCK_LEN {
        let before = *reader.cursor();
        let Some(item) = reader.next() else { return };
        let number = match item {
            Item::Entry { number, entry, .. } => {
                write_again(&before, &entry, packed.get(&before.offset()));
                number
            }
            Item::Unknown { number } => number,
            Item::Damaged { from, to } => {
                assert!(from >= end && from <= to && usize::from(to) <= BLOCK_LEN, "{item:?}");
                end = to;
                continue;
            }
        };
        assert_eq!(number, expected);
        expected = expected.wrapping_add(1);
        assert!(reader.cursor().offset() > before.offset(), "it stands still");
        end = reader.cursor().offset();
    }
    panic!("more items than bytes");
}

/// An entry that was read can be written at its place and reads the same. What was written by the
/// rules is written in the same bytes.
fn write_again(place: &Cursor, entry: &Entry, was: Option<&Vec<u8>>) {
    let Ok(packed) = place.pack(entry) else {
        assert!(was.is_none(), "there was room for {entry:?}");
        return;
    };
    if let Some(was) = was {
        assert_eq!(&packed[..], &was[..], "{entry:?}");
    }
    let mut again = *place;
    assert_eq!(again.read(&packed), Found::Entry(*entry));
}

/// The history of the blocks.
fn build(blocks: &[(Vec<u8>, Packed)]) {
    let history = history::build(blocks.iter().map(|(bytes, _)| bytes.as_slice()));
    let columns = [
        history.interval_s.len(),
        history.slab.len(),
        history.air.len(),
        history.air_rh.len(),
        history.supply.len(),
    ];
    assert!(columns.iter().all(|len| *len == history.len()), "{columns:?}");
    assert!(history.time_s.is_sorted());
    assert!(history.events.is_sorted_by_key(|event| event.time_s));
    let items = || blocks.iter().filter_map(|(b, _)| Reader::new(b).ok()).flatten();
    let is_sample = |item: &Item| matches!(item, Item::Entry { entry: Entry::Sample(_), .. });
    let undated: usize = history.undated.iter().map(|undated| undated.samples).sum();
    let samples = items().filter(is_sample).count();
    assert!(history.len() + undated <= samples, "samples out of nothing");
    let syncs = |item: Item| matches!(item, Item::Entry { entry: Entry::ClockSet { .. }, .. });
    if !items().any(syncs) {
        assert_eq!((history.len(), undated), (0, samples), "dated by nothing, or passed over");
    }
}

/// A logger finds the blocks on its flash.
fn mount<const W: usize>(bytes: Vec<u8>) {
    let before = bytes.clone();
    let flash = SimFlash::<W>::from_bytes(bytes);
    let boot = Boot { reason: BootReason::Watchdog, at_s: 3, firmware: (0, 1, 0) };
    let mount = || RingLog::mount(flash.handle(), ID, 600, boot);
    let mut ring = match mount() {
        Ok(ring) => ring,
        Err(error) => {
            let left = matches!(
                error,
                Error::OtherLogger { .. } | Error::NewerFormat { .. } | Error::Misplaced { .. }
            );
            assert!(left || error == Error::NumbersUsedUp, "{error:?}");
            assert!(!left || flash.bytes() == before, "{error:?}: the flash was changed");
            return;
        }
    };
    let first = ring.entries();
    let mut written = Vec::new();
    for at_s in [10, 600, 1200, 1800] {
        let entry = Entry::Mark { at_s, kind: MarkKind::Button };
        match ring.append(&entry) {
            Ok(number) => written.push((number, entry)),
            Err(error) => assert_eq!(error, Error::NumbersUsedUp),
        }
    }
    assert!(written.iter().map(|(number, _)| *number).eq((first..).take(written.len())));
    drop(ring);
    let mut ring = match mount() {
        Ok(ring) => ring,
        Err(error) => return assert_eq!(error, Error::NumbersUsedUp),
    };
    assert_eq!(ring.resumed(), 0, "the second mount found something to repair");
    let mut found = Vec::new();
    for block in ring.oldest_block()..=ring.open_block() {
        let mut bytes = [0; BLOCK_LEN];
        ring.read(block, 0, &mut bytes).expect("it is in the ring");
        let reader = Reader::new(&bytes).into_iter().flatten();
        found.extend(reader.filter_map(|item| match item {
            Item::Entry { number, entry, .. } => Some((number, entry)),
            _ => None,
        }));
    }
    // Behind them is the boot of the second mount.
    let behind = found.pop();
    assert!(matches!(behind, Some((_, Entry::Boot { .. }))), "{behind:?}");
    // Older blocks may bear any numbers.
    let found = &found[found.len().saturating_sub(written.len())..];
    assert_eq!(found, written, "acknowledged, but not there");
    assert_eq!(flash.counters().violations, 0, "a rule of the flash was broken");
}
