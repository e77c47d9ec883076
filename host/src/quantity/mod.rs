//! Quantities as people write them, with the unit in the text: `"75 F"`, `"3/4 in"`, `"48 h"`.
//!
//! Each kind of quantity is a type of its own, so that a temperature difference is never offset by
//! 32 and a length is never taken for an altitude. Inside, every value is a finite `f64` in one fixed
//! unit, named by the accessor. A number without a unit is an error: the tool never guesses.
//!
//! Serialised, a quantity is that bare number; deserialised, it is text with a unit. The asymmetry is
//! meant: people write units, programs read fixed ones.

mod kinds;
mod parse;
mod show;

pub use kinds::{
    Altitude, Area, Length, Mass, MoistureContent, MoistureEmission, Pressure, RelativeHumidity,
    Temperature, TemperatureDifference, ThermalConductivity, ThermalResistance, TimeSpan,
};
pub use parse::{Quantity, QuantityError, Unit};
pub use show::Units;

#[cfg(test)]
mod tests;
