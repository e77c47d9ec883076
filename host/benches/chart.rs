//! A chart of 500,000 samples of all four channels, about a year of one-minute readings.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a benchmark that cannot start may stop"
)]

use divan::Bencher;
use divan::counter::ItemsCount;
use glueday::assess::{Assessment, Step, assess};
use glueday::history::History;
use glueday::job::Job;
use glueday::limits::{Limits, ResolvedLimits};
use glueday::plot::{Chart, Course, Sheet, Style, png, svg, terminal};
use glueday_types::{CentiCelsius, CentiPercent};

const SAMPLES: u32 = 500_000;
const START_S: i64 = 1_772_434_800;
const END_S: i64 = START_S + SAMPLES as i64 * 60;

fn main() {
    divan::main();
}

/// All that a chart is drawn from.
struct Shot {
    job: Job,
    limits: ResolvedLimits,
    history: History,
    assessment: Assessment,
}

impl Shot {
    fn new() -> Self {
        let text = "[site]\nname = \"Bench\"\ntime-zone = \"America/Denver\"\nunits = \"us\"\n\
             [[room]]\nname = \"Hall\"\n[concrete]\npoured = 2026-01-12\n\
             [adhesive]\nproduct = \"floor adhesive\"\n";
        let job = Job::parse(text, "job.toml").map_err(|errors| errors.to_string()).unwrap();
        let history = year();
        let limits = Limits::resolve(&job);
        let assessment = assess(&job, &limits, &[(&job.zones[0], &history)], Step::GlueDown, END_S);
        Self { job, limits, history, assessment }
    }

    fn chart(&self, style: Style) -> Chart<'_> {
        let judged = (&self.assessment, &self.assessment.zones[0]);
        Chart::new(&self.job, &self.limits, &self.history, judged, (START_S, END_S), style).unwrap()
    }

    fn course(&self) -> Course {
        let zone = (&self.job.zones[0], &self.history);
        let asked = (Step::GlueDown, END_S);
        Course::judge(&self.job, &self.limits, zone, asked, (START_S, END_S))
    }
}

/// Days, seasons and noise.
fn year() -> History {
    let mut history = History::default();
    for i in 0..SAMPLES {
        let noise = f64::from(2_654_435_761_u32.wrapping_mul(i) >> 24) / 256.0 - 0.5;
        let day = (f64::from(i) / 1440.0 * std::f64::consts::TAU).sin();
        let celsius = |c: f64| Ok(CentiCelsius::from_celsius(c).unwrap());
        history.time_s.push(START_S + i64::from(i) * 60);
        history.interval_s.push(60);
        history.slab.push(celsius(19.5 + day + 0.2 * noise));
        history.air.push(celsius(20.0 + 1.5 * day + 0.4 * noise));
        history
            .air_rh
            .push(Ok(CentiPercent::from_percent(44.0 - 4.0 * day + 2.0 * noise).unwrap()));
        history.supply.push(celsius(27.0 + 2.0 * noise));
    }
    history
}

#[divan::bench(sample_count = 5)]
fn png_1400x1100(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    let style = Style { width: 1400, height: 1100, dark: false };
    bencher.counter(ItemsCount::new(SAMPLES)).bench(|| png(&shot.chart(style)).unwrap().len());
}

#[divan::bench(sample_count = 5)]
fn png_a4(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    let style = Style { width: 2480, height: 3508, dark: false };
    bencher.counter(ItemsCount::new(SAMPLES)).bench(|| png(&shot.chart(style)).unwrap().len());
}

#[divan::bench(sample_count = 5)]
fn svg_1400x1100(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    let style = Style { width: 1400, height: 1100, dark: false };
    bencher.counter(ItemsCount::new(SAMPLES)).bench(|| svg(&shot.chart(style)).unwrap().len());
}

#[divan::bench(sample_count = 5)]
fn terminal_120(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    let sheet = Sheet { columns: 120, ascii: false };
    bencher
        .counter(ItemsCount::new(SAMPLES))
        .bench(|| terminal(&shot.chart(Style::default()), sheet).len());
}

/// The strips: each requirement judged at many times.
#[divan::bench(sample_count = 3)]
fn course(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    bencher.counter(ItemsCount::new(SAMPLES)).bench(|| shot.course());
}

/// Picture and strips, as `plot` makes them.
#[divan::bench(sample_count = 3)]
fn png_with_course(bencher: Bencher<'_, '_>) {
    let shot = Shot::new();
    let style = Style { width: 1400, height: 1100, dark: false };
    bencher.counter(ItemsCount::new(SAMPLES)).bench(|| {
        let course = shot.course();
        png(&shot.chart(style).with_course(&course)).unwrap().len()
    });
}
