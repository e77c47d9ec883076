//! The two wires to a probe, and what may be wrong with them.
//!
//! Both thermometers sit on the one bus of the emulated part; each has a cable of its own here, whose
//! faults the switchboard sets. What they do to the levels is done here, under the code that drives
//! the bus.

use crate::registers::{Register, WIRES_PULL, WIRES_RELEASE, switchboard};
use core::convert::Infallible;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use glueday_bench_tunnel::switchboard::Wiring;

/// One wire.
#[derive(Debug)]
pub(crate) struct Wire {
    /// Its bit in the registers.
    bit: u32,
    /// The word of its cable in the switchboard.
    wiring: Register,
    /// The fault that holds it low.
    held_by: Wiring,
    /// Whether the board pulls it low.
    pulled: bool,
    /// What was last set, so that it is not set again: registers are slow in the emulator.
    set: Option<bool>,
}

/// Clock and data of the cable whose wiring stands at this offset of the switchboard.
pub(crate) fn cable(offset: usize) -> (Wire, Wire) {
    let wiring = switchboard(offset);
    (
        Wire { bit: 1, wiring, held_by: Wiring::ClockLow, pulled: false, set: None },
        Wire { bit: 2, wiring, held_by: Wiring::DataLow, pulled: false, set: None },
    )
}

impl Wire {
    /// Sets the level at the probe, and returns the fault of the cable. Behind a faulty cable the
    /// lines are released, so that the other cable is none the worse for it.
    fn drive(&mut self) -> Wiring {
        let wiring = Wiring::from_word(self.wiring.read());
        let low = self.pulled && wiring == Wiring::Sound;
        if self.set != Some(low) {
            self.set = Some(low);
            if low { WIRES_PULL.write(self.bit) } else { WIRES_RELEASE.write(self.bit) }
        }
        wiring
    }
}

impl ErrorType for Wire {
    type Error = Infallible;
}

impl OutputPin for Wire {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.pulled = true;
        self.drive();
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.pulled = false;
        self.drive();
        Ok(())
    }
}

impl InputPin for Wire {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        let low = match self.drive() {
            Wiring::Sound => WIRES_RELEASE.read() & self.bit == 0,
            fault => self.pulled || fault == self.held_by,
        };
        Ok(!low)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}
