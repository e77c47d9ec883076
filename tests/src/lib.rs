//! Simulators, models and end-to-end tests.

pub mod command_line;
#[cfg(unix)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#[allow(clippy::cast_possible_truncation)]
pub mod emulator;
pub mod faulty_link;
pub mod flash;
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
pub mod fuzzing;
pub mod hostile_record;
pub mod log;
pub mod memory_flash;
pub mod nor_chip;
pub mod programs;
pub mod season;
pub mod small_record;
// Trials may panic: a panic is a failed case. Their numbers are small.
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
pub mod ring_trial;
pub mod wires;

// What `ring_maker!` names, so that whoever calls it need not.
#[doc(hidden)]
pub use glueday_firmware::ring::{Boot, Error};
#[doc(hidden)]
pub use glueday_types::{Entry, LoggerId};
