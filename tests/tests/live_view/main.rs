//! `live`: what it shows, over a real pty and a real TCP port with the desk logger, on a real terminal and
//! in a pipe, on slow lines and lost ones.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod lines;
#[cfg(test)]
mod place;
#[cfg(test)]
mod text;
