//! What a flash holds, and what one step makes of it.

use super::{Outcome, Random, SECTOR_LEN, Step, Veto};

/// The content of a flash, and which units were programmed since they were erased.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cells {
    unit: usize,
    bytes: Vec<u8>,
    /// One a unit. A unit may have been programmed and read erased all the same.
    programmed: Vec<bool>,
}

/// What the flash was told to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// To program these bytes here.
    Program {
        /// The address.
        at: usize,
        /// A multiple of the write unit.
        bytes: Vec<u8>,
    },
    /// To erase the sector that begins here.
    Erase {
        /// The address.
        at: usize,
    },
}

impl Deed {
    /// What each of its steps is.
    #[must_use]
    pub fn step(&self) -> Step {
        match self {
            Self::Program { .. } => Step::Program,
            Self::Erase { .. } => Step::Erase,
        }
    }

    /// How many steps it takes on a flash with this write unit.
    #[must_use]
    pub fn steps(&self, unit: usize) -> usize {
        match self {
            Self::Program { bytes, .. } => bytes.len().div_ceil(unit),
            Self::Erase { .. } => 1,
        }
    }
}

impl Cells {
    /// This content. Units that read erased count as erased.
    #[must_use]
    pub fn new(unit: usize, bytes: Vec<u8>) -> Self {
        let programmed = bytes.chunks(unit).map(|unit| !erased(unit)).collect();
        Self { unit, bytes, programmed }
    }

    /// The write unit.
    #[must_use]
    pub fn unit(&self) -> usize {
        self.unit
    }

    /// The content.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Turns one bit over. A unit that is not erased any more counts as programmed.
    pub fn flip(&mut self, bit: u64) {
        let at = (bit / 8) as usize;
        if let Some(byte) = self.bytes.get_mut(at) {
            *byte ^= 1 << (bit % 8);
        }
        let start = at / self.unit * self.unit;
        let programmed = self.bytes.get(start..start + self.unit).is_some_and(|unit| !erased(unit));
        if let Some(unit) = self.programmed.get_mut(at / self.unit) {
            *unit |= programmed;
        }
    }

    /// A number that is another one for other content, but for chance.
    #[must_use]
    pub fn fingerprint(&self) -> u64 {
        let words = self
            .bytes
            .chunks(8)
            .map(|chunk| chunk.first_chunk().map_or(0, |word| u64::from_le_bytes(*word)));
        words.fold(0, |mixed, word| {
            (mixed ^ word).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(29)
        })
    }

    /// The first unit of a span that was programmed already.
    pub(super) fn programmed(&self, at: usize, len: usize) -> Option<usize> {
        let first = at / self.unit;
        let units = self.programmed.iter().skip(first).take(len.div_ceil(self.unit));
        units.enumerate().find(|(_, programmed)| **programmed).map(|(i, _)| (first + i) * self.unit)
    }

    /// Programs a span as a whole.
    pub(super) fn program(&mut self, at: usize, bytes: &[u8]) {
        for (to, from) in self.bytes.iter_mut().skip(at).zip(bytes) {
            *to = *from;
        }
        let units = self.programmed.iter_mut().skip(at / self.unit);
        units.take(bytes.len() / self.unit).for_each(|unit| *unit = true);
    }

    /// Does one step of `deed`, with this outcome. Says whether `veto` made another of it.
    pub fn step(
        &mut self,
        deed: &Deed,
        index: usize,
        outcome: Outcome,
        veto: Option<Veto>,
    ) -> bool {
        match deed {
            Deed::Program { at, bytes } => self.program_unit(*at, bytes, index, outcome, veto),
            Deed::Erase { at } => {
                change(sector_mut(&mut self.bytes, *at), None, outcome);
                // After half an erase, what reads erased counts as such.
                let done = outcome == Outcome::Done;
                if outcome != Outcome::Nothing {
                    let units = self.bytes.chunks(self.unit).zip(&mut self.programmed);
                    let units = units.skip(at / self.unit).take(SECTOR_LEN / self.unit);
                    units.for_each(|(unit, programmed)| *programmed = !done && !erased(unit));
                }
                false
            }
        }
    }

    fn program_unit(
        &mut self,
        at: usize,
        bytes: &[u8],
        index: usize,
        outcome: Outcome,
        veto: Option<Veto>,
    ) -> bool {
        let start = at + index * self.unit;
        let Some(target) = bytes.chunks(self.unit).nth(index) else { return false };
        let Some(cells) = self.bytes.get_mut(start..start + self.unit) else { return false };
        let before = cells.to_vec();
        change(cells, Some(target), outcome);
        if let Some(veto) = veto {
            let sector = at / SECTOR_LEN * SECTOR_LEN;
            let whole = self.bytes.get(sector..sector + SECTOR_LEN).unwrap_or(&[]);
            if veto(whole, at - sector, bytes) {
                let Some(cells) = self.bytes.get_mut(start..start + self.unit) else { return true };
                if *cells == before {
                    self.program(start, target);
                } else {
                    cells.copy_from_slice(&before);
                }
                return true;
            }
        }
        let unit = self.bytes.get(start..start + self.unit).unwrap_or(&[]);
        let changed = outcome == Outcome::Done || !erased(unit);
        if let Some(programmed) = self.programmed.get_mut(start / self.unit) {
            *programmed |= changed;
        }
        false
    }
}

fn sector_mut(bytes: &mut [u8], at: usize) -> &mut [u8] {
    bytes.get_mut(at..at + SECTOR_LEN).unwrap_or(&mut [])
}

fn erased(unit: &[u8]) -> bool {
    unit.iter().all(|byte| *byte == 0xFF)
}

/// Makes of `cells` what `outcome` says; `target` is what was wanted, ones if nothing is given.
fn change(cells: &mut [u8], target: Option<&[u8]>, outcome: Outcome) {
    let len = cells.len();
    let mut random = match outcome {
        Outcome::Bits { seed, .. } | Outcome::Noise { seed } => Random(seed),
        _ => Random(0),
    };
    for (i, cell) in cells.iter_mut().enumerate() {
        let target = target.map_or(Some(0xFF), |target| target.get(i).copied()).unwrap_or(0xFF);
        *cell = match outcome {
            Outcome::Nothing => *cell,
            Outcome::Done => target,
            Outcome::First(bytes) if i < bytes => target,
            Outcome::Last(bytes) if i + bytes >= len => target,
            Outcome::First(_) | Outcome::Last(_) => *cell,
            Outcome::Bits { share, .. } => {
                let chosen =
                    (0..8).filter(|_| random.byte() < share).fold(0, |mask, bit| mask | 1 << bit);
                (*cell & !chosen) | (target & chosen)
            }
            Outcome::Noise { .. } => random.byte(),
            Outcome::Zeros(bytes) if i < bytes => 0,
            Outcome::Zeros(_) => *cell,
        };
    }
}
