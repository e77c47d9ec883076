//! A simulated flash, and trials of the ring log on it.
//!
//! Apart from the other tests because it is compiled with optimisation: the trials mount the log some
//! hundred thousand times, and most other tests take longer to compile than to run.

pub mod flash;
// Trials may panic: a panic is a failed case. Their numbers are small.
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
pub mod ring_trial;

// What `ring_maker!` names, so that whoever calls it need not.
#[doc(hidden)]
pub use glueday_firmware::ring::{Boot, Error};
#[doc(hidden)]
pub use glueday_types::{Entry, LoggerId};
