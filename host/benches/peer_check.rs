//! The check that `tests/peers` has other programs do as well, by this library; the figures are defined
//! in `tests/peers/reference.py`.
//!
//! ```text
//! peer_check make FILE            writes a year of one-minute readings
//! peer_check once WHAT FILE       prints what came of it, as JSON
//! peer_check serve WHAT FILE      the same again for each line that comes
//! ```
//!
//! WHAT is `figures`, or `product`: what the program itself does with such a file, from the CSV to the
//! verdict of gluing down.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    reason = "a benchmark that cannot start may stop, and prints what it found"
)]

#[path = "peer_check/figures.rs"]
mod figures;
#[path = "../../tests/src/season.rs"]
#[allow(dead_code, unreachable_pub, reason = "shared with other benchmarks")]
mod season;

use glueday::archive::{ImportRow, import_blocks};
use glueday::assess::{Step, assess};
use glueday::history::build;
use glueday::intake::{Row, read};
use glueday::job::Job;
use glueday::limits::Limits;
use serde_json::{Value, json};
use std::time::Instant;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments.as_slice() {
        ["make", file] => std::fs::write(file, season::csv(season::YEAR, 60)).unwrap(),
        ["once", what, file] => println!("{}", answer(what, file)),
        ["serve", what, file] => {
            for line in std::io::stdin().lines() {
                line.unwrap();
                println!("{}", answer(what, file));
            }
        }
        // So that `cargo bench` passes over it.
        _ => println!("peer_check: run by tests/peers/run"),
    }
}

/// Reads the file and does the work, timed from the outside of both.
fn answer(what: &str, file: &str) -> Value {
    let start = Instant::now();
    let bytes = std::fs::read(file).unwrap();
    let intake = read(&bytes, file, &season::mapping()).unwrap();
    let read_s = start.elapsed().as_secs_f64();
    let mut answer = match what {
        "figures" => json!({ "figures": figures::of(&intake.rows) }),
        "product" => product(&intake.rows),
        other => panic!("neither figures nor product: {other}"),
    };
    answer["seconds"] = start.elapsed().as_secs_f64().into();
    answer["read_seconds"] = read_s.into();
    answer
}

/// The verdict at the last reading, from blocks as they stand in an archive.
fn product(rows: &[Row]) -> Value {
    let start = Instant::now();
    let rows: Vec<ImportRow> = rows
        .iter()
        .map(|&Row { utc_s, slab, air, air_rh, supply, line }| ImportRow {
            utc_s,
            slab,
            air,
            air_rh,
            supply,
            line,
        })
        .collect();
    let blocks = import_blocks(&rows, season::LOGGER).unwrap().blocks;
    let encode_s = start.elapsed().as_secs_f64();
    let job = Job::parse(&season::job("x", "Bench", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let start = Instant::now();
    let history = build(blocks.iter().map(Vec::as_slice));
    let decode_s = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let room = (job.zones.first().unwrap(), &history);
    let at_s = *history.time_s.last().unwrap();
    let assessment = assess(&job, &limits, &[room], Step::GlueDown, at_s);
    json!({
        "samples": history.len(),
        "go": assessment.zones.iter().all(|zone| zone.is_go()),
        "encode_seconds": encode_s,
        "decode_seconds": decode_s,
        "assess_seconds": start.elapsed().as_secs_f64(),
    })
}
