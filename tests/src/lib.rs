//! Simulators, models and end-to-end tests.

#[cfg(unix)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#[allow(clippy::cast_possible_truncation)]
pub mod emulator;
pub mod faulty_link;
pub mod flash;
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
pub mod fuzzing;
pub mod log;
pub mod nor_chip;
pub mod programs;
pub mod wires;
