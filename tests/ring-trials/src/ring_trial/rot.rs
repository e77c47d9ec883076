//! One bit of a full flash has flipped.
//!
//! What holds for every one of them: mounting neither panics nor reads without end; an entry that is
//! read under a number of the log as it was is the one that was written; mounting changes nothing but
//! the end of the newest block that can be read, and the slot behind it; the next entry is written and
//! survives one more mount.
//!
//! What a flip can do: hide the rest of its block, up to the next resume mark, or the whole block if
//! it is in the header or if the block is the oldest (a half-done erase looks the same). Of the open
//! block, the entries written behind it are hidden too, and when its header goes, the block itself is
//! given to new entries under the numbers of the old.
//!
//! What it cannot do: pass for another entry of the same length. The CRC-16 notices any four changed
//! bits as long as the length is what it was; a flip in one of the six bits of the length moves the
//! check, and one in 65,536 of these passes. None does in this image.

use super::model::{Model, mount};
use super::oracle::{Trial, untouched};
use super::workload::{other, sample};
use super::{Case, Check, Counts, Failed, Maker, campaign, ensure, guarded};
use crate::flash::{Cells, Chip, Cut, Failure, Outcome};
use glueday_types::Entry;
use std::ops::Range;

/// How many flips there are.
pub(super) const BITS: u64 = 2 * 4096 * 8;
const REMOUNTED_S: u32 = 4_000_000_000;

/// A flash with a log, and the entries that it holds.
pub(super) struct Image {
    pub(super) cells: Cells,
    /// In the order of their numbers, without a gap.
    pub(super) entries: Vec<Entry>,
    /// Number of the first.
    pub(super) first: u32,
}

impl Image {
    /// The entry with this number.
    pub(super) fn entry(&self, number: u32) -> Option<&Entry> {
        self.entries.get(number.checked_sub(self.first)? as usize)
    }
}

/// Writes a log on `slots` slots until `open` is the open block and this full, with torn entries.
pub(super) fn image(maker: &Maker, unit: usize, slots: usize, until: (u32, u16)) -> Check<Image> {
    let failed = |error| format!("making the image: {error}");
    let chip = Chip::erased(unit, slots);
    let mut model = Model::default();
    let mut at_s = 1;
    let mut log = mount(maker, &chip, at_s).map_err(failed)?;
    model.mounted(&log.facts(), at_s);
    while (log.facts().open, log.facts().open_len) < until {
        at_s += 600;
        let entry = if at_s % 3200 < 600 { other(at_s) } else { sample(at_s, 1) };
        model.append(log.as_mut(), entry).map_err(failed)?;
        if at_s % 75_000 < 600 {
            // 3: enough for a kind and some of a body.
            let cut =
                Cut { after: 3 / unit as u64, outcome: Outcome::First(3), failure: Failure::Power };
            chip.cut(cut);
            at_s += 600;
            ensure!(model.append(log.as_mut(), other(at_s)).is_err(), "acknowledged in the dark");
            chip.power_on();
            at_s += 1;
            model.flaws += 1;
            log = mount(maker, &chip, at_s).map_err(failed)?;
            model.mounted(&log.facts(), at_s);
        }
    }
    let mut trial = Trial::new(maker);
    trial.verify(log.as_mut(), &model, false)?;
    let facts = log.facts();
    let mut numbered = Vec::new();
    for block in facts.oldest..=facts.open {
        numbered.extend(trial.book.page(block).entries());
    }
    let first = numbered.first().map_or(0, |(number, _)| *number);
    // The numbers were verified.
    let entries = numbered.into_iter().map(|(_, entry)| entry).collect();
    Ok(Image { cells: chip.cells(), entries, first })
}

/// Does these flips.
///
/// # Errors
/// The first that fails.
pub fn flips(maker: &Maker, bits: Range<u64>) -> Result<Counts, Failed> {
    let first = Case::Flip(bits.start);
    let image = guarded(first, || image(maker, 1, 2, (3, 2600)))?;
    campaign(maker, |trial| {
        guarded(first, || trial.readers_agree(image.cells.bytes()))?;
        (bits.start..bits.end.min(BITS)).try_for_each(|bit| {
            guarded(Case::Flip(bit), || flip(trial, &image, bit))?;
            trial.counts.flips += 1;
            Ok(())
        })
    })
}

fn flip(trial: &mut Trial<'_>, image: &Image, bit: u64) -> Check {
    let mut cells = image.cells.clone();
    cells.flip(bit);
    trial.readers_agree(cells.bytes())?;
    let there = known(trial, image)?;
    let lost = (image.entries.len() - there) as u64;
    trial.counts.entries_lost += lost;
    trial.counts.entries_lost_max = trial.counts.entries_lost_max.max(lost);
    trial.counts.flips_harmless += u64::from(lost == 0);
    let chip = Chip::new(cells);
    remount(trial, image, &chip)?.map_err(|error| format!("mounting: {error}"))?;
    Ok(())
}

/// Checks that what is read under a number of the image is what was written; returns how much is.
fn known(trial: &Trial<'_>, image: &Image) -> Check<usize> {
    let mut there = 0;
    for (number, entry) in trial.book.pages.iter().flat_map(super::page::Page::entries) {
        match image.entry(number) {
            Some(written) if *written == entry => there += 1,
            written => return Err(format!("number {number} was {written:?}, and reads {entry:?}")),
        }
    }
    Ok(there)
}

/// Mounts a damaged flash. If that works, what it changed is within its rules, the next entry is written
/// and survives one more mount. If it does not, nothing changed.
pub(super) fn remount(
    trial: &mut Trial<'_>,
    image: &Image,
    chip: &Chip,
) -> Check<Result<(), glueday_firmware::ring::Error>> {
    let before = chip.cells();
    let mut log = match trial.mount(chip, REMOUNTED_S)? {
        Ok(log) => log,
        Err(error) => {
            ensure!(chip.counters().violations == 0, "a rule of the flash was broken");
            return Ok(Err(error));
        }
    };
    let open = log.facts().open;
    trial.book.read(before.bytes());
    let newest = trial.book.newest();
    match newest {
        None => {
            ensure!(open == 0, "a new log begins with block {open}");
            chip.with_bytes(|after| untouched(before.bytes(), after, 0, 0, false))?;
        }
        Some(newest) => {
            ensure!(open == newest || Some(open) == newest.checked_add(1), "{newest}, then {open}");
            let end = trial.book.page(newest).found.last();
            // Damage begins where the last thing that can be read ends.
            let end = match end.map(|found| (found.what, found.from, found.after.at)) {
                Some((super::page::What::Lost, from, _)) => from,
                Some((_, _, end)) => end,
                None => 64,
            };
            let opened = open > newest;
            chip.with_bytes(|after| untouched(before.bytes(), after, newest, end, opened))?;
        }
    }
    let boot = log.facts().entries.wrapping_sub(1);
    chip.with_bytes(|after| trial.book.read(after));
    for block in log.facts().oldest..=open {
        if !trial.book.holds(block) {
            continue;
        }
        for (number, entry) in trial.book.page(block).entries() {
            let own = block == open && number == boot && entry.at_s() == REMOUNTED_S;
            let same = image.entry(number).is_some_and(|written| *written == entry);
            ensure!(own || same || image.entries.is_empty(), "number {number} reads {entry:?}");
        }
    }
    let entry = sample(REMOUNTED_S + 60, 1);
    let number = log.append(&entry).map_err(|error| format!("the next entry: {error}"))?;
    drop(log);
    let again = trial.mount(chip, REMOUNTED_S + 120)?;
    let again = again.map_err(|error| format!("mounting again: {error}"))?;
    ensure!(again.facts().resumed == 0, "mounting again found something to repair");
    chip.with_bytes(|after| trial.book.read(after));
    // The boot may have opened the next block.
    let mut blocks = again.facts().open.saturating_sub(1)..=again.facts().open;
    let stays = blocks.any(|block| {
        trial.book.holds(block)
            && trial.book.page(block).entries().any(|found| found == (number, entry))
    });
    ensure!(stays, "the next entry is gone after one more mount");
    ensure!(chip.counters().violations == 0, "a rule of the flash was broken");
    Ok(Ok(()))
}
