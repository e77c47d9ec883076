//! Simulators, models and end-to-end tests.

pub mod faulty_link;
pub mod flash;
pub mod programs;
pub mod wires;
