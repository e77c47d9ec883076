//! A log in the middle of a workload.

use super::log::Maker;
use super::model::{Model, Written, mount};
use super::workload::{Ending, Op, Source, Workload, is_paired, sample};
use super::{Check, Log};
use crate::flash::{Chip, Cut, Failure, Outcome};
use glueday_firmware::ring::Error;
use glueday_types::{Entry, MarkKind};

/// The log in the middle of a workload.
pub(super) struct Run {
    pub(super) chip: Chip,
    pub(super) log: Option<Box<dyn Log>>,
    pub(super) model: Model,
}

impl Run {
    /// The flash as it is before the first operation, and the operations.
    pub(super) fn begin(maker: &Maker, unit: usize, workload: &Workload) -> Check<(Self, Vec<Op>)> {
        let mut source = Source::default();
        let chip = Chip::erased(unit, workload.slots);
        let mut run = Self { chip, log: None, model: Model::default() };
        if let Some(until) = workload.until {
            run.perform(maker, Op::Restart { at_s: 0 })?;
            while let Some(facts) = run.log.as_ref().map(|log| log.facts())
                && (facts.open, facts.open_len) < until
            {
                // Few entries mount faster than many, and two cuts mount very often.
                let far = facts.open < until.0 || facts.open_len + 60 < until.1;
                let sample = source.sample(1);
                source.at_s += u32::from(far && is_paired(workload.name));
                run.perform(maker, sample)?;
            }
        }
        Ok((run, (workload.ops)(&mut source)))
    }

    /// The operation itself, where it depends on the place.
    pub(super) fn resolve(&self, op: Op) -> Check<Op> {
        let (Op::Ending { ending, from_s }, Some(log)) = (op, &self.log) else { return Ok(op) };
        let unit = self.chip.unit();
        // Entries are too short to end in a unit of ones when units are long.
        let ending = if unit > 8 { Ending::MarksFirst } else { ending };
        for at_s in from_s..from_s + 4096 {
            // One of these is nine bytes long, and so just longer than a unit.
            let mark = Entry::Mark { at_s, kind: MarkKind::Button };
            for entry in [mark, Entry::PowerLow { at_s, supply_mv: 3300 }] {
                let mut fork = log.fork();
                let before = fork.facts();
                fork.append(&entry)
                    .map_err(|error| format!("{entry:?} without a fault: {error}"))?;
                let end = usize::from(fork.facts().open_len);
                let from = before.open as usize % fork.chip().sectors() * 4096;
                let written = fork.chip().with_bytes(|bytes| bytes[from..from + end].to_vec());
                let right = match ending {
                    Ending::MarksFirst => {
                        written.iter().rfind(|byte| **byte != 0xFF) == Some(&0xFE)
                    }
                    Ending::UnitOfOnes => written.ends_with(&vec![0xFF; unit]),
                };
                if right && fork.facts().open == before.open {
                    return Ok(Op::Append(entry));
                }
            }
        }
        Err(format!("no entry with the ending {ending:?}"))
    }

    /// Does `op`, in which nothing fails that is not meant to.
    pub(super) fn perform(&mut self, maker: &Maker, op: Op) -> Check {
        let failed = |error| format!("{op:?} without a fault: {error}");
        match op {
            Op::Append(entry) => self.append(entry).map_err(failed),
            Op::Restart { at_s } => {
                self.log = None;
                let log = mount(maker, &self.chip, at_s).map_err(failed)?;
                self.model.mounted(&log.facts(), at_s);
                self.log = Some(log);
                Ok(())
            }
            Op::Fill { room, from_s } => {
                let mut at_s = from_s;
                while self
                    .log
                    .as_ref()
                    .is_some_and(|log| 4096 - usize::from(log.facts().open_len) > room)
                {
                    at_s += 600;
                    self.append(sample(at_s, 1)).map_err(failed)?;
                }
                Ok(())
            }
            Op::Ending { .. } => self.resolve(op).and_then(|op| self.perform(maker, op)),
            Op::Torn { entry, at_s } => {
                let after = u64::from(self.chip.unit() == 1);
                let cut = Cut { after, outcome: Outcome::First(3), failure: Failure::Power };
                self.chip.cut(cut);
                if self.append(entry).is_ok() {
                    return Err("an entry was acknowledged after the power failed".to_owned());
                }
                self.model.flaws += 1;
                self.chip.power_on();
                self.perform(maker, Op::Restart { at_s })
            }
        }
    }

    fn append(&mut self, entry: Entry) -> Result<(), Error> {
        match &mut self.log {
            Some(log) => self.model.append(log.as_mut(), entry),
            None => Err(Error::LogicBug("not mounted")),
        }
    }
}

/// What was written when the power failed in `op`; `None` for what is never cut.
pub(super) fn cut_in(model: &Model, op: Op) -> Option<Model> {
    let mut model = model.clone();
    model.flaws += 1;
    match op {
        Op::Append(entry) => model.written.push(Written::InFlight(entry)),
        Op::Restart { at_s } => model.boot_failed(at_s),
        Op::Fill { .. } | Op::Torn { .. } | Op::Ending { .. } => return None,
    }
    Some(model)
}
