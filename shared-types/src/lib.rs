//! What the logger and the host agree on.
#![no_std]

pub mod units;

pub use units::{Absent, CentiCelsius, CentiPercent, Reading};
