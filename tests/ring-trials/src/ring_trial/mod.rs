//! Trials of the ring log: the power fails at every step, twice in a row, at random a million times;
//! the flash rots. After every remount an oracle says whether the log is as it must be.
//!
//! What a log must be after a remount (`oracle.rs`):
//! - what was acknowledged is there, exact, under its number, in order, but for what the ring has
//!   overwritten; what was being written when the power failed is there as a whole or not at all;
//!   nothing else is there, and numbers and boots have no gap;
//! - each block names the digest of the one before, and the boot, interval and number that hold;
//! - mounting once more repairs nothing and changes nothing but to write its own boot entry; the next
//!   entry is written, and survives one more mount;
//! - mounting reads no more than `oracle::mount_bound` says, and no rule of the flash is broken.
//!
//! The oracle reads the flash with a reader of its own (`page.rs`), and knows what was acknowledged
//! from a list (`model.rs`); it asks the log for nothing but what it also checks.
//!
//! Each case has a text ([`Case`]) by which `ring-trials replay` does that case alone once more.
//! Campaigns take any [`Log`], so that deliberate bugs can be tried as well (`tests/ring-mutants`).
//!
//! Left out: random bytes pass the CRC-16 of an entry once in 65,536 times. Where what is left of an
//! entry does so by itself, the outcome is counted ([`Counts::by_chance`]) and another takes its place.

mod body;
mod case;
mod cli;
mod cost;
mod counts;
mod cuts;
mod head;
mod images;
mod log;
mod model;
mod oracle;
mod page;
mod pairs;
mod rot;
mod run;
mod seeds;
mod workload;

pub use case::{Case, Failed, NotACase, Then};
pub use cli::main;
pub use cost::{Cost, cost};
pub use counts::Counts;
pub use cuts::depth_one;
pub use images::images;
pub use log::{Facts, Log, Maker, Mount, real};
pub use pairs::depth_two;
pub use rot::flips;
pub use seeds::seeds;

use oracle::Trial;

/// Does one case once more.
///
/// # Errors
/// It fails, or there is no such case.
pub fn replay(maker: &Maker, case: &Case) -> Result<Counts, Failed> {
    let counts = match case {
        Case::Cut { unit, workload, .. } | Case::Fault { unit, workload, .. } => {
            let mut counts = cuts::run(maker, *unit, &[*workload], Some(case))?;
            // The workloads for two cuts go on after the first.
            if workload::is_paired(workload) {
                counts.add(&pairs::run(maker, *unit, &[*workload], Some(case))?);
            }
            counts
        }
        Case::Pair { unit, workload, .. } => pairs::run(maker, *unit, &[*workload], Some(case))?,
        Case::Seed(seed) => seeds(maker, *seed..seed + 1)?,
        Case::Flip(bit) => flips(maker, *bit..bit + 1)?,
        Case::Image(number) => images(maker, *number..number + 1)?,
    };
    if counts.cases() == 0 {
        return Err(Failed { case: *case, why: "there is no such case".into(), after: 0 });
    }
    Ok(counts)
}

/// A check that holds, or why it does not.
type Check<T = ()> = Result<T, String>;

/// Ends with a text unless a condition holds.
macro_rules! ensure {
    ($condition:expr, $($text:tt)+) => {
        if !$condition {
            return Err(format!($($text)+));
        }
    };
}
use ensure;

/// Does `check`, taking a panic for a failure, and names the case when it fails.
fn guarded<T>(case: Case, check: impl FnOnce() -> Check<T>) -> Result<T, Failed> {
    let outcome = std::panic::catch_unwind(std::panic::AssertUnwindSafe(check));
    let result = outcome.unwrap_or_else(|panic| {
        let text = panic.downcast_ref::<String>().map(String::as_str);
        let text = text.or_else(|| panic.downcast_ref::<&str>().copied());
        Err(format!("panicked: {}", text.unwrap_or("without a text")))
    });
    result.map_err(|why| Failed { case, why: why.into(), after: 0 })
}

/// Does a campaign to its end or to the first case that fails.
fn campaign<'m>(
    maker: &'m Maker,
    run: impl FnOnce(&mut Trial<'m>) -> Result<(), Failed>,
) -> Result<Counts, Failed> {
    let mut trial = Trial::new(maker);
    match run(&mut trial) {
        Ok(()) => Ok(trial.counts),
        Err(failed) => Err(Failed { after: trial.counts.cases(), ..failed }),
    }
}
