//! `glueday export`: the tables against the log that they are made of, against readers of their formats
//! that are not ours, and against published figures.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::string_slice,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[path = "../reference_points/mod.rs"]
#[allow(dead_code, reason = "shared with the tests of the formulas, which use more of it")]
mod reference_points;

mod formats;
mod options;
mod python;
mod reference;
mod round_trip;
mod rows;
mod site;
