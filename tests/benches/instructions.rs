//! What `tests/instructions/run` counts the instructions of: each part of the work once, over small logs
//! that are always the same. Run without a counter it only says what there is.
//!
//! What is before and behind [`counted_part`] is not counted. The logs are small enough that nothing is
//! spread over threads.

// A benchmark may panic: that is how it fails.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout)]

use glueday::archive::{Archive, import_blocks};
use glueday::assess::{Assessment, Step, assess};
use glueday::history::{History, build};
use glueday::intake::read;
use glueday::job::Job;
use glueday::limits::{Limits, ResolvedLimits};
use glueday::plot::{Chart, Style, svg};
use glueday::pull::{Link, NoProgress};
use glueday_firmware::ring::{Boot, RingLog};
use glueday_tests::faulty_link::{FaultyLink, ToyLogger};
use glueday_tests::memory_flash::MemoryFlash;
use glueday_tests::season;
use glueday_types::{BootReason, Entry, LoggerId, Sample};
use std::hint::black_box;

/// 8 weeks of 10 minutes, as most jobs are.
const SAMPLES: u32 = 8_064;
/// 2 weeks, for what costs most with each sample.
const FEW: u32 = 2_016;
const INTERVAL_S: i64 = 600;
const NOW_S: i64 = 1_790_000_000;

/// Each part with its name.
const PARTS: [(&str, fn()); 7] = [
    ("csv", csv),
    ("encode", encode),
    ("decode", decode),
    ("assess", assess_glue_down),
    ("chart", chart),
    ("mount", mount),
    ("pull", pull),
];

fn main() {
    let wanted = std::env::args().nth(1);
    for (name, part) in PARTS {
        match &wanted {
            Some(wanted) if wanted == name => part(),
            Some(_) => {}
            None => println!("{name}"),
        }
    }
}

/// Counting begins and ends with this function.
#[inline(never)]
fn counted_part(work: &mut dyn FnMut()) {
    work();
    // Or the call would become a jump, and the counter not see the end of the function.
    black_box(());
}

fn csv() {
    let text = season::csv(SAMPLES, INTERVAL_S);
    let mapping = season::mapping();
    counted_part(&mut || {
        black_box(read(text.as_bytes(), "log.csv", &mapping).unwrap());
    });
}

fn encode() {
    let rows: Vec<_> = season::rows(SAMPLES, INTERVAL_S).collect();
    counted_part(&mut || {
        black_box(import_blocks(&rows, season::LOGGER).unwrap());
    });
}

fn decode() {
    let (blocks, _) = season::blocks(SAMPLES, INTERVAL_S, season::LOGGER);
    counted_part(&mut || {
        black_box(of(&blocks));
    });
}

fn assess_glue_down() {
    let judged = Judged::new(SAMPLES);
    counted_part(&mut || {
        black_box(judged.assess());
    });
}

/// A log, and what it is judged by.
struct Judged {
    job: Job,
    limits: ResolvedLimits,
    history: History,
    at_s: i64,
}

impl Judged {
    fn new(samples: u32) -> Self {
        let (blocks, at_s) = season::blocks(samples, INTERVAL_S, season::LOGGER);
        let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
        let limits = Limits::resolve(&job);
        let history = of(&blocks);
        assert_eq!(history.len(), samples as usize);
        Self { job, limits, history, at_s }
    }

    fn assess(&self) -> Assessment {
        let room = (&self.job.zones[0], &self.history);
        assess(&self.job, &self.limits, &[room], Step::GlueDown, self.at_s)
    }
}

fn of(blocks: &[Vec<u8>]) -> History {
    build(blocks.iter().map(Vec::as_slice))
}

/// As SVG: in pixels the libraries that fill and pack them would be most of the count.
fn chart() {
    let judged = Judged::new(FEW);
    let answer = judged.assess();
    let style = Style { width: 800, height: 800, dark: false };
    let span = (season::START_S, judged.at_s);
    counted_part(&mut || {
        let zone = (&answer, &answer.zones[0]);
        let chart = Chart::new(&judged.job, &judged.limits, &judged.history, zone, span, style);
        black_box(svg(&chart.unwrap()).unwrap());
    });
}

/// A log that has gone round its flash, as at each start of a logger.
fn mount() {
    const ID: LoggerId = season::LOGGER;
    const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };
    let mut flash = MemoryFlash::new(16);
    let mut ring = RingLog::mount(&mut flash, ID, 600, BOOT).unwrap();
    let mut i = 0;
    while ring.open_block() < 20 || ring.open_len() < 2048 {
        let row = season::row(i, INTERVAL_S);
        let at_s = u32::try_from(row.utc_s - season::START_S).unwrap();
        let (slab, air, air_rh, supply) = (row.slab, row.air, row.air_rh, row.supply);
        ring.append(&Entry::Sample(Sample { at_s, slab, air, air_rh, supply })).unwrap();
        i += 1;
    }
    counted_part(&mut || {
        black_box(RingLog::mount(&mut flash, ID, 600, BOOT).unwrap());
    });
}

/// The host's side with an archive in memory, and a simulated logger and line.
fn pull() {
    let mut logger = ToyLogger::new(*b"a-season", 500, 4);
    logger.sample(FEW, 5);
    let mut archive = Archive::in_memory().unwrap();
    let mut link = Link::new(FaultyLink::new(logger), 1);
    counted_part(&mut || {
        black_box(link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap());
    });
}
