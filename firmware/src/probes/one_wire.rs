//! Temperature probes on 1-Wire, for long cables to the slab and to the pipe: sensors with the
//! registers of the DS18B20, one on a pin, fed with their own supply wire.
//!
//! Our own, because the crate at hand (`onewire` 0.4.0) takes a line that is shorted to ground for a
//! sensor with 0.00 °C: the low line looks like presence, and nine zeros pass the CRC. It also takes
//! a missing sensor for a present one, and samples 5 µs into the slot, before the line of a long
//! cable is up.
//!
//! Times are those of the sensor's data sheet, from memory. An interrupt that takes longer than some
//! microseconds spoils a slot. What it spoils is found: in commands by their effect, in answers by the
//! CRC.
//!
//! Sensors that feed on the data line (parasite power) are not supported: they do not say whether they
//! are measuring, and read as [`Absent::NoAnswer`].

use super::convert::celsius_from_sixteenths;
use super::{Hygrometer, Probes, Readings, Thermometer};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use glueday_types::{Absent, CentiCelsius, Reading};

/// Speaks to the only sensor on the line without its address.
const SKIP_ROM: u8 = 0xCC;
const CONVERT: u8 = 0x44;
const WRITE_SCRATCHPAD: u8 = 0x4E;
const READ_SCRATCHPAD: u8 = 0xBE;

/// What is written into the scratchpad before each measurement: the alarm at the ends of the range,
/// where it means nothing, and 12 bits. A sensor that lost its power has something else.
const SETTINGS: [u8; 3] = [125, 0xC9, 0x7F];
/// A conversion of 12 bits takes so long at most.
const CONVERSION_MS: u32 = 750;
/// What the register holds after power-up: 85 °C. No slab and no supply pipe gets there; a sensor
/// that reads so has lost its power before it had measured.
const POWER_UP: i16 = 0x0550;

const RESET_US: u32 = 500;
/// Presence comes 15 to 60 µs after the reset, and lasts 60 to 240 µs. With three looks so far apart,
/// a line that rises slowly is not taken for a missing sensor.
const PRESENCE_LOOKS_US: [u32; 3] = [40, 30, 30];
/// What is left then of the 480 µs that the line rests after a reset.
const AFTER_PRESENCE_US: u32 = 400;

/// One temperature probe on a pin of its own. Measuring range -55 to 125 °C (data sheet, from
/// memory), in steps of 1/16 °C.
///
/// The pin is open-drain with a pull-up: `set_high` releases the line, `is_high` reads the line and
/// not what was set.
#[derive(Debug)]
pub struct OneWireProbe<P, D> {
    pin: P,
    delay: D,
}

impl<P, D> OneWireProbe<P, D> {
    /// The probe on `pin`.
    pub fn new(pin: P, delay: D) -> Self {
        Self { pin, delay }
    }

    /// Gives the pin back.
    pub fn release(self) -> P {
        self.pin
    }
}

impl<P: InputPin + OutputPin, D: DelayNs> OneWireProbe<P, D> {
    /// Sets the probe up and starts a measurement. The result is ready after [`OneWireProbe::wait`].
    pub fn start(&mut self) -> Result<(), Absent> {
        let started = self.try_start();
        self.let_go_after(started)
    }

    /// Waits as long as a measurement takes at most. Boards sleep in this one call.
    pub fn wait(&mut self) {
        self.delay.delay_ms(CONVERSION_MS);
    }

    /// Reads the result of a measurement that was started.
    pub fn finish(&mut self) -> Reading<CentiCelsius> {
        let finished = self.try_finish();
        self.let_go_after(finished)
    }

    fn try_start(&mut self) -> Result<(), Absent> {
        let [high, low, resolution] = SETTINGS;
        self.reset()?;
        self.send(&[SKIP_ROM, WRITE_SCRATCHPAD, high, low, resolution])?;
        self.reset()?;
        self.send(&[SKIP_ROM, CONVERT])?;
        // A sensor answers with zeros while it measures. Without this look, a command that was
        // spoilt would give the reading of last time.
        if self.receive_bit()? { Err(Absent::NoAnswer) } else { Ok(()) }
    }

    fn try_finish(&mut self) -> Reading<CentiCelsius> {
        let is_ready = self.receive_bit()?;
        self.reset()?;
        if !is_ready {
            return Err(Absent::NoAnswer);
        }
        self.send(&[SKIP_ROM, READ_SCRATCHPAD])?;
        let mut scratchpad = [0; 9];
        for byte in &mut scratchpad {
            *byte = self.receive()?;
        }
        temperature_of(&scratchpad)
    }

    /// A failed pin must not be left pulling the line down.
    fn let_go_after<T>(&mut self, result: Result<T, Absent>) -> Result<T, Absent> {
        result.inspect_err(|_| {
            let _ = self.pin.set_high();
        })
    }

    fn pull(&mut self) -> Result<(), Absent> {
        self.pin.set_low().map_err(|_| Absent::BusFault)
    }

    fn release_line(&mut self) -> Result<(), Absent> {
        self.pin.set_high().map_err(|_| Absent::BusFault)
    }

    fn is_high(&mut self) -> Result<bool, Absent> {
        self.pin.is_high().map_err(|_| Absent::BusFault)
    }

    /// Resets the sensor, and hears whether there is one.
    fn reset(&mut self) -> Result<(), Absent> {
        self.release_line()?;
        if !self.is_high()? {
            return Err(Absent::BusFault);
        }
        self.pull()?;
        self.delay.delay_us(RESET_US);
        self.release_line()?;
        let mut is_present = false;
        for look_us in PRESENCE_LOOKS_US {
            self.delay.delay_us(look_us);
            is_present |= !self.is_high()?;
        }
        self.delay.delay_us(AFTER_PRESENCE_US);
        match (self.is_high()?, is_present) {
            (false, _) => Err(Absent::BusFault),
            (true, false) => Err(Absent::NoAnswer),
            (true, true) => Ok(()),
        }
    }

    fn send(&mut self, bytes: &[u8]) -> Result<(), Absent> {
        for byte in bytes {
            for bit in 0..8 {
                // The sensor looks 15 to 60 µs after the line went down.
                let (low_us, high_us) = if byte >> bit & 1 == 1 { (6, 64) } else { (65, 10) };
                self.pull()?;
                self.delay.delay_us(low_us);
                self.release_line()?;
                self.delay.delay_us(high_us);
            }
        }
        Ok(())
    }

    fn receive(&mut self) -> Result<u8, Absent> {
        let mut byte = 0;
        for _ in 0..8 {
            byte = byte >> 1 | u8::from(self.receive_bit()?) << 7;
        }
        Ok(byte)
    }

    fn receive_bit(&mut self) -> Result<bool, Absent> {
        self.pull()?;
        self.delay.delay_us(2);
        self.release_line()?;
        // Late in the 15 µs in which the bit is there, so that the line of a long cable is up.
        self.delay.delay_us(10);
        let bit = self.is_high()?;
        self.delay.delay_us(60);
        Ok(bit)
    }
}

impl<P: InputPin + OutputPin, D: DelayNs> Thermometer for OneWireProbe<P, D> {
    fn temperature(&mut self) -> Reading<CentiCelsius> {
        self.start()?;
        self.wait();
        self.finish()
    }
}

/// The temperature in a scratchpad of nine bytes, when all of it can be believed.
pub fn temperature_of(scratchpad: &[u8; 9]) -> Reading<CentiCelsius> {
    let [low, high, alarm_high, alarm_low, resolution, .., check] = scratchpad;
    if scratchpad.iter().all(|byte| *byte == 0x00) {
        // The line went down behind the presence; the CRC of zeros is zero.
        return Err(Absent::BusFault);
    }
    if scratchpad.iter().all(|byte| *byte == 0xFF) {
        // Nobody pulled the line down: the sensor is gone.
        return Err(Absent::NoAnswer);
    }
    let (bytes, _) = scratchpad.split_at(8);
    if crc8(bytes) != *check {
        return Err(Absent::BadChecksum);
    }
    let sixteenths = i16::from_le_bytes([*low, *high]);
    if [*alarm_high, *alarm_low, *resolution] != SETTINGS || sixteenths == POWER_UP {
        return Err(Absent::OutOfRange);
    }
    celsius_from_sixteenths(sixteenths, -55..=125)
}

/// The CRC-8 of 1-Wire: x^8 + x^5 + x^4 + 1, the lowest bit first, from 0.
pub fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 1 == 0 { crc >> 1 } else { crc >> 1 ^ 0x8C })
    })
}

/// The slab and the supply with a 1-Wire probe each, which measure at the same time: the board sleeps
/// through one conversion instead of two.
#[derive(Debug)]
pub struct OneWirePair<S, A, P, D> {
    /// On the slab surface.
    pub slab: OneWireProbe<S, D>,
    /// In the air of the room.
    pub air: A,
    /// On the supply pipe of the radiant heating.
    pub supply: OneWireProbe<P, D>,
}

impl<S, A, P, D> Probes for OneWirePair<S, A, P, D>
where
    S: InputPin + OutputPin,
    A: Hygrometer,
    P: InputPin + OutputPin,
    D: DelayNs,
{
    fn read(&mut self) -> Readings {
        let slab = self.slab.start();
        let supply = self.supply.start();
        if slab.is_ok() || supply.is_ok() {
            self.slab.wait();
        }
        let (air, air_rh) = self.air.air();
        Readings {
            slab: slab.and_then(|()| self.slab.finish()),
            air,
            air_rh,
            supply: supply.and_then(|()| self.supply.finish()),
        }
    }
}
