//! Drawing the record of one room with twelve weeks at ten minutes: 12,096 readings of four channels
//! with noise. All of it: judging, files, pages.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot start may stop")]

use divan::Bencher;
use glueday::archive::{ImportRow, import_blocks};
use glueday::assess::Step;
use glueday::record::{Evidence, Log, html, pdf};
use glueday_types::{CentiCelsius, CentiPercent, LoggerId};

const LOGGER: LoggerId = LoggerId(*b"benchlog");
/// 2026-01-01T00:00Z.
const START_S: i64 = 1_767_225_600;
const SAMPLES: i64 = 12 * 7 * 144;

const JOB: &str = r#"
[site]
name = "Bench"
time-zone = "Europe/Berlin"
units = "metric"
[[room]]
name = "Hall"
logger = "bench"
area = "90 m2"
[concrete]
poured = 2025-11-01
thickness = "100 mm"
kind = "cement screed"
drying = "one side"
[milestones]
delivered = 2026-03-10T08:00
"#;

fn main() {
    divan::main();
}

fn evidence() -> Evidence {
    let mut state = 1_u64;
    let mut noise = |spread: i64| {
        // Knuth's MMIX generator.
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from(state >> 33).unwrap() % (2 * spread + 1) - spread
    };
    let rows: Vec<ImportRow> = (0..SAMPLES)
        .map(|i| {
            let mut celsius =
                |base, spread| Ok(CentiCelsius(i16::try_from(base + noise(spread)).unwrap()));
            let (slab, air, supply) = (celsius(2000, 6), celsius(2050, 15), celsius(2600, 30));
            let air_rh = Ok(CentiPercent(u16::try_from(4200 + noise(60)).unwrap()));
            let line = u64::try_from(i).unwrap() + 2;
            ImportRow { utc_s: START_S + i * 600, slab, air, air_rh, supply, line }
        })
        .collect();
    let log = Log {
        logger: LOGGER,
        name: Some("bench".to_owned()),
        public_key: None,
        blocks: import_blocks(&rows, LOGGER).unwrap().blocks,
        attestations: Vec::new(),
        original: None,
        other_copies: Vec::new(),
    };
    Evidence {
        program: "glueday bench".to_owned(),
        job_text: JOB.to_owned(),
        step: Step::GlueDown,
        at_s: START_S + SAMPLES * 600,
        rooms: Vec::new(),
        logs: vec![log],
    }
}

/// Pages of paper.
#[divan::bench]
fn twelve_weeks(bencher: Bencher<'_, '_>) {
    let evidence = evidence();
    print_size("PDF", pdf::draw(&evidence).unwrap().len());
    bencher.bench(|| pdf::draw(&evidence).unwrap());
}

/// The same as one web page.
#[divan::bench]
fn twelve_weeks_html(bencher: Bencher<'_, '_>) {
    let evidence = evidence();
    print_size("HTML", html::draw(&evidence).unwrap().len());
    bencher.bench(|| html::draw(&evidence).unwrap());
}

/// Beside the table of times, which is on standard output.
#[allow(clippy::print_stderr, reason = "the result of a benchmark")]
fn print_size(what: &str, bytes: usize) {
    eprintln!("{what}: {bytes} bytes");
}
