//! Simulators, models and end-to-end tests.

pub mod flash;
