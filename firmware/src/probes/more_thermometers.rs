//! Thermometers on an I2C bus that none of our boards carries, through the driver crates of their
//! sensors.

use super::Thermometer;
use super::convert::{bus_reason, celsius_from_float};
use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::I2c;
use glueday_types::{Absent, CentiCelsius, Reading};
use lm75::{Lm75, ic};
use tmp117::Tmp117;
use tmp117::register::Average;

/// A temperature, finely resolved: for the slab. Measuring range -55 to 150 °C (data sheet, from
/// memory).
pub struct Tmp117Probe<I2C: I2c, D> {
    sensor: Tmp117<I2C, I2C::Error, D>,
}

impl<I2C: I2c, D: DelayNs> Tmp117Probe<I2C, D> {
    /// A sensor at `address` (0x48 to 0x4B).
    pub fn new(i2c: I2C, address: u8, delay: D) -> Self {
        Self { sensor: Tmp117::new(i2c, address, delay) }
    }
}

impl<I2C: I2c, D: DelayNs> Thermometer for Tmp117Probe<I2C, D> {
    fn temperature(&mut self) -> Reading<CentiCelsius> {
        // Eight conversions in 125 ms: noise well under a hundredth.
        self.sensor
            .oneshot(Average::Avg8)
            .map_err(|error| match error {
                tmp117::Error::Bus(error) => bus_reason(&error),
                tmp117::Error::Timeout | tmp117::Error::DataNotReady => Absent::NoAnswer,
                tmp117::Error::InvalidData | tmp117::Error::AlertPin => Absent::OutOfRange,
            })
            .and_then(|celsius| celsius_from_float(celsius, -55..=150))
    }
}

/// A temperature in steps of 0.5 °C: for the supply pipe. Measuring range -55 to 125 °C (data sheet,
/// from memory).
pub struct Lm75Probe<I2C> {
    sensor: Lm75<I2C, ic::Lm75>,
}

impl<I2C: I2c> Lm75Probe<I2C> {
    /// A sensor at `address` (0x48 to 0x4F).
    pub fn new(i2c: I2C, address: u8) -> Self {
        Self { sensor: Lm75::new(i2c, address) }
    }

    /// Gives the bus back.
    pub fn release(self) -> I2C {
        self.sensor.destroy()
    }
}

impl<I2C: I2c> Thermometer for Lm75Probe<I2C> {
    fn temperature(&mut self) -> Reading<CentiCelsius> {
        self.sensor
            .read_temperature()
            .map_err(|error| match error {
                lm75::Error::I2C(error) => bus_reason(&error),
                lm75::Error::InvalidInputData => Absent::OutOfRange,
            })
            .and_then(|celsius| celsius_from_float(celsius, -55..=125))
    }
}
