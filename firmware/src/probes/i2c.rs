//! Probes on an I2C bus, through the driver crates of their sensors.

use super::convert::{
    bus_reason, celsius_from_milli, celsius_from_sixteenths, humidity_from_milli,
};
use super::{Hygrometer, Thermometer};
use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::I2c;
use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};
use sht4x::{Precision, Sht4x};

/// Air temperature and humidity. Measuring range -40 to 125 °C and 0 to 100 % (data sheet, from
/// memory).
#[derive(Debug)]
pub struct Sht4xProbe<I2C, D> {
    sensor: Sht4x<I2C, D>,
    delay: D,
}

impl<I2C: I2c, D: DelayNs> Sht4xProbe<I2C, D> {
    /// A sensor at the usual address 0x44.
    pub fn new(i2c: I2C, delay: D) -> Self {
        Self { sensor: Sht4x::new(i2c), delay }
    }

    /// Gives the bus back.
    pub fn release(self) -> I2C {
        self.sensor.destroy()
    }
}

impl<I2C: I2c, D: DelayNs> Hygrometer for Sht4xProbe<I2C, D> {
    fn air(&mut self) -> (Reading<CentiCelsius>, Reading<CentiPercent>) {
        match self.sensor.measure(Precision::High, &mut self.delay) {
            Ok(measured) => (
                celsius_from_milli(measured.temperature_milli_celsius(), -40..=125),
                humidity_from_milli(measured.humidity_milli_percent()),
            ),
            Err(error) => {
                let reason = match error {
                    sht4x::Error::I2c(error) => bus_reason(&error),
                    sht4x::Error::Crc => Absent::BadChecksum,
                    // The enum may grow; what it does not say yet is not the sensor's answer.
                    _ => Absent::BusFault,
                };
                (Err(reason), Err(reason))
            }
        }
    }
}

/// A temperature in steps of 1/16 °C, from a sensor with the registers of the TMP75 or TMP105: for
/// slab and supply. Measuring range -40 to 125 °C (data sheet, from memory).
///
/// Our own, because the `lm75` crate reads 9 and 11 bits and drops the last of the 12.
#[derive(Debug)]
pub struct Tmp75Probe<I2C, D> {
    i2c: I2C,
    address: u8,
    delay: D,
}

impl<I2C: I2c, D: DelayNs> Tmp75Probe<I2C, D> {
    const TEMPERATURE: u8 = 0;
    const CONFIGURATION: u8 = 1;
    /// 12 bits, measuring all the time. After power-up the register is 0: 9 bits.
    const TWELVE_BITS: u8 = 0x60;
    /// A conversion of 12 bits takes so long at most (data sheet, from memory).
    const CONVERSION_MS: u32 = 300;

    /// A sensor at `address` (0x48 to 0x4F).
    pub fn new(i2c: I2C, address: u8, delay: D) -> Self {
        Self { i2c, address, delay }
    }

    /// Gives the bus back.
    pub fn release(self) -> I2C {
        self.i2c
    }

    fn sixteenths(&mut self) -> Result<i16, I2C::Error> {
        let mut configuration = [0];
        self.i2c.write_read(self.address, &[Self::CONFIGURATION], &mut configuration)?;
        // The top bit starts a single conversion and means nothing when it is read.
        let [configuration] = configuration.map(|byte| byte & 0x7F);
        if configuration != Self::TWELVE_BITS {
            // New to us, or back from a loss of power: until it has measured, it reads 0 °C.
            self.i2c.write(self.address, &[Self::CONFIGURATION, Self::TWELVE_BITS])?;
            self.delay.delay_ms(Self::CONVERSION_MS);
        }
        let mut temperature = [0; 2];
        self.i2c.write_read(self.address, &[Self::TEMPERATURE], &mut temperature)?;
        Ok(i16::from_be_bytes(temperature) >> 4)
    }
}

impl<I2C: I2c, D: DelayNs> Thermometer for Tmp75Probe<I2C, D> {
    fn temperature(&mut self) -> Reading<CentiCelsius> {
        self.sixteenths()
            .map_err(|error| bus_reason(&error))
            .and_then(|sixteenths| celsius_from_sixteenths(sixteenths, -40..=125))
    }
}

#[cfg(all(test, feature = "more-thermometers"))]
mod tests;
