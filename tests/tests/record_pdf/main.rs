//! The record as a PDF file, looked at by other programs: Poppler's tools and qpdf.
//!
//! `tests/pdf-tools` installs them. No validator of PDF/A is used: there is none in Debian, PyPI or npm
//! that runs on its own. What is checked here of ISO 19005-3 is named at each test, from memory of the
//! standard's requirements.
// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss
)]

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod command;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod golden;
#[cfg(test)]
mod standard;
#[cfg(test)]
mod text;
#[cfg(test)]
mod tools;
