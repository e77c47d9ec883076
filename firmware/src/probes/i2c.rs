//! Probes on an I2C bus.

use super::convert::{bus_reason, celsius_from_sixteenths, celsius_from_word, humidity_from_word};
use super::{Hygrometer, Thermometer};
use embedded_hal::delay::DelayNs;
use embedded_hal::i2c::I2c;
use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};
use sensirion_i2c::i2c::{Error, read_words_with_crc, write_command_u8};

/// Air temperature and humidity, from a sensor of the SHT4x family. Measuring range -40 to 125 °C and 0
/// to 100 % (data sheet, from memory).
///
/// Commands and checks by the crate of the sensor's maker; the rest our own, because the `sht4x` crate
/// has a library of fixed-point numbers built for two divisions, which takes longer than all of ours.
#[derive(Debug)]
pub struct Sht4xProbe<I2C, D> {
    i2c: I2C,
    delay: D,
}

impl<I2C: I2c, D: DelayNs> Sht4xProbe<I2C, D> {
    const ADDRESS: u8 = 0x44;
    /// Both, as precise as can be.
    const MEASURE: u8 = 0xFD;
    /// Measuring so takes 8.3 ms at most (data sheet, from memory).
    const MEASURING_MS: u32 = 9;

    /// A sensor at the usual address 0x44.
    pub fn new(i2c: I2C, delay: D) -> Self {
        Self { i2c, delay }
    }

    /// Gives the bus back.
    pub fn release(self) -> I2C {
        self.i2c
    }

    /// The raw words of temperature and humidity.
    fn words(&mut self) -> Result<[u16; 2], Absent> {
        write_command_u8(&mut self.i2c, Self::ADDRESS, Self::MEASURE)
            .map_err(|error| bus_reason(&error))?;
        self.delay.delay_ms(Self::MEASURING_MS);
        let mut answer = [0; 6];
        read_words_with_crc(&mut self.i2c, Self::ADDRESS, &mut answer).map_err(
            |error: Error<I2C>| match error {
                Error::I2cWrite(error) | Error::I2cRead(error) => bus_reason(&error),
                Error::Crc => Absent::BadChecksum,
            },
        )?;
        let [t_high, t_low, _, rh_high, rh_low, _] = answer;
        Ok([u16::from_be_bytes([t_high, t_low]), u16::from_be_bytes([rh_high, rh_low])])
    }
}

impl<I2C: I2c, D: DelayNs> Hygrometer for Sht4xProbe<I2C, D> {
    fn air(&mut self) -> (Reading<CentiCelsius>, Reading<CentiPercent>) {
        match self.words() {
            Ok([t, rh]) => (celsius_from_word(t, -40..=125), Ok(humidity_from_word(rh))),
            Err(reason) => (Err(reason), Err(reason)),
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
