//! Two cuts: the second at every step of the mount after the first, and of the workload that goes on.

use super::cuts::{RECOVERED_S, tear};
use super::model::Model;
use super::oracle::Trial;
use super::run::{Run, cut_in};
use super::workload::{self, Op};
use super::{Case, Check, Counts, Failed, Maker, Then, campaign, guarded};
use crate::flash::{Cells, Chip, Outcome};
use std::collections::HashSet;

/// Does every pair of cuts of the workloads for it on a flash with this write unit, or only of those
/// that are named.
///
/// # Errors
/// The first case that fails.
pub fn depth_two(maker: &Maker, unit: usize, names: Option<&[&str]>) -> Result<Counts, Failed> {
    let all: Vec<&str> = workload::PAIRED.iter().map(|workload| workload.name).collect();
    run(maker, unit, names.unwrap_or(&all), None)
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
        for (index, op) in ops.iter().enumerate() {
            let before = run.chip.cells();
            let model = run.model.clone();
            run.chip.record();
            guarded(place(index, 0, Outcome::Nothing), || run.perform(maker, *op))?;
            let deeds = run.chip.recorded();
            let Some(model) = cut_in(&model, *op) else { continue };
            for torn in tear(&before, &deeds, index as u64) {
                trial.counts.by_chance += u64::from(torn.by_chance);
                let case = place(index, torn.step, torn.outcome);
                if torn.alike && only.is_none() {
                    continue;
                }
                let first = First { case, cells: torn.cells, model: model.clone(), op: index };
                second(trial, &first, &ops, only)?;
            }
        }
    }
    Ok(())
}

/// The first cut, and what it left.
struct First {
    case: Case,
    cells: Cells,
    model: Model,
    op: usize,
}

/// Goes on after the first cut, and cuts every step of that.
fn second(
    trial: &mut Trial<'_>,
    first: &First,
    ops: &[Op],
    only: Option<&Case>,
) -> Result<(), Failed> {
    if only.is_some_and(|only| *only != first.case && !begins_with(only, &first.case)) {
        return Ok(());
    }
    let chip = Chip::new(first.cells.clone());
    let mut run = Run { chip, log: None, model: first.model.clone() };
    let mut then = Then::Mount;
    let mut op = Op::Restart { at_s: RECOVERED_S - 100_000_000 };
    let mut rest = ops.iter().enumerate().skip(first.op + 1);
    loop {
        let before = run.chip.cells();
        let model = run.model.clone();
        run.chip.record();
        guarded(first.case, || run.perform(trial.maker, op))?;
        let deeds = run.chip.recorded();
        if let Some(model) = cut_in(&model, op) {
            cut_again(trial, first, &before, &deeds, then, &model, only)?;
        }
        let Some((index, next)) = rest.next() else { break };
        (then, op) = (Then::Op(index), *next);
    }
    guarded(first.case, || went_well(trial, &mut run))
}

fn cut_again(
    trial: &mut Trial<'_>,
    first: &First,
    before: &Cells,
    deeds: &[crate::flash::Deed],
    then: Then,
    model: &Model,
    only: Option<&Case>,
) -> Result<(), Failed> {
    // What was written is the same for all of these: only the flash may differ.
    let mut seen = HashSet::new();
    for torn in tear(before, deeds, 0x5555) {
        let case = pair(&first.case, then, torn.step, torn.outcome);
        if only.is_some_and(|only| *only != case) {
            continue;
        }
        trial.counts.pairs += 1;
        trial.counts.pairs_going_on += u64::from(then != Then::Mount);
        trial.counts.by_chance += u64::from(torn.by_chance);
        if !seen.insert(torn.cells.fingerprint()) && only.is_none() {
            trial.counts.pairs_alike += 1;
            continue;
        }
        guarded(case, || trial.recover(torn.cells, model, RECOVERED_S))?;
    }
    Ok(())
}

/// The workload went on to its end after the first cut.
fn went_well(trial: &mut Trial<'_>, run: &mut Run) -> Check {
    let Some(log) = &mut run.log else { return Err("not mounted".to_owned()) };
    trial.verify(log.as_mut(), &run.model, false).map(drop)
}

fn pair(first: &Case, then: Then, then_step: usize, then_outcome: Outcome) -> Case {
    match *first {
        Case::Cut { unit, workload, op, step, outcome } => {
            Case::Pair { unit, workload, op, step, outcome, then, then_step, then_outcome }
        }
        other => other,
    }
}

fn begins_with(case: &Case, first: &Case) -> bool {
    match case {
        Case::Pair { then, then_step, then_outcome, .. } => {
            pair(first, *then, *then_step, *then_outcome) == *case
        }
        _ => false,
    }
}
