//! One cut, at every step of every workload, with every outcome; and the same as faults without a cut.

use super::model::Model;
use super::oracle::Trial;
use super::page;
use super::run::{Run, cut_in};
use super::workload::{self, Op};
use super::{Case, Check, Counts, Failed, Log, Maker, campaign, ensure, guarded};
use crate::flash::{Cells, Chip, Cut, Deed, Failure, Outcome, Step};
use glueday_types::{Entry, MarkKind};

/// Time of the first boot after a cut.
pub(super) const RECOVERED_S: u32 = 4_000_000_000;

/// Does every workload on a flash with this write unit, or only those that are named.
///
/// # Errors
/// The first case that fails.
pub fn depth_one(maker: &Maker, unit: usize, names: Option<&[&str]>) -> Result<Counts, Failed> {
    let all: Vec<&str> = workload::WORKLOADS.iter().map(|workload| workload.name).collect();
    run(maker, unit, names.unwrap_or(&all), None)
}

/// What may be left of a step.
pub(super) fn outcomes(step: Step, unit: usize, seed: u64) -> Vec<Outcome> {
    let bits = |share| Outcome::Bits { seed, share };
    let noise = Outcome::Noise { seed };
    let mut outcomes = vec![Outcome::Nothing, Outcome::Done, bits(128), noise];
    match step {
        Step::Program => {
            outcomes.extend((1..unit).map(Outcome::First));
            outcomes.push(bits(25));
            outcomes.push(Outcome::Zeros(unit));
        }
        Step::Erase => outcomes.extend([
            Outcome::First(64),
            Outcome::First(2048),
            Outcome::Last(2048),
            Outcome::Last(4096 - 64),
            Outcome::Zeros(2048),
            Outcome::Zeros(4096),
            bits(250),
            bits(3),
        ]),
    }
    outcomes
}

/// A step and what a cut in it left.
pub(super) struct Torn {
    pub(super) step: usize,
    pub(super) outcome: Outcome,
    pub(super) cells: Cells,
    pub(super) in_erase: bool,
    /// A cut before it in the same operation left the same.
    pub(super) alike: bool,
    /// The outcome passed a check by chance, and nothing was made of it.
    pub(super) by_chance: bool,
}

/// Every step of `deeds` with every outcome, on top of `before`.
pub(super) fn tear(before: &Cells, deeds: &[Deed], seed: u64) -> Vec<Torn> {
    let mut all: Vec<Torn> = Vec::new();
    let mut done = before.clone();
    let mut step = 0;
    for deed in deeds {
        for index in 0..deed.steps(before.unit()) {
            let first = all.len();
            for outcome in outcomes(deed.step(), before.unit(), seed ^ ((step as u64) << 20)) {
                let mut cells = done.clone();
                let by_chance = cells.step(deed, index, outcome, Some(page::by_chance));
                // Doing nothing of a step is doing all of the one before.
                let alike = step > 0 && cells == done
                    || all[first..].iter().any(|torn| torn.cells == cells);
                let in_erase = deed.step() == Step::Erase;
                all.push(Torn { step, outcome, cells, in_erase, alike, by_chance });
            }
            done.step(deed, index, Outcome::Done, None);
            step += 1;
        }
    }
    all
}

/// Does `names`, or only the case `only`.
pub(super) fn run(
    maker: &Maker,
    unit: usize,
    names: &[&str],
    only: Option<&Case>,
) -> Result<Counts, Failed> {
    campaign(maker, |trial| run_all(trial, unit, names, only))
}

fn run_all(
    trial: &mut Trial<'_>,
    unit: usize,
    names: &[&str],
    only: Option<&Case>,
) -> Result<(), Failed> {
    let maker = trial.maker;
    for workload in names.iter().filter_map(|name| workload::named(name)) {
        let place =
            |op, step, outcome| Case::Cut { unit, workload: workload.name, op, step, outcome };
        let start = place(0, 0, Outcome::Nothing);
        let (mut run, ops) = guarded(start, || Run::begin(maker, unit, workload))?;
        for (index, op) in ops.into_iter().enumerate() {
            let here = place(index, 0, Outcome::Nothing);
            let op = guarded(here, || run.resolve(op))?;
            let before = run.chip.cells();
            let fork = run.log.as_ref().map(|log| log.fork());
            let model = run.model.clone();
            run.chip.record();
            guarded(here, || run.perform(maker, op))?;
            let deeds = run.chip.recorded();
            let Some(torn_model) = cut_in(&model, op) else { continue };
            for torn in tear(&before, &deeds, index as u64) {
                let case = place(index, torn.step, torn.outcome);
                trial.counts.by_chance += u64::from(torn.by_chance);
                if only.is_none_or(|only| *only == case) {
                    trial.counts.cuts += 1;
                    trial.counts.erases_cut += u64::from(torn.in_erase);
                    trial.counts.cuts_alike += u64::from(torn.alike);
                    // What is done for its own sake is done, whatever it is like.
                    if !torn.alike || only.is_some() {
                        guarded(case, || cut(trial, torn.cells.clone(), &torn_model))?;
                    }
                }
                if let (Op::Append(entry), Some(log)) = (op, &fork) {
                    faults(trial, case, only, log.as_ref(), &model, entry)?;
                }
            }
        }
        guarded(start, || end(trial, &mut run))?;
    }
    Ok(())
}

fn cut(trial: &mut Trial<'_>, cells: Cells, model: &Model) -> Check {
    trial.readers_agree(cells.bytes())?;
    // Once with an entry before the second mount, once without.
    let chip = Chip::new(cells.clone());
    let log = trial.mount(&chip, RECOVERED_S)?.map_err(|error| format!("mounting: {error}"))?;
    let mut twice = model.clone();
    twice.mounted(&log.facts(), RECOVERED_S);
    drop(log);
    trial.again(&chip, twice, RECOVERED_S + 1)?;
    trial.recover(cells, model, RECOVERED_S)
}

fn end(trial: &mut Trial<'_>, run: &mut Run) -> Check {
    let Some(log) = &mut run.log else { return Err("not mounted".to_owned()) };
    trial.verify(log.as_mut(), &run.model, false)?;
    let bytes = run.chip.with_bytes(<[u8]>::to_vec);
    trial.readers_agree(&bytes)?;
    trial.counts.blocks_opened += u64::from(log.facts().open) + 1;
    trial.counts.wraps += u64::from(log.facts().open) / run.chip.sectors() as u64;
    Ok(())
}

/// The same step fails, and the power stays.
fn faults(
    trial: &mut Trial<'_>,
    cut: Case,
    only: Option<&Case>,
    log: &dyn Log,
    model: &Model,
    entry: Entry,
) -> Result<(), Failed> {
    let Case::Cut { unit, workload, op, step, outcome } = cut else { return Ok(()) };
    for failure in [Failure::Reported, Failure::Silent] {
        let case = Case::Fault { unit, workload, op, step, outcome, failure };
        // A step that is done and says so did not fail.
        let fails = failure == Failure::Reported || outcome != Outcome::Done;
        if fails && only.is_none_or(|only| *only == case) {
            trial.counts.faults += 1;
            let cut = Cut { after: step as u64, outcome, failure };
            guarded(case, || fault(trial, log.fork(), model.clone(), entry, cut))?;
        }
    }
    Ok(())
}

/// The flash fails once while the power stays: the log goes on without a restart.
fn fault(
    trial: &mut Trial<'_>,
    mut log: Box<dyn Log>,
    mut model: Model,
    entry: Entry,
    cut: Cut,
) -> Check {
    let chip = log.chip();
    chip.veto(page::by_chance);
    chip.cut(cut);
    model.flaws += 1;
    let cuts = chip.counters().cuts;
    let noticed = model.append(log.as_mut(), entry).is_err();
    ensure!(chip.counters().cuts == cuts + 1, "no step failed");
    // What was silently left as it should be is no failure.
    ensure!(noticed || cut.failure == Failure::Silent, "the failure went unnoticed");
    let next = Entry::Mark { at_s: RECOVERED_S - 1, kind: MarkKind::Sanded };
    model.append(log.as_mut(), next).map_err(|error| format!("the entry behind: {error}"))?;
    let arrived = trial.verify(log.as_mut(), &model, false)?.len();
    let lost = usize::from(noticed) - arrived;
    ensure!(log.facts().lost == lost as u32, "{} lost, the log says {}", lost, log.facts().lost);
    drop(log);
    trial.recover(chip.cells(), &model, RECOVERED_S)
}
