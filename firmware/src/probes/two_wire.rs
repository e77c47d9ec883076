//! An I2C controller in software, on any two open-drain pins.
//!
//! Our own, because no crate for embedded-hal 1.0 waits for a stretched clock with a bound and frees
//! a held data line, and the hardware controllers of small microcontrollers wait for ever on a clock
//! that somebody holds. A logger whose probe cable is crushed must go on logging the other probes.
//!
//! Section numbers are those of the I2C-bus specification UM10204. For one controller on the bus:
//! there is nobody to lose arbitration to, so a data line that is low when nobody but us should drive
//! it is a fault, and it is cleared.

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};

/// Half a clock period of standard mode (100 kHz): its low time is 4.7 µs at least (section 6).
pub const STANDARD_MODE_NS: u32 = 5_000;
/// How long a target may stretch the clock in one transaction, in all (SMBus, t LOW:SEXT, from
/// memory).
pub const STRETCH_MAX_US: u32 = 25_000;
/// Time between two looks at a stretched clock.
const STRETCH_LOOK_US: u32 = 1;
/// After so many clocks a target lets go of the data line (section 3.1.16).
const CLEAR_CLOCKS: u8 = 9;

/// Why a transaction failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Error {
    /// The pins could not be set or read.
    Pin,
    /// The clock stayed low for longer than a target may stretch it: look for a short circuit of SCL
    /// or a probe without power.
    ClockHeld,
    /// The data line stayed low through nine clocks: look for a short circuit of SDA or a probe
    /// without power.
    DataHeld,
    /// The data line was low while it was released: noise, or a target out of step.
    ArbitrationLost,
    /// No target has acknowledged the address.
    AddressNotAcknowledged,
    /// The target has not acknowledged a byte.
    DataNotAcknowledged,
}

impl embedded_hal::i2c::Error for Error {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::Pin | Self::ClockHeld | Self::DataHeld => ErrorKind::Bus,
            Self::ArbitrationLost => ErrorKind::ArbitrationLoss,
            Self::AddressNotAcknowledged => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address),
            Self::DataNotAcknowledged => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data),
        }
    }
}

/// An I2C controller on the pins `SCL` and `SDA`.
///
/// Both pins are open-drain with a pull-up: `set_high` releases the line, `is_high` reads the line
/// and not what was set. Hand them over released.
///
/// A transaction ends: it takes its clocks, and what targets stretch them by, which is bounded by
/// [`STRETCH_MAX_US`] in all unless [`TwoWire::with_stretch_max_us`] says otherwise.
#[derive(Debug)]
pub struct TwoWire<SCL, SDA, D> {
    scl: SCL,
    sda: SDA,
    delay: D,
    half_period_ns: u32,
    stretch_looks: u32,
    stretch_looks_left: u32,
}

impl<SCL, SDA, D> TwoWire<SCL, SDA, D> {
    /// A controller that waits `half_period_ns` between two edges of the clock, with
    /// [`STANDARD_MODE_NS`] for the usual bus. With 0 it does not wait and is as fast as its pins.
    pub fn new(scl: SCL, sda: SDA, delay: D, half_period_ns: u32) -> Self {
        let stretch_looks = STRETCH_MAX_US / STRETCH_LOOK_US;
        Self { scl, sda, delay, half_period_ns, stretch_looks, stretch_looks_left: 0 }
    }

    /// Bounds what targets stretch the clock by in one transaction to `max_us` in all.
    #[must_use]
    pub fn with_stretch_max_us(self, max_us: u32) -> Self {
        Self { stretch_looks: max_us / STRETCH_LOOK_US, ..self }
    }

    /// Gives the pins back.
    pub fn release(self) -> (SCL, SDA) {
        (self.scl, self.sda)
    }
}

impl<SCL: InputPin + OutputPin, SDA: InputPin + OutputPin, D: DelayNs> TwoWire<SCL, SDA, D> {
    /// Half a clock period.
    #[inline]
    fn half(&mut self) {
        if self.half_period_ns != 0 {
            self.delay.delay_ns(self.half_period_ns);
        }
    }

    fn clock_low(&mut self) -> Result<(), Error> {
        self.scl.set_low().map_err(|_| Error::Pin)
    }

    /// Releases the clock and waits until it is high.
    #[inline]
    fn clock_high(&mut self) -> Result<(), Error> {
        self.scl.set_high().map_err(|_| Error::Pin)?;
        while self.scl.is_low().map_err(|_| Error::Pin)? {
            self.stretch_looks_left =
                self.stretch_looks_left.checked_sub(1).ok_or(Error::ClockHeld)?;
            self.delay.delay_us(STRETCH_LOOK_US);
        }
        Ok(())
    }

    fn data_low(&mut self) -> Result<(), Error> {
        self.sda.set_low().map_err(|_| Error::Pin)
    }

    fn release_data(&mut self) -> Result<(), Error> {
        self.sda.set_high().map_err(|_| Error::Pin)
    }

    fn data_is_high(&mut self) -> Result<bool, Error> {
        self.sda.is_high().map_err(|_| Error::Pin)
    }

    /// A start, or with the clock low a repeated start. Leaves the clock low.
    fn start(&mut self) -> Result<(), Error> {
        self.release_data()?;
        self.half();
        self.clock_high()?;
        self.half();
        if !self.data_is_high()? {
            return Err(Error::ArbitrationLost);
        }
        self.data_low()?;
        self.half();
        self.clock_low()
    }

    /// A stop, from any state of the lines; leaves them released. Returns whether the data line went
    /// high: if not, a target holds it and has seen no stop.
    fn stop(&mut self) -> Result<bool, Error> {
        self.clock_low()?;
        self.data_low()?;
        self.half();
        self.clock_high()?;
        self.half();
        self.release_data()?;
        self.half();
        self.data_is_high()
    }

    /// Frees a data line that a target holds (section 3.1.16): clocks until it lets go, and a stop
    /// as soon as it has.
    ///
    /// The stop does not wait for the ninth clock: a target that was receiving would then be about
    /// to acknowledge, and hold the line again. One that sends a 0 next spoils the stop, and the
    /// clocks go on to the bit in which it listens for an acknowledge.
    fn clear(&mut self) -> Result<(), Error> {
        for _ in 0..CLEAR_CLOCKS {
            self.clock_low()?;
            self.half();
            self.clock_high()?;
            self.half();
            if self.data_is_high()? && self.stop()? {
                return Ok(());
            }
        }
        Err(Error::DataHeld)
    }

    /// Sees to it that both lines are high.
    fn claim(&mut self) -> Result<(), Error> {
        self.release_data()?;
        self.clock_high()?;
        if self.data_is_high()? { Ok(()) } else { self.clear() }
    }

    /// Ends a transaction, whatever came of it, with both lines released.
    fn end(&mut self) -> Result<(), Error> {
        let ended = match self.stop() {
            Ok(true) => Ok(()),
            Ok(false) => self.clear().and(Err(Error::DataHeld)),
            Err(error) => Err(error),
        };
        ended.inspect_err(|_| self.let_go())
    }

    /// Releases both lines when nothing else can be done. Data first, while a held clock is low: a
    /// change of the data line under a high clock would be a start or a stop.
    fn let_go(&mut self) {
        let _ = self.sda.set_high();
        let _ = self.scl.set_high();
    }

    /// One clock with the data line as it is set. Returns whether it was high.
    #[inline]
    fn clock(&mut self) -> Result<bool, Error> {
        self.half();
        self.clock_high()?;
        let is_high = self.data_is_high()?;
        self.half();
        self.clock_low()?;
        Ok(is_high)
    }

    /// Sends one bit.
    #[inline]
    fn send_bit(&mut self, bit: bool) -> Result<(), Error> {
        if bit {
            self.release_data()?;
            if self.clock()? { Ok(()) } else { Err(Error::ArbitrationLost) }
        } else {
            self.data_low()?;
            self.half();
            self.clock_high()?;
            self.half();
            self.clock_low()
        }
    }

    /// Sends one byte. Returns whether it was acknowledged.
    fn send(&mut self, byte: u8) -> Result<bool, Error> {
        let mut mask = 0x80u8;
        while mask != 0 {
            self.send_bit(byte & mask != 0)?;
            mask >>= 1;
        }
        self.release_data()?;
        self.clock().map(|is_high| !is_high)
    }

    /// Receives one byte and acknowledges it when `more` are wanted.
    fn receive(&mut self, more: bool) -> Result<u8, Error> {
        self.release_data()?;
        let mut byte = 0;
        for _ in 0..8 {
            byte = byte << 1 | u8::from(self.clock()?);
        }
        self.send_bit(!more)?;
        Ok(byte)
    }

    /// Sends a start and the address.
    fn address(&mut self, address_and_direction: u8) -> Result<(), Error> {
        self.start()?;
        if self.send(address_and_direction)? { Ok(()) } else { Err(Error::AddressNotAcknowledged) }
    }

    /// Operations of one kind, as if they were one.
    fn run(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), Error> {
        if let Some(Operation::Write(_)) = operations.first() {
            self.address(address << 1)?;
            for operation in operations {
                let Operation::Write(bytes) = operation else { continue };
                for byte in bytes.iter() {
                    if !self.send(*byte)? {
                        return Err(Error::DataNotAcknowledged);
                    }
                }
            }
            return Ok(());
        }
        self.address(address << 1 | 1)?;
        let mut left: usize = operations
            .iter()
            .map(|operation| match operation {
                Operation::Read(bytes) => bytes.len(),
                Operation::Write(_) => 0,
            })
            .sum();
        if left == 0 {
            // The target drives the line already; it lets go after one byte without acknowledge.
            return self.receive(false).map(drop);
        }
        for operation in operations {
            let Operation::Read(bytes) = operation else { continue };
            for byte in bytes.iter_mut() {
                left = left.saturating_sub(1);
                *byte = self.receive(left > 0)?;
            }
        }
        Ok(())
    }
}

/// Whether no repeated start belongs between the two.
fn is_same_kind(one: &Operation<'_>, other: &Operation<'_>) -> bool {
    matches!(
        (one, other),
        (Operation::Read(_), Operation::Read(_)) | (Operation::Write(_), Operation::Write(_))
    )
}

impl<SCL, SDA, D> ErrorType for TwoWire<SCL, SDA, D> {
    type Error = Error;
}

impl<SCL: InputPin + OutputPin, SDA: InputPin + OutputPin, D: DelayNs> I2c
    for TwoWire<SCL, SDA, D>
{
    /// No operations are no traffic. An empty write sends the address alone; an empty read receives
    /// one byte and drops it, because the target could not be stopped before. An address of more than
    /// seven bits is nobody's.
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), Self::Error> {
        if operations.is_empty() {
            return Ok(());
        }
        if address > 0x7F {
            return Err(Error::AddressNotAcknowledged);
        }
        self.stretch_looks_left = self.stretch_looks;
        self.claim().inspect_err(|_| self.let_go())?;
        let mut groups = operations.chunk_by_mut(is_same_kind);
        let done = groups.try_for_each(|group| self.run(address, group));
        let ended = self.end();
        done.and(ended)
    }
}
