//! Simulators, models and end-to-end tests.

pub mod command_line;
#[cfg(unix)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#[allow(clippy::cast_possible_truncation)]
pub mod emulator;
pub mod faulty_link;
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
pub mod fuzzing;
pub mod hostile_record;
pub mod log;
pub mod memory_flash;
pub mod nor_chip;
pub mod programs;
pub mod season;
pub mod small_record;
pub mod wires;

pub use glueday_ring_trials::flash;
