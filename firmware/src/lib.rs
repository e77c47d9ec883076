//! The logger without its board: everything that decides, nothing that knows a pin.
//!
//! ```text
//!            time            bytes in / out
//!              |                  |
//!  probes -> [ sampler ]      [ link ]
//!              |   \          /   |
//!              |    [ logger ]    |
//!              |        |         |
//!              +--> [ ring log ] -+
//!                       |
//!                     flash
//! ```
//! A board gives a [`Probes`] implementation, a NOR flash, and as a [`Board`] the time, the bytes of
//! its line, its LED and its button; [`board::run`] does the rest. Nothing here allocates or panics,
//! every loop but that one has a bound, and only drivers wait, as long as their data sheets say.
#![no_std]

#[cfg(test)]
extern crate std;

pub mod board;
pub mod button;
mod fmt;
pub mod indicator;
pub mod key;
pub mod link;
pub mod logger;
#[cfg(feature = "drivers")]
pub mod nor;
pub mod part;
pub mod probes;
pub mod ring;
pub mod sampler;
pub mod ticks;

pub use board::{Board, Station};
pub use key::Key;
pub use link::Link;
pub use logger::{Logger, Settings};
pub use probes::{Probes, Readings};
pub use ring::{Boot, RingLog};
pub use sampler::Sampler;

/// The version of this firmware as major, minor, patch.
pub const VERSION: (u8, u8, u8) = (
    decimal(env!("CARGO_PKG_VERSION_MAJOR")),
    decimal(env!("CARGO_PKG_VERSION_MINOR")),
    decimal(env!("CARGO_PKG_VERSION_PATCH")),
);

/// Reads a decimal number at compile time; one over 255 does not compile.
const fn decimal(text: &str) -> u8 {
    let mut rest = text.as_bytes();
    let mut number = 0;
    while let [digit, behind @ ..] = rest {
        number = number * 10 + (*digit - b'0');
        rest = behind;
    }
    number
}
