//! The host side loses nothing: the real program, against a real logger on the desk and with real
//! files, is killed at random points, runs out of room, may not write, and is not alone.
//!
//! Each campaign prints what it counted, has floors under its counts, and prints one command that
//! repeats the case that failed.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    clippy::print_stdout,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

mod adopt;
mod campaign;
mod desk;
mod disk_full;
mod held;
mod import;
mod outputs;
mod probe_check;
mod pull;
mod read_only;
mod refused;
mod run;
mod small_disk;
mod together;
