//! A NOR flash in RAM that keeps the rules of a real one, counts, and loses power on demand.
//!
//! Rules: programs and erases are aligned; a unit is programmed once between two erases. Breaking one
//! is refused and counted in [`Counters::violations`], which every test should find at zero.
//!
//! Not modelled: units that were not addressed change; a unit reads differently from one time to the
//! next.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash, check_erase, check_read,
    check_write,
};
use std::cell::RefCell;
use std::rc::Rc;

/// Bytes in a sector, the erase unit.
pub const SECTOR_LEN: usize = 4096;

/// One thing that the power can fail in the middle of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Programming one write unit.
    Program,
    /// Erasing one sector.
    Erase,
}

/// What the step is left like in which the power fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// As before.
    Nothing,
    /// Complete.
    Done,
    /// The first bytes of the unit or sector are done.
    First(usize),
    /// The last bytes of the unit or sector are done: after an erase, a header may survive.
    Last(usize),
    /// Of the bits that change, a random part has.
    Bits {
        /// Chooses which.
        seed: u64,
        /// Out of 256, how many have.
        share: u8,
    },
}

/// When to fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// How many steps still succeed.
    pub after: u64,
    /// What becomes of the step after them.
    pub outcome: Outcome,
    /// How it fails.
    pub failure: Failure,
}

/// How a step fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failure {
    /// The power is gone: nothing works until [`SimFlash::power_on`].
    Power,
    /// This step reports a failure; the next works again.
    Reported,
    /// This step reports success all the same; the next works again.
    Silent,
}

/// What was done to the flash.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Bytes read.
    pub read_bytes: u64,
    /// Units programmed.
    pub programs: u64,
    /// Sectors erased.
    pub erases: u64,
    /// Operations that break the rules.
    pub violations: u64,
}

#[derive(Clone, Debug)]
struct Inner {
    bytes: Vec<u8>,
    counters: Counters,
    cut: Option<Cut>,
    dark: bool,
    steps: Option<Vec<Step>>,
}

/// The flash, with a write unit of `W` bytes. A clone is another flash with the same content; see
/// [`SimFlash::handle`] for the same flash once more.
#[derive(Debug)]
pub struct SimFlash<const W: usize> {
    inner: Rc<RefCell<Inner>>,
}

impl<const W: usize> Clone for SimFlash<W> {
    fn clone(&self) -> Self {
        Self { inner: Rc::new(RefCell::new(self.inner.borrow().clone())) }
    }
}

impl<const W: usize> SimFlash<W> {
    /// An erased flash of `sectors` sectors.
    #[must_use]
    pub fn new(sectors: usize) -> Self {
        Self::from_bytes(vec![0xFF; sectors * SECTOR_LEN])
    }

    /// A flash with this content.
    #[must_use]
    pub fn from_bytes(bytes: Vec<u8>) -> Self {
        let inner =
            Inner { bytes, counters: Counters::default(), cut: None, dark: false, steps: None };
        Self { inner: Rc::new(RefCell::new(inner)) }
    }

    /// The same flash once more, for whoever hands it over and wants it back.
    #[must_use]
    pub fn handle(&self) -> Self {
        Self { inner: Rc::clone(&self.inner) }
    }

    /// The content.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        self.inner.borrow().bytes.clone()
    }

    /// What was done to it.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.inner.borrow().counters
    }

    /// Fails as `cut` says.
    pub fn cut(&self, cut: Cut) {
        self.inner.borrow_mut().cut = Some(cut);
    }

    /// Turns the power back on and forgets a cut that has not come.
    pub fn power_on(&self) {
        let mut inner = self.inner.borrow_mut();
        inner.dark = false;
        inner.cut = None;
    }

    /// Keeps a list of steps from now on.
    pub fn record(&self) {
        self.inner.borrow_mut().steps = Some(Vec::new());
    }

    /// The steps since [`SimFlash::record`], which ends.
    #[must_use]
    pub fn recorded(&self) -> Vec<Step> {
        self.inner.borrow_mut().steps.take().unwrap_or_default()
    }
}

/// Why the flash refused or failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SimError {
    /// There is no power.
    #[error("no power")]
    Dark,
    /// This step was told to fail.
    #[error("the flash failed")]
    Failed,
    /// Not aligned, or beyond the end.
    #[error("{0}")]
    Arguments(NorFlashErrorKind),
    /// A unit that is not erased was programmed.
    #[error("programmed without erasing at {0:#x}")]
    NotErased(usize),
}

impl NorFlashError for SimError {
    fn kind(&self) -> NorFlashErrorKind {
        match self {
            Self::Arguments(kind) => *kind,
            _ => NorFlashErrorKind::Other,
        }
    }
}

impl Inner {
    /// Counts one step and says what becomes of it if it fails.
    fn step(&mut self, step: Step) -> (Outcome, Result<(), SimError>) {
        if self.dark {
            return (Outcome::Nothing, Err(SimError::Dark));
        }
        if let Some(steps) = &mut self.steps {
            steps.push(step);
        }
        match step {
            Step::Program => self.counters.programs += 1,
            Step::Erase => self.counters.erases += 1,
        }
        match &mut self.cut {
            Some(cut) if cut.after == 0 => {
                let Cut { outcome, failure, .. } = *cut;
                self.cut = None;
                self.dark = failure == Failure::Power;
                let result = match failure {
                    Failure::Power => Err(SimError::Dark),
                    Failure::Reported => Err(SimError::Failed),
                    Failure::Silent => Ok(()),
                };
                (outcome, result)
            }
            Some(cut) => {
                cut.after -= 1;
                (Outcome::Done, Ok(()))
            }
            None => (Outcome::Done, Ok(())),
        }
    }

    /// Does one step: `target` is what its bytes are to become.
    fn change(&mut self, step: Step, at: usize, target: &[u8]) -> Result<(), SimError> {
        let (outcome, result) = self.step(step);
        let len = target.len();
        let mut random = match outcome {
            Outcome::Bits { seed, .. } => Random(seed),
            _ => Random(0),
        };
        let cells = self.bytes.iter_mut().skip(at).zip(target);
        for (i, (cell, target)) in cells.enumerate() {
            *cell = match outcome {
                Outcome::Nothing => *cell,
                Outcome::Done => *target,
                Outcome::First(bytes) if i < bytes => *target,
                Outcome::Last(bytes) if i + bytes >= len => *target,
                Outcome::First(_) | Outcome::Last(_) => *cell,
                Outcome::Bits { share, .. } => {
                    let chosen = (0..8)
                        .filter(|_| random.byte() < share)
                        .fold(0, |mask, bit| mask | 1 << bit);
                    (*cell & !chosen) | (*target & chosen)
                }
            };
        }
        result
    }

    fn check(&mut self, result: Result<(), NorFlashErrorKind>) -> Result<(), SimError> {
        result.map_err(|kind| {
            self.counters.violations += 1;
            SimError::Arguments(kind)
        })
    }
}

impl<const W: usize> ErrorType for SimFlash<W> {
    type Error = SimError;
}

impl<const W: usize> ReadNorFlash for SimFlash<W> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), SimError> {
        let valid = check_read(self, offset, bytes.len());
        let mut inner = self.inner.borrow_mut();
        inner.check(valid)?;
        if inner.dark {
            return Err(SimError::Dark);
        }
        inner.counters.read_bytes += bytes.len() as u64;
        for (to, from) in bytes.iter_mut().zip(inner.bytes.iter().skip(offset as usize)) {
            *to = *from;
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.inner.borrow().bytes.len()
    }
}

impl<const W: usize> NorFlash for SimFlash<W> {
    const WRITE_SIZE: usize = W;
    const ERASE_SIZE: usize = SECTOR_LEN;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), SimError> {
        let valid = check_erase(self, from, to);
        let mut inner = self.inner.borrow_mut();
        inner.check(valid)?;
        (from as usize..to as usize)
            .step_by(SECTOR_LEN)
            .try_for_each(|at| inner.change(Step::Erase, at, &[0xFF; SECTOR_LEN]))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), SimError> {
        let valid = check_write(self, offset, bytes.len());
        let mut inner = self.inner.borrow_mut();
        inner.check(valid)?;
        for (i, unit) in bytes.chunks(W).enumerate() {
            let at = offset as usize + i * W;
            let erased = inner.bytes.iter().skip(at).take(W).all(|byte| *byte == 0xFF);
            if !erased && !inner.dark {
                inner.counters.violations += 1;
                return Err(SimError::NotErased(at));
            }
            inner.change(Step::Program, at, unit)?;
        }
        Ok(())
    }
}

/// SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators").
#[derive(Clone, Copy, Debug)]
pub struct Random(pub u64);

impl Random {
    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A random byte.
    pub fn byte(&mut self) -> u8 {
        self.bits().to_le_bytes()[7]
    }

    /// Uniform in (0, 1).
    pub fn uniform(&mut self) -> f64 {
        (f64::from((self.bits() >> 32) as u32) + 0.5) / 4_294_967_296.0
    }

    /// Standard normal (Box and Muller 1958).
    pub fn gaussian(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn failed(flash: &mut SimFlash<4>, after: u64, outcome: Outcome) -> Vec<u8> {
        flash.cut(Cut { after, outcome, failure: Failure::Power });
        assert_eq!(flash.write(8, &[0, 1, 2, 3, 4, 5, 6, 7]), Err(SimError::Dark));
        assert_eq!(flash.read(0, &mut [0]), Err(SimError::Dark));
        flash.power_on();
        flash.bytes()[8..16].to_vec()
    }

    #[test]
    fn cuts_leave_what_they_say() {
        const FF: u8 = 0xFF;
        let new = SimFlash::<4>::new(1);
        let run = |after, outcome| failed(&mut new.clone(), after, outcome);
        assert_eq!(run(0, Outcome::Nothing), [FF; 8]);
        assert_eq!(run(0, Outcome::Done), [0, 1, 2, 3, FF, FF, FF, FF]);
        assert_eq!(run(1, Outcome::First(1)), [0, 1, 2, 3, 4, FF, FF, FF]);
        assert_eq!(run(1, Outcome::Last(2)), [0, 1, 2, 3, FF, FF, 6, 7]);
        let bits = run(0, Outcome::Bits { seed: 1, share: 128 });
        assert!(bits[..4] != [0, 1, 2, 3] && bits[..4] != [FF; 4] && bits[4..] == [FF; 4]);
        assert!(bits.iter().zip([0, 1, 2, 3]).all(|(cell, target)| cell & target == target));
    }

    #[test]
    fn the_rules_are_kept() {
        let mut flash = SimFlash::<4>::new(2);
        flash.write(4, &[0; 4]).unwrap();
        assert_eq!(flash.write(4, &[0; 4]), Err(SimError::NotErased(4)));
        assert!(flash.write(5, &[0; 4]).is_err());
        assert!(flash.write(8, &[0; 3]).is_err());
        assert!(flash.erase(4, 4096).is_err());
        assert!(flash.erase(4096, 3 * 4096).is_err());
        assert_eq!(flash.counters().violations, 5);
        flash.erase(0, 4096).unwrap();
        assert_eq!(flash.bytes(), [0xFF; 8192]);
        flash.cut(Cut { after: 0, outcome: Outcome::Done, failure: Failure::Reported });
        assert_eq!(flash.write(4, &[0; 4]), Err(SimError::Failed));
        flash.write(8, &[0; 4]).unwrap();
        assert_eq!(flash.bytes()[4..12], [0; 8]);
    }
}
