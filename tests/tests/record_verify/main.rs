//! A check of a record finds every change: of each byte, and of each thing that somebody could gain
//! by changing.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

mod bytes;
mod command;
mod edits;
mod forgeries;
mod hostile;
mod keys;
mod site;
mod web;
