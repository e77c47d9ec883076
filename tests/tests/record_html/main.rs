//! The record as a web page, looked at by a real browser at the width of a phone and of a screen.
//!
//! `tests/browser` installs it.
// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation
)]

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod browser;
#[cfg(test)]
mod command;
#[cfg(test)]
mod looks;
#[cfg(test)]
mod markup;
#[cfg(test)]
mod says;
#[cfg(test)]
mod scenes;
