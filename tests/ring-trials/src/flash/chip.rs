//! What a flash goes through: power, faults, counters.

use super::{Cells, Cut, Deed, Failure, Outcome, SECTOR_LEN, SimError, Veto};
use embedded_storage::nor_flash::NorFlashErrorKind;
use std::cell::RefCell;
use std::rc::Rc;

/// What was done to the flash.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Reads.
    pub reads: u64,
    /// Bytes read.
    pub read_bytes: u64,
    /// Units programmed.
    pub programs: u64,
    /// Bytes programmed.
    pub program_bytes: u64,
    /// Sectors erased.
    pub erases: u64,
    /// Operations that break the rules.
    pub violations: u64,
    /// Cuts that failed as they were told to.
    pub cuts: u64,
    /// Those of them that came in an erase.
    pub erases_cut: u64,
    /// Outcomes of cuts that a [`Veto`] made others of.
    pub vetoed: u64,
}

#[derive(Clone, Debug)]
struct Inner {
    cells: Cells,
    counters: Counters,
    cut: Option<Cut>,
    /// How many reads still succeed before one fails.
    failing_read: Option<u64>,
    /// Reads are refused from this many bytes on.
    read_limit: u64,
    veto: Option<Veto>,
    dark: bool,
    deeds: Option<Vec<Deed>>,
}

/// A flash whose write unit is known when the program runs. A clone is the same flash once more.
#[derive(Clone, Debug)]
pub struct Chip {
    inner: Rc<RefCell<Inner>>,
}

impl Chip {
    /// A flash with this content.
    #[must_use]
    pub fn new(cells: Cells) -> Self {
        let inner = Inner {
            cells,
            counters: Counters::default(),
            cut: None,
            failing_read: None,
            read_limit: u64::MAX,
            veto: None,
            dark: false,
            deeds: None,
        };
        Self { inner: Rc::new(RefCell::new(inner)) }
    }

    /// An erased flash of `sectors` sectors.
    #[must_use]
    pub fn erased(unit: usize, sectors: usize) -> Self {
        Self::new(Cells::new(unit, vec![0xFF; sectors * SECTOR_LEN]))
    }

    /// The content.
    #[must_use]
    pub fn cells(&self) -> Cells {
        self.inner.borrow().cells.clone()
    }

    /// Calls `look` with the content.
    pub fn with_bytes<T>(&self, look: impl FnOnce(&[u8]) -> T) -> T {
        look(self.inner.borrow().cells.bytes())
    }

    /// The write unit.
    #[must_use]
    pub fn unit(&self) -> usize {
        self.inner.borrow().cells.unit()
    }

    /// How many sectors it has.
    #[must_use]
    pub fn sectors(&self) -> usize {
        self.inner.borrow().cells.bytes().len() / SECTOR_LEN
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

    /// Lets so many reads succeed and reports that the one after them failed.
    pub fn fail_read(&self, after: u64) {
        self.inner.borrow_mut().failing_read = Some(after);
    }

    /// Calls `look` while reads do not fail.
    pub fn without_failing_reads<T>(&self, look: impl FnOnce() -> T) -> T {
        let failing = self.inner.borrow_mut().failing_read.take();
        let seen = look();
        self.inner.borrow_mut().failing_read = failing;
        seen
    }

    /// Refuses to read more than `bytes` from now on, so that a reader without an end finds one.
    pub fn limit_reads(&self, bytes: u64) {
        let mut inner = self.inner.borrow_mut();
        inner.read_limit = inner.counters.read_bytes.saturating_add(bytes);
    }

    /// Asks `veto` about every outcome from now on.
    pub fn veto(&self, veto: Veto) {
        self.inner.borrow_mut().veto = Some(veto);
    }

    /// Whether the power is gone.
    #[must_use]
    pub fn is_dark(&self) -> bool {
        self.inner.borrow().dark
    }

    /// Turns the power back on and forgets faults that have not come.
    pub fn power_on(&self) {
        let mut inner = self.inner.borrow_mut();
        inner.dark = false;
        inner.cut = None;
        inner.failing_read = None;
    }

    /// Keeps a list of deeds from now on.
    pub fn record(&self) {
        self.inner.borrow_mut().deeds = Some(Vec::new());
    }

    /// The deeds since [`Chip::record`], which ends; none that failed.
    #[must_use]
    pub fn recorded(&self) -> Vec<Deed> {
        self.inner.borrow_mut().deeds.take().unwrap_or_default()
    }

    /// Another flash, with the same content and in the same state.
    #[must_use]
    pub fn copied(&self) -> Self {
        Self { inner: Rc::new(RefCell::new(self.inner.borrow().clone())) }
    }

    pub(super) fn read(&self, at: usize, out: &mut [u8]) -> Result<(), SimError> {
        self.inner.borrow_mut().read(at, out)
    }

    pub(super) fn write(&self, at: usize, bytes: &[u8]) -> Result<(), SimError> {
        self.inner.borrow_mut().write(at, bytes)
    }

    pub(super) fn erase(&self, at: usize) -> Result<(), SimError> {
        self.inner.borrow_mut().erase(at)
    }

    /// Counts arguments that are not valid.
    pub(super) fn refuse(&self, valid: Result<(), NorFlashErrorKind>) -> Result<(), SimError> {
        valid.map_err(|kind| {
            self.inner.borrow_mut().counters.violations += 1;
            SimError::Arguments(kind)
        })
    }
}

impl Inner {
    /// Counts one step and says what becomes of it if it fails.
    fn fate(&mut self) -> (Outcome, Result<(), SimError>) {
        match &mut self.cut {
            Some(cut) if cut.after == 0 => {
                let Cut { outcome, failure, .. } = *cut;
                self.cut = None;
                self.counters.cuts += 1;
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

    fn do_step(&mut self, deed: &Deed, index: usize) -> Result<(), SimError> {
        let cuts = self.counters.cuts;
        let (outcome, result) = self.fate();
        let erase = deed.step() == super::Step::Erase;
        let failed = self.counters.cuts > cuts;
        self.counters.erases_cut += u64::from(erase && failed);
        // What goes on to be written is left alone.
        let veto = self.veto.filter(|_| failed);
        self.counters.vetoed += u64::from(self.cells.step(deed, index, outcome, veto));
        result
    }

    fn note(&mut self, deed: impl FnOnce() -> Deed) {
        if let Some(deeds) = &mut self.deeds {
            deeds.push(deed());
        }
    }

    fn erase(&mut self, at: usize) -> Result<(), SimError> {
        if self.dark {
            return Err(SimError::Dark);
        }
        self.counters.erases += 1;
        self.do_step(&Deed::Erase { at }, 0)?;
        self.note(|| Deed::Erase { at });
        Ok(())
    }

    fn write(&mut self, at: usize, bytes: &[u8]) -> Result<(), SimError> {
        if self.dark {
            return Err(SimError::Dark);
        }
        let unit = self.cells.unit();
        let units = bytes.len() / unit;
        let free = self.cells.programmed(at, bytes.len());
        let whole = self.cut.is_none_or(|cut| cut.after >= units as u64) && free.is_none();
        if whole {
            if let Some(cut) = &mut self.cut {
                cut.after -= units as u64;
            }
            self.counters.programs += units as u64;
            self.counters.program_bytes += bytes.len() as u64;
            self.note(|| Deed::Program { at, bytes: bytes.to_vec() });
            self.cells.program(at, bytes);
            return Ok(());
        }
        let deed = Deed::Program { at, bytes: bytes.to_vec() };
        for index in 0..units {
            if free == Some(at + index * unit) {
                self.counters.violations += 1;
                return Err(SimError::NotErased(at + index * unit));
            }
            self.counters.programs += 1;
            self.counters.program_bytes += unit as u64;
            self.do_step(&deed, index)?;
        }
        self.note(|| deed);
        Ok(())
    }

    fn read(&mut self, at: usize, out: &mut [u8]) -> Result<(), SimError> {
        if self.dark {
            return Err(SimError::Dark);
        }
        match &mut self.failing_read {
            Some(0) => {
                self.failing_read = None;
                self.counters.cuts += 1;
                return Err(SimError::Failed);
            }
            Some(after) => *after -= 1,
            None => {}
        }
        self.counters.reads += 1;
        self.counters.read_bytes += out.len() as u64;
        if self.counters.read_bytes > self.read_limit {
            return Err(SimError::ReadLimit);
        }
        if let Some(from) = self.cells.bytes().get(at..at + out.len()) {
            out.copy_from_slice(from);
        }
        Ok(())
    }
}
