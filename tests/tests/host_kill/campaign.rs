//! Numbered cases, each of which can be repeated by itself.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

/// Names the one case to run.
const CASE_ENV: &str = "GLUEDAY_CASE";

/// Runs cases from 0 on until `case` says that it is enough, at most `max` of them. Returns whether
/// all of them ran: floors do not hold for a single one.
pub(crate) fn cases(test: &str, max: u64, mut case: impl FnMut(u64) -> bool) -> bool {
    let only = std::env::var(CASE_ENV).ok().map(|text| text.parse::<u64>().unwrap());
    let numbers = only.map_or(0..max, |only| only..only + 1);
    for number in numbers {
        match catch_unwind(AssertUnwindSafe(|| case(number))) {
            Ok(true) => break,
            Ok(false) => {}
            Err(panic) => {
                println!(
                    "replay: {CASE_ENV}={number} cargo test -p glueday-tests --test host_kill {test} \
                     -- --nocapture"
                );
                resume_unwind(panic);
            }
        }
    }
    only.is_none()
}
