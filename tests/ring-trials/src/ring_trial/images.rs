//! Random flashes: noise, noise behind valid headers, a real log with spans overwritten, moved, copied
//! from elsewhere, or of an earlier time.
//!
//! Damage of more than four bits passes the CRC-16 of an entry once in 65,536 times, so an altered
//! entry is counted here rather than forbidden; the campaign fails when there are more than chance
//! allows.

use super::log::ID;
use super::oracle::Trial;
use super::page::{self, Page};
use super::rot::{Image, image, remount};
use super::{Case, Check, Counts, Failed, Maker, campaign, ensure, guarded};
use crate::flash::{Cells, Chip, Random};
use glueday_firmware::ring::Error;
use glueday_types::{Header, LoggerId};
use std::ops::Range;

const SLOTS: usize = 3;
const LEN: usize = SLOTS * page::LEN;

/// Images that others are made from, one for each write unit.
struct Stock {
    unit: usize,
    now: Image,
    earlier: Image,
}

/// Does the images with these numbers.
///
/// # Errors
/// The first that fails.
pub fn images(maker: &Maker, numbers: Range<u64>) -> Result<Counts, Failed> {
    let first = Case::Image(numbers.start);
    let mut stock = Vec::new();
    for unit in [1, 4, 8, 32] {
        let now = guarded(first, || image(maker, unit, SLOTS, (7, 1500)))?;
        let earlier = guarded(first, || image(maker, unit, SLOTS, (6, 3000)))?;
        stock.push(Stock { unit, now, earlier });
    }
    campaign(maker, |trial| {
        numbers.into_iter().try_for_each(|number| {
            guarded(Case::Image(number), || one(trial, &stock, number))?;
            trial.counts.images += 1;
            Ok(())
        })
    })
}

fn one(trial: &mut Trial<'_>, stock: &[Stock], number: u64) -> Check {
    let mut random = Random(number.wrapping_mul(0xA076_1D64_78BD_642F));
    let stock = &stock[random.below(stock.len() as u64) as usize];
    let mut bytes = stock.now.cells.bytes().to_vec();
    let kind = random.below(8);
    match kind {
        0 => noise(&mut bytes, &mut random),
        1 => headers(&mut bytes, &mut random, stock.unit),
        _ => (0..1 + random.below(3)).for_each(|_| damage(&mut bytes, &mut random, &stock.earlier)),
    }
    let cells = Cells::new(stock.unit, bytes);
    trial.readers_agree(cells.bytes())?;
    let altered = trial.book.pages.iter().flat_map(Page::entries).any(|(number, entry)| {
        let written = [&stock.now, &stock.earlier].map(|image| image.entry(number));
        !written.contains(&Some(&entry))
    });
    trial.counts.by_chance += u64::from(altered);
    let chip = Chip::new(cells);
    let before = chip.cells();
    // What stands where was checked above: numbers of copied and earlier blocks come twice.
    let unknown = Image { cells: before.clone(), entries: Vec::new(), first: 0 };
    if let Err(error) = remount(trial, &unknown, &chip)? {
        let left = matches!(
            error,
            Error::OtherLogger { .. }
                | Error::NewerFormat { .. }
                | Error::Misplaced { .. }
                | Error::NumbersUsedUp
        );
        ensure!(left, "mounting: {error}");
        ensure!(chip.cells() == before, "refused ({error}), but changed");
        trial.counts.images_refused += 1;
    }
    Ok(())
}

fn noise(bytes: &mut [u8], random: &mut Random) {
    bytes.fill_with(|| random.byte());
}

/// Valid headers over noise, erased flash or what was there, each with fields of its own.
fn headers(bytes: &mut [u8], random: &mut Random, unit: usize) {
    let base = match random.below(4) {
        0 => u64::from(u32::MAX) - random.below(4),
        _ => random.below(1000),
    };
    for (slot, block) in (0u64..).zip(bytes.chunks_mut(page::LEN)) {
        match random.below(3) {
            0 => noise(block, random),
            1 => block.fill(0xFF),
            _ => {}
        }
        if random.below(5) == 0 {
            continue;
        }
        // In its place, most times.
        let number = base + (slot + SLOTS as u64 - base % SLOTS as u64) % SLOTS as u64;
        let other = random.below(40) == 0;
        let header = Header {
            write_unit: if random.below(6) == 0 { 1 << random.below(6) } else { unit as u8 },
            interval_s: 1 + random.below(65_535) as u16,
            logger: if other { LoggerId([7; 8]) } else { ID },
            block: if random.below(40) == 0 { random.bits() } else { number } as u32,
            boot: random.bits() as u32 >> random.below(32),
            first_entry: random.bits() as u32 >> random.below(32),
            previous: [random.byte(); 32],
        };
        block[..64].copy_from_slice(&header.to_bytes());
    }
}

/// One thing that is wrong with a real log.
fn damage(bytes: &mut [u8], random: &mut Random, earlier: &Image) {
    let from = random.below(LEN as u64) as usize;
    let len = 1 + match random.below(3) {
        0 => random.below(4),
        1 => random.below(200),
        _ => random.below(page::LEN as u64),
    } as usize;
    let to = (from + len).min(LEN);
    let slot = |random: &mut Random| random.below(SLOTS as u64) as usize * page::LEN;
    match random.below(7) {
        0 => noise(&mut bytes[from..to], random),
        1 => bytes[from..to].fill(0xFF),
        2 => bytes[from..to].fill(0),
        3 => {
            let at = random.below((LEN - (to - from)) as u64) as usize;
            bytes.copy_within(from..to, at);
        }
        4 => {
            let (from, to) = (slot(random), slot(random));
            bytes.copy_within(from..from + page::LEN, to);
        }
        5 => {
            let at = slot(random);
            let old = &earlier.cells.bytes()[at..at + page::LEN];
            bytes[at..at + page::LEN].copy_from_slice(old);
        }
        _ => bytes[from..to].copy_from_slice(&earlier.cells.bytes()[from..to]),
    }
}
