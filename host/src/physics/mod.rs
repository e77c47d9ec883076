//! The physics of the trade: pure functions of numbers, with no file, clock or port.
//!
//! Temperatures are in °C, humidities in %RH **over liquid water**, as the probes report them, also
//! below freezing. Every function states its unit, source and valid range. A value outside that
//! range, NaN included, is an [`OutOfRange`] error that names it; inside, the result is a finite
//! number.

pub mod air;
mod air_state;
pub mod concrete;
pub mod floor;
#[cfg(test)]
mod properties;
mod range;
pub mod salt;
pub mod species;
pub mod wood;

pub use air_state::{AirState, air_state};
pub use range::{OutOfRange, Range};

/// 0 °C in kelvin; exact by definition of the Celsius scale.
pub(crate) const ZERO_CELSIUS_K: f64 = 273.15;
