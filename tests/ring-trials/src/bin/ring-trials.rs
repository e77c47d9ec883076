//! Trials of the ring log, for as long as one wants: `ring-trials seeds`, and one case once more:
//! `ring-trials replay`.

use glueday_ring_trials::ring_trial;
use std::process::ExitCode;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    ring_trial::main(&ring_trial::real(), &args, &mut std::io::stdout())
}
