//! A random logger on a random flash, which fails in random ways.

use super::log::Facts;
use super::model::Model;
use super::oracle::Trial;
use super::page;
use super::workload::{other, sample};
use super::{Case, Check, Counts, Failed, Log, Maker, campaign, ensure, guarded};
use crate::flash::{Chip, Cut, Failure, Outcome, Random};
use glueday_types::Entry;
use std::ops::Range;

/// Fewest operations of a seed.
pub(super) const OPERATIONS_MIN: u64 = 1000;
/// Fewest cuts of a seed.
pub(super) const CUTS_MIN: u64 = 3;

/// Does these seeds.
///
/// # Errors
/// The first that fails.
pub fn seeds(maker: &Maker, seeds: Range<u64>) -> Result<Counts, Failed> {
    campaign(maker, |trial| {
        seeds.into_iter().try_for_each(|seed| {
            guarded(Case::Seed(seed), || Life::begin(trial, seed).live())?;
            trial.counts.seeds += 1;
            Ok(())
        })
    })
}

/// One logger and its flash.
struct Life<'t, 'm> {
    trial: &'t mut Trial<'m>,
    random: Random,
    chip: Chip,
    log: Option<Box<dyn Log>>,
    model: Model,
    at_s: u32,
    /// Cuts that came, and how many are to come.
    cuts: (u64, u64),
    /// Whether a fault is on its way.
    armed: bool,
    /// Entries that failed since the last that did not.
    failed: usize,
    /// Entries of this boot that are lost.
    lost: u32,
}

impl<'t, 'm> Life<'t, 'm> {
    fn begin(trial: &'t mut Trial<'m>, seed: u64) -> Self {
        let mut random = Random(seed.wrapping_mul(0xD134_2543_DE82_EF95));
        let unit = [1, 4, 8, 32][random.below(4) as usize];
        let chip = Chip::erased(unit, 2 + random.below(3) as usize);
        chip.veto(page::by_chance);
        let cuts = (0, CUTS_MIN + random.below(3));
        let (log, model) = (None, Model::default());
        Self { trial, random, chip, log, model, at_s: 0, cuts, armed: false, failed: 0, lost: 0 }
    }

    fn live(&mut self) -> Check {
        let wanted = OPERATIONS_MIN + self.random.below(200);
        self.start()?;
        let mut operations = 0;
        while operations < wanted || self.cuts.0 < self.cuts.1 {
            // An armed fault comes with the next writes, so that this ends soon after.
            ensure!(operations < 20 * wanted, "the cuts do not come");
            operations += 1;
            self.arm(operations > wanted);
            if self.random.below(150) == 0 {
                self.log = None;
                self.trial.counts.restarts += 1;
                self.start()?;
            } else {
                let entry = self.entry();
                self.append(entry)?;
            }
            if self.chip.is_dark() {
                self.power_on();
                self.start()?;
            }
        }
        self.chip.power_on();
        self.log = None;
        self.start()?;
        let counters = self.chip.counters();
        let opened = u64::from(self.facts().open) + 1;
        ensure!(
            counters.erases <= opened + self.model.flaws as u64,
            "{} erases for {opened} blocks and {} flaws",
            counters.erases,
            self.model.flaws
        );
        self.trial.counts.operations += operations;
        self.trial.counts.cuts += self.cuts.0;
        self.trial.counts.faults += counters.cuts - self.cuts.0;
        self.trial.counts.erases_cut += counters.erases_cut;
        self.trial.counts.by_chance += counters.vetoed;
        self.trial.counts.blocks_opened += opened;
        self.trial.counts.wraps += (opened - 1) / self.chip.sectors() as u64;
        Ok(())
    }

    fn facts(&self) -> Facts {
        self.log.as_ref().map_or_else(
            || Facts {
                oldest: 0,
                open: 0,
                open_len: 0,
                interval_s: 1,
                entries: 0,
                boot: 0,
                lost: 0,
                resumed: 0,
            },
            |log| log.facts(),
        )
    }

    fn later(&mut self, by_s: u32) -> u32 {
        self.at_s += by_s;
        self.at_s
    }

    fn entry(&mut self) -> Entry {
        let interval_s = self.facts().interval_s;
        match self.random.below(100) {
            0 => {
                let interval_s = [1, 60, 600, 3600][self.random.below(4) as usize];
                Entry::SettingsChanged { at_s: self.later(1), interval_s }
            }
            1..12 => {
                let at_s = self.later(1 + self.random.0 as u32 % 700);
                other(at_s)
            }
            12..20 => sample(self.later(u32::from(interval_s) + 1), 300),
            _ => sample(self.later(u32::from(interval_s)), 1),
        }
    }

    /// Lets something fail soon, now and then; near the end of a block more often.
    fn arm(&mut self, at_once: bool) {
        let facts = self.facts();
        let near_end = facts.open_len > 4096 - 40;
        let often = if near_end { 4 } else { 200 };
        if self.armed || !(at_once || self.random.below(often) == 0) {
            return;
        }
        self.armed = true;
        let steps = if near_end { 4 + 64 / self.chip.unit() as u64 } else { 5 };
        let after = self.random.below(steps);
        let outcome = self.outcome();
        let failure = match self.random.below(8) {
            0 if !at_once => return self.chip.fail_read(after),
            1 if !at_once => Failure::Reported,
            2 if !at_once => Failure::Silent,
            // Enough of them.
            _ if self.cuts.0 >= self.cuts.1 => Failure::Reported,
            _ => Failure::Power,
        };
        self.chip.cut(Cut { after, outcome, failure });
    }

    fn outcome(&mut self) -> Outcome {
        let seed = self.random.bits();
        let unit = self.chip.unit() as u64;
        let part = |random: &mut Random| match random.below(3) {
            0 => 64,
            1 => random.below(4096) as usize,
            _ => random.below(unit) as usize,
        };
        match self.random.below(8) {
            0 => Outcome::Nothing,
            1 => Outcome::Done,
            2 | 3 => Outcome::First(part(&mut self.random)),
            4 => Outcome::Last(part(&mut self.random)),
            5 => Outcome::Bits { seed, share: self.random.byte() },
            6 => Outcome::Zeros(part(&mut self.random)),
            _ => Outcome::Noise { seed },
        }
    }

    fn append(&mut self, entry: Entry) -> Check {
        let before = self.chip.counters().cuts;
        let Some(log) = &mut self.log else { return Err("not mounted".to_owned()) };
        let result = self.model.append(log.as_mut(), entry);
        let came = self.chip.counters().cuts > before;
        self.model.flaws += usize::from(came);
        self.armed &= !came;
        match result {
            Err(error) => {
                // Every failure has its reason, and no more than one is armed at a time.
                ensure!(came, "{entry:?} without a fault: {error}");
                self.failed += 1;
            }
            Ok(()) if self.failed > 0 => {
                let arrived = self.trial.verify(log.as_mut(), &self.model, false)?;
                let written = self.model.written.len();
                // What failed in this boot stands right before this entry.
                let recent = written - 1 - self.failed..written;
                let there = arrived.iter().filter(|place| recent.contains(*place)).count();
                self.lost += (self.failed - there) as u32;
                self.failed = 0;
                let said = log.facts().lost;
                ensure!(said == self.lost, "{} lost, the log says {said}", self.lost);
            }
            Ok(()) => {}
        }
        Ok(())
    }

    /// The power failed, and is back.
    fn power_on(&mut self) {
        self.cuts.0 += 1;
        self.log = None;
        self.chip.power_on();
    }

    /// Mounts until that succeeds, and checks what is there.
    fn start(&mut self) -> Check {
        (self.failed, self.lost) = (0, 0);
        for _ in 0..20 {
            // The power fails again while mounting.
            if !self.armed && self.cuts.0 < self.cuts.1 && self.random.below(3) == 0 {
                self.armed = true;
                let after = self.random.below(10 + 64 / self.chip.unit() as u64);
                let outcome = self.outcome();
                self.chip.cut(Cut { after, outcome, failure: Failure::Power });
            }
            let at_s = self.later(1);
            let before = self.chip.counters().cuts;
            let mounted = self.trial.mount(&self.chip, at_s)?;
            let came = self.chip.counters().cuts > before;
            self.model.flaws += usize::from(came);
            self.armed &= !came;
            match mounted {
                Ok(mut log) => {
                    // Had the power failed, nobody would be here.
                    ensure!(!self.chip.is_dark(), "mounted without power");
                    self.model.mounted(&log.facts(), at_s);
                    self.trial.verify(log.as_mut(), &self.model, true)?;
                    ensure!(log.facts().lost == 0, "entries lost in a new boot");
                    self.settled(log.as_ref())?;
                    self.log = Some(log);
                    return Ok(());
                }
                Err(error) => {
                    ensure!(came, "mounting without a fault: {error}");
                    self.model.boot_failed(at_s);
                    if self.chip.is_dark() {
                        self.power_on();
                    }
                }
            }
        }
        Err("not mounted in 20 times".to_owned())
    }

    /// On a copy of the flash, without what is armed: mounting again finds nothing to do, and the next
    /// entry stays.
    fn settled(&mut self, log: &dyn Log) -> Check {
        let at_s = self.at_s + 1;
        if self.random.below(2) == 0 {
            return self.trial.again(&Chip::new(self.chip.cells()), self.model.clone(), at_s);
        }
        let fork = log.fork();
        fork.chip().power_on();
        self.trial.settled(fork, self.model.clone(), at_s)
    }
}
