//! Flaky probes, restarts, wrong clocks and lost blocks through the whole program: no verdict turns to
//! go because data went missing.
// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout)]

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod campaign;
#[cfg(test)]
mod flakes;
#[cfg(test)]
#[allow(dead_code)]
#[path = "../assess_monotonic/flaws.rs"]
mod flaws;
#[cfg(all(test, unix))]
mod programs;
#[cfg(test)]
mod site;
#[cfg(test)]
mod truths;
