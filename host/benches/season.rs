//! A year of one-minute readings, 525,600 of all four channels: from CSV to blocks, from blocks to
//! columns, from columns to a verdict for each step; and 8 weeks at 10 minutes, as most jobs are.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a benchmark that cannot start may stop"
)]

#[path = "../../tests/src/season.rs"]
#[allow(dead_code, unreachable_pub, reason = "shared with other benchmarks")]
mod season;

use divan::Bencher;
use divan::counter::ItemsCount;
use glueday::archive::import_blocks;
use glueday::assess::{Step, assess};
use glueday::history::{History, build};
use glueday::intake::read;
use glueday::job::Job;
use glueday::limits::Limits;

/// Samples and interval of a year of minutes, and of 8 weeks of 10 minutes.
const LOGS: [(u32, i64); 2] = [(season::YEAR, 60), (8_064, 600)];

fn main() {
    divan::main();
}

fn of(blocks: &[Vec<u8>]) -> History {
    build(blocks.iter().map(Vec::as_slice))
}

#[divan::bench(args = LOGS, sample_count = 20)]
fn import_csv(bencher: Bencher<'_, '_>, (samples, interval_s): (u32, i64)) {
    let text = season::csv(samples, interval_s);
    let mapping = season::mapping();
    bencher.counter(ItemsCount::new(samples)).bench(|| {
        let intake = read(text.as_bytes(), "year.csv", &mapping).unwrap();
        assert_eq!(intake.rows.len(), samples as usize);
        intake
    });
}

#[divan::bench(args = LOGS, sample_count = 20)]
fn encode(bencher: Bencher<'_, '_>, (samples, interval_s): (u32, i64)) {
    let rows: Vec<_> = season::rows(samples, interval_s).collect();
    bencher
        .counter(ItemsCount::new(samples))
        .bench(|| import_blocks(&rows, season::LOGGER).unwrap());
}

#[divan::bench(args = LOGS, sample_count = 20)]
fn decode(bencher: Bencher<'_, '_>, (samples, interval_s): (u32, i64)) {
    let (blocks, _) = season::blocks(samples, interval_s, season::LOGGER);
    assert_eq!(of(&blocks).len(), samples as usize);
    bencher.counter(ItemsCount::new(samples)).bench(|| of(&blocks));
}

/// Each step in turn: the step, and a log.
fn steps() -> impl Iterator<Item = (&'static str, u32, i64)> {
    LOGS.into_iter().flat_map(|(samples, interval_s)| {
        Step::ALL.into_iter().map(move |step| (step.as_str(), samples, interval_s))
    })
}

/// Each time of a history of its own: what it knows of its stretches is found at the first question.
#[divan::bench(args = steps(), sample_count = 20)]
fn assess_step(bencher: Bencher<'_, '_>, (step, samples, interval_s): (&str, u32, i64)) {
    let (blocks, at_s) = season::blocks(samples, interval_s, season::LOGGER);
    let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let step = Step::from_name(step).unwrap();
    bencher
        .counter(ItemsCount::new(samples))
        .with_inputs(|| of(&blocks))
        .bench_refs(|history| assess(&job, &limits, &[(&job.zones[0], history)], step, at_s));
}

/// What the verdict on gluing down costs from the archive on.
#[divan::bench(args = LOGS, sample_count = 20)]
fn decode_and_assess(bencher: Bencher<'_, '_>, (samples, interval_s): (u32, i64)) {
    let (blocks, at_s) = season::blocks(samples, interval_s, season::LOGGER);
    let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    bencher.counter(ItemsCount::new(samples)).bench(|| {
        let history = of(&blocks);
        assess(&job, &limits, &[(&job.zones[0], &history)], Step::GlueDown, at_s)
    });
}

/// The same for all six steps.
#[divan::bench(args = LOGS, sample_count = 20)]
fn decode_and_assess_all(bencher: Bencher<'_, '_>, (samples, interval_s): (u32, i64)) {
    let (blocks, at_s) = season::blocks(samples, interval_s, season::LOGGER);
    let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    bencher.counter(ItemsCount::new(samples)).bench(|| {
        let history = of(&blocks);
        Step::ALL.map(|step| assess(&job, &limits, &[(&job.zones[0], &history)], step, at_s))
    });
}
