//! The usual entry, read and written without detours: a step from one sample to the next.
//!
//! For the host, which has a whole season at once: nearly all entries are steps of four to eight
//! bytes. [`Cursor::read`] and [`Cursor::pack`] say what holds for all others, and the same for these;
//! the tests compare the two. The logger does without: the tables would take 5 KiB of its flash.

use super::Cursor;
use crate::check::CRC16;
use crate::entry::{Sample, Step};
use crate::header::BLOCK_LEN;

/// Bytes of a step whose four changes take one byte each, or at most two.
const BODY: core::ops::RangeInclusive<usize> = 4..=8;
/// Bytes that the check of such a step covers behind the check of the header: offset, kind, body.
const COVERED_MAX: usize = 2 + 1 + *BODY.end();

/// For each byte what it adds to a CRC-16/M17 of which so many bytes follow on it.
static BEHIND: [[u16; 256]; COVERED_MAX] = tables();

// Only ever run by the compiler, which would refuse a wrong index.
#[allow(clippy::indexing_slicing, clippy::cast_possible_truncation)]
const fn tables() -> [[u16; 256]; COVERED_MAX] {
    let mut tables = [[0; 256]; COVERED_MAX];
    let mut byte = 0;
    while byte < 256 {
        // The polynomial by the bit, for the byte alone.
        let mut crc = (byte as u16) << 8;
        let mut bit = 0;
        while bit < 8 {
            crc = (crc << 1) ^ if crc & 0x8000 == 0 { 0 } else { crc::CRC_16_M17.poly };
            bit += 1;
        }
        tables[0][byte] = crc;
        byte += 1;
    }
    let mut follow = 1;
    while follow < COVERED_MAX {
        let mut byte = 0;
        while byte < 256 {
            let before = tables[follow - 1][byte];
            tables[follow][byte] = (before << 8) ^ tables[0][(before >> 8) as usize];
            byte += 1;
        }
        follow += 1;
    }
    tables
}

/// What the checks of a block's entries have in common: that they begin with the check of its header.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seed(u16);

impl Cursor {
    pub(crate) fn seed(&self) -> Seed {
        // Without a final change of bits, the sum so far is what goes on.
        Seed(CRC16.checksum(&self.header_check.to_le_bytes()))
    }

    /// The sample that stands at the cursor, when it is written as a usual step; the cursor moved behind
    /// it then. `None` tells nothing, and nothing changed: [`Cursor::read`] knows.
    #[inline]
    pub(crate) fn read_usual(&mut self, seed: Seed, window: &[u8]) -> Option<Sample> {
        let last = self.last.as_ref()?;
        let (&kind, rest) = window.split_first()?;
        let body_len = usize::from(kind);
        let len = 1 + body_len + 2;
        let end = usize::from(self.offset) + len;
        if !BODY.contains(&body_len) || end > BLOCK_LEN {
            return None;
        }
        let (body, check) = rest.split_at_checked(body_len)?;
        let check = u16::from_le_bytes(*check.first_chunk()?);
        if check != usual_check(seed, self.offset, kind, body) {
            return None;
        }
        let step = usual_step(body)?;
        let sample = step.apply(last, self.interval_s)?;
        self.move_to(end, sample)?;
        Some(sample)
    }

    /// Writes `sample` at the cursor into its block, which is erased from there on, when it is a usual
    /// step; the cursor moved behind it then. `None` tells nothing, and nothing changed:
    /// [`Cursor::pack`] knows.
    #[inline]
    pub(crate) fn write_usual(
        &mut self,
        seed: Seed,
        sample: &Sample,
        block: &mut [u8; BLOCK_LEN],
    ) -> Option<()> {
        let step = Step::between(self.last.as_ref()?, sample, self.interval_s)?;
        let (body, len) = usual_body(&step)?;
        let kind = u8::try_from(len).ok()?;
        let from = usize::from(self.offset);
        let end = from + 1 + len + 2;
        // What fills the last write unit has to fit as well, but a block is whole units.
        let [head, body_to @ .., check_low, check_high] = block.get_mut(from..end)? else {
            return None;
        };
        let body = body.get(..len)?;
        *head = kind;
        body_to.copy_from_slice(body);
        [*check_low, *check_high] = usual_check(seed, self.offset, kind, body).to_le_bytes();
        self.move_to(end, *sample)
    }

    /// As `pass` and `take_in`: behind `sample`, which ends at `end` of the block.
    #[inline]
    fn move_to(&mut self, end: usize, sample: Sample) -> Option<()> {
        let end = if self.write_unit == 1 { end } else { self.unit_at_or_after(end) };
        self.offset = u16::try_from(end.min(BLOCK_LEN)).ok()?;
        self.number = self.number.wrapping_add(1);
        self.last = Some(sample);
        Some(())
    }
}

/// As [`crate::check::entry_check`], each byte looked up by itself: none waits for the one before.
#[inline]
fn usual_check(Seed(seed): Seed, offset: u16, kind: u8, body: &[u8]) -> u16 {
    let [seed_high, seed_low] = seed.to_be_bytes();
    let [low, high] = offset.to_le_bytes();
    let head = [low ^ seed_high, high ^ seed_low, kind];
    let sum = |bytes: &[u8], behind: &[[u16; 256]]| {
        bytes.iter().rev().zip(behind).fold(0, |sum, (byte, behind)| {
            sum ^ behind.get(usize::from(*byte)).copied().unwrap_or_default()
        })
    };
    // Of a known length the compiler makes no loop.
    match body {
        [a, b, c, d] => {
            let [low, high, kind] = head;
            let (behind, _) = BEHIND.split_at(head.len() + 4);
            sum(&[low, high, kind, *a, *b, *c, *d], behind)
        }
        _ => {
            let (near, far) = BEHIND.split_at(body.len().min(BEHIND.len()));
            sum(body, near) ^ sum(&head, far)
        }
    }
}

/// The four changes of a step, each a variable-length integer of one or two bytes, as postcard writes
/// them. `None` when one is longer, or when bytes are left over.
#[inline]
fn usual_step(body: &[u8]) -> Option<Step> {
    let mut rest = body.iter();
    let mut change = || {
        let first = u16::from(*rest.next()?);
        let folded = if first < 0x80 {
            first
        } else {
            let second = u16::from(*rest.next()?);
            if second >= 0x80 {
                return None;
            }
            (first & 0x7F) | (second << 7)
        };
        // Folded: 0, -1, 1, -2, ...
        Some((folded >> 1).cast_signed() ^ -(folded & 1).cast_signed())
    };
    let step = Step { slab: change()?, air: change()?, air_rh: change()?, supply: change()? };
    rest.next().is_none().then_some(step)
}

/// The inverse of [`usual_step`]: the bytes, and how many of them there are. `None` when a change
/// takes more than two.
#[inline]
fn usual_body(step: &Step) -> Option<([u8; 8], usize)> {
    let (mut body, mut bits) = (0_u64, 0_u32);
    for change in [step.slab, step.air, step.air_rh, step.supply] {
        let folded = u64::from(((change << 1) ^ (change >> 15)).cast_unsigned());
        let (bytes, of_bits) = match folded {
            0..0x80 => (folded, 8),
            0x80..0x4000 => (folded & 0x7F | 0x80 | (folded >> 7 << 8), 16),
            _ => return None,
        };
        body |= bytes << bits;
        bits += of_bits;
    }
    Some((body.to_le_bytes(), usize::try_from(bits / 8).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::entry_check;
    use crate::cursor::{ERASED, Found};
    use crate::entry::Entry;
    use crate::units::{Absent, CentiCelsius, CentiPercent};
    use crate::{Header, LoggerId};
    use proptest::prelude::*;
    use std::vec::Vec;

    fn cursor(offset: u16, write_unit: u8, interval_s: u16, supply: Result<i16, Absent>) -> Cursor {
        let header = Header {
            write_unit,
            interval_s,
            logger: LoggerId(*b"exampleA"),
            block: 3,
            boot: 2,
            first_entry: 40,
            previous: [7; 32],
        };
        let last = Sample {
            at_s: 5_000,
            slab: Ok(CentiCelsius(2_000)),
            air: Ok(CentiCelsius(i16::MAX - 40)),
            air_rh: Ok(CentiPercent(100)),
            supply: supply.map(CentiCelsius),
        };
        Cursor { offset, last: Some(last), ..Cursor::start(&header) }
    }

    /// Reads both ways; the quick one may only ever say less.
    fn compare(place: Cursor, window: &[u8]) -> Option<Sample> {
        let (mut quick, mut slow) = (place, place);
        let sample = quick.read_usual(place.seed(), window);
        let found = slow.read(window);
        match sample {
            Some(sample) => {
                assert_eq!(found, Found::Entry(Entry::Sample(sample)));
                assert_eq!(quick, slow);
            }
            None => assert_eq!(quick, place),
        }
        sample
    }

    /// Writes both ways; the quick one may only ever do less.
    fn compare_writing(place: Cursor, sample: Sample) -> bool {
        let (mut quick, mut slow) = (place, place);
        let [mut by_quick, mut by_slow] = [[ERASED; BLOCK_LEN]; 2];
        let entry = Entry::Sample(sample);
        if quick.write_usual(place.seed(), &sample, &mut by_quick).is_none() {
            assert_eq!((quick, by_quick), (place, [ERASED; BLOCK_LEN]));
            return false;
        }
        let packed = slow.pack(&entry).unwrap();
        by_slow[usize::from(place.offset)..][..packed.len()].copy_from_slice(&packed);
        slow.advance(&entry, &packed);
        assert_eq!((quick, by_quick), (slow, by_slow));
        true
    }

    fn packed(place: &Cursor, body: &[u8]) -> Vec<u8> {
        let kind = u8::try_from(body.len()).unwrap();
        let check = entry_check(place.header_check, place.offset, kind, body);
        [&[kind], body, &check.to_le_bytes()].concat()
    }

    #[test]
    fn every_step_of_one_or_two_bytes_a_channel_is_usual() {
        let place = cursor(700, 1, 600, Ok(3_000));
        for change in -8_191..8_192_i16 {
            let step = Step { slab: change, air: -change.abs(), air_rh: change.abs(), supply: 1 };
            let mut body = [0; 16];
            let body = postcard::to_slice(&step, &mut body).unwrap();
            let sample = compare(place, &packed(&place, body)).unwrap();
            assert_eq!(Some(sample), step.apply(&place.last.unwrap(), 600), "{change}");
            assert!(compare_writing(place, sample), "{change}");
        }
    }

    proptest! {
        /// Bodies of any bytes under a right check: changes that lead out of range, longer or shorter
        /// forms of a number, bytes left over, channels that are missing, ends of blocks.
        #[test]
        fn the_quick_way_never_says_anything_else(
            body in prop::collection::vec(prop_oneof![0..6_u8, 124..132_u8, any::<u8>()], 0..20),
            (offset, unit) in (64..4096_u16, 0..6_u32),
            interval_s in prop_oneof![Just(600_u16), any::<u16>()],
            supply in prop_oneof![Just(Ok(3_000_i16)), Just(Err(Absent::NoAnswer))],
            (behind, flip) in (0..4_usize, 0..900_usize),
        ) {
            let unit = 1 << unit;
            let place = cursor(offset / unit * unit, u8::try_from(unit).unwrap(), interval_s, supply);
            let mut window = packed(&place, &body);
            window.resize(window.len() + behind, 0xFF);
            compare(place, &window);
            compare(place, window.split_last().unwrap().1);
            let bit = flip % (window.len() * 8);
            window[bit / 8] ^= 1 << (bit % 8);
            compare(place, &window);
        }

        /// Samples near the last one and far from it, sooner and later, of channels that come and go, at
        /// ends of blocks, behind no sample at all.
        #[test]
        fn the_quick_way_never_writes_anything_else(
            [slab, air, rh] in prop::array::uniform3(prop_oneof![-70..70_i16, -8_300..8_300_i16, any::<i16>()]),
            (offset, unit) in (prop_oneof![64..4096_u16, 4070..4096_u16], 0..6_u32),
            (interval_s, late_s) in (prop_oneof![Just(600_u16), any::<u16>()], prop_oneof![Just(0_u32), 0..3_u32]),
            [before, after] in prop::array::uniform2(prop_oneof![
                Just(Ok(3_000_i16)), any::<i16>().prop_map(Ok), Just(Err(Absent::NoAnswer)), Just(Err(Absent::NotFitted))
            ]),
            first in prop::bool::weighted(0.05),
        ) {
            let unit = 1 << unit;
            let place = cursor(offset / unit * unit, u8::try_from(unit).unwrap(), interval_s, before);
            let last = place.last.unwrap();
            let sample = Sample {
                at_s: last.at_s + u32::from(interval_s) + late_s,
                slab: Ok(CentiCelsius(2_000_i16.saturating_add(slab))),
                air: Ok(CentiCelsius((i16::MAX - 40).saturating_add(air))),
                air_rh: Ok(CentiPercent(100_u16.saturating_add_signed(rh))),
                supply: after.map(CentiCelsius),
            };
            compare_writing(if first { Cursor { last: None, ..place } } else { place }, sample);
        }
    }
}
