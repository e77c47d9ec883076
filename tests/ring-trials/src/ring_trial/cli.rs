//! `ring-trials`: one case once more, or very many seeds.

use super::{Case, Counts, Failed, Maker, replay, seeds};
use std::io::Write;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Instant;

const USAGE: &str = "\
ring-trials replay 'CASE'                    does one case once more, as a failure prints it
ring-trials seeds [--seeds N] [--from M] [--threads T]
                                             does N seeds (1000000) from M (0) on T threads (all)";

/// Seeds that a thread takes at a time.
const BATCH: u64 = 250;

/// The program, with its arguments; `out` gets what it says.
#[must_use]
pub fn main(maker: &Maker, args: &[String], out: &mut (dyn Write + Send)) -> ExitCode {
    let words: Vec<&str> = args.iter().map(String::as_str).collect();
    match run(maker, &words, out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(Ended::Usage(what)) => {
            let _ = writeln!(out, "ring-trials: {what}\n{USAGE}");
            ExitCode::from(2)
        }
        Err(Ended::Failed(failed)) => {
            let _ = writeln!(out, "{}: {failed}", maker.name);
            ExitCode::FAILURE
        }
    }
}

enum Ended {
    Usage(String),
    Failed(Failed),
}

fn run(maker: &Maker, words: &[&str], out: &mut (dyn Write + Send)) -> Result<(), Ended> {
    match words {
        ["replay", text] => {
            let case: Case = text.parse().map_err(|error| Ended::Usage(format!("{error}")))?;
            let counts = replay(maker, &case).map_err(Ended::Failed)?;
            let _ = writeln!(out, "{}: holds; {counts}", maker.name);
            Ok(())
        }
        ["seeds", options @ ..] => {
            let mut wanted = [("--seeds", 1_000_000), ("--from", 0), ("--threads", 0)];
            for pair in options.chunks(2) {
                let [name, value] = pair else { return Err(Ended::Usage(format!("{pair:?}"))) };
                let value = value.parse().map_err(|_| Ended::Usage(format!("{name} {value}")))?;
                let option = wanted.iter_mut().find(|(option, _)| option == name);
                option.ok_or_else(|| Ended::Usage((*name).to_owned()))?.1 = value;
            }
            let [(_, count), (_, from), (_, threads)] = wanted;
            let cores = std::thread::available_parallelism().map_or(1, usize::from);
            let threads = if threads == 0 { cores } else { threads as usize };
            let began = Instant::now();
            let counts = soak(maker, from, count, threads, out).map_err(Ended::Failed)?;
            let rate = count as f64 / began.elapsed().as_secs_f64();
            let _ = writeln!(out, "{}: holds; {counts}; {rate:.0} seeds a second", maker.name);
            Ok(())
        }
        _ => Err(Ended::Usage("which?".to_owned())),
    }
}

/// Does `count` seeds from `from` on, on so many threads.
fn soak(
    maker: &Maker,
    from: u64,
    count: u64,
    threads: usize,
    out: &mut (dyn Write + Send),
) -> Result<Counts, Failed> {
    let next = AtomicU64::new(0);
    let stop = AtomicBool::new(false);
    let began = Instant::now();
    let total = Mutex::new((Counts::default(), None::<Failed>, out));
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while !stop.load(Ordering::Relaxed) {
                    let at = next.fetch_add(BATCH, Ordering::Relaxed);
                    if at >= count {
                        break;
                    }
                    let result = seeds(maker, from + at..from + (at + BATCH).min(count));
                    let Ok(mut total) = total.lock() else { break };
                    match result {
                        Ok(counts) => total.0.add(&counts),
                        Err(failed) => {
                            stop.store(true, Ordering::Relaxed);
                            total.1.get_or_insert(failed);
                        }
                    }
                    let done = total.0.seeds;
                    if done.is_multiple_of(10_000) || done == count {
                        let rate = done as f64 / began.elapsed().as_secs_f64();
                        let left = (count - done) as f64 / rate;
                        let _ = writeln!(
                            total.2,
                            "{done} of {count} seeds, {rate:.0} a second, {left:.0} s to go"
                        );
                    }
                }
            });
        }
    });
    match total.into_inner() {
        Ok((counts, None, _)) => Ok(counts),
        Ok((_, Some(failed), _)) => Err(failed),
        Err(_) => Err(Failed { case: Case::Seed(from), why: "a thread panicked".into(), after: 0 }),
    }
}
