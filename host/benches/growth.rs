//! How time and memory grow with the log: decoding and judging a log of one-minute readings of any
//! length. Each length is measured in a process of its own, so that the peak of its memory is its own.
//!
//! ```text
//! growth make SAMPLES FILE            writes the blocks of a log, one after the other
//! growth measure FILE                 prints what decoding and the verdict of gluing down took, as JSON
//! growth csv SAMPLES INTERVAL_S FILE  writes a log as CSV, for `import`
//! growth job LOGGER FILE              writes a job that is judged by such a log
//! ```

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a benchmark that cannot start may stop, and prints what it found"
)]

#[path = "../../tests/src/season.rs"]
#[allow(dead_code, unreachable_pub, reason = "shared with other benchmarks")]
mod season;

use glueday::assess::{Step, assess};
use glueday::history::build;
use glueday::job::Job;
use glueday::limits::Limits;
use glueday_types::BLOCK_LEN;
use std::time::{Duration, Instant};

/// A log is judged again until this long was spent, and twice at least: the least of all counts.
const PATIENCE: Duration = Duration::from_millis(500);

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments.as_slice() {
        ["make", samples, file] => {
            let (blocks, _) = season::blocks(samples.parse().unwrap(), 60, season::LOGGER);
            std::fs::write(file, blocks.concat()).unwrap();
        }
        ["measure", file] => measure(file),
        ["csv", samples, interval_s, file] => {
            let text = season::csv(samples.parse().unwrap(), interval_s.parse().unwrap());
            std::fs::write(file, text).unwrap();
        }
        ["job", logger, file] => std::fs::write(file, season::job(logger, "Bench", 3)).unwrap(),
        // So that `cargo bench` passes over it.
        _ => println!("growth: run by tests/benchmarks"),
    }
}

fn measure(file: &str) {
    let bytes = std::fs::read(file).unwrap();
    let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let start = Instant::now();
    let (mut decode, mut judge) = (Duration::MAX, Duration::MAX);
    let mut samples = 0;
    let mut rounds = 0;
    while rounds < 2 || start.elapsed() < PATIENCE {
        let begin = Instant::now();
        let history = build(bytes.chunks(BLOCK_LEN));
        decode = decode.min(begin.elapsed());
        samples = history.len();
        let at_s = *history.time_s.last().unwrap();
        let begin = Instant::now();
        let room = (&job.zones[0], &history);
        std::hint::black_box(assess(&job, &limits, &[room], Step::GlueDown, at_s));
        judge = judge.min(begin.elapsed());
        rounds += 1;
    }
    let answer = serde_json::json!({
        "samples": samples,
        "log_bytes": bytes.len(),
        "decode_s": decode.as_secs_f64(),
        "assess_s": judge.as_secs_f64(),
        "peak_kib": peak_kib(),
    });
    println!("{answer}");
}

/// The most memory that this process ever had, where the system says.
fn peak_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let peak = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    peak.trim().strip_suffix("kB")?.trim().parse().ok()
}
