//! Measures the supply.

use crate::volts::{FLOOR_MV, vsys_mv};
use core::cell::RefCell;
use cortex_m::prelude::_embedded_hal_adc_OneShot as _;
use rp2040_hal::adc::{Adc, AdcPin};
use rp2040_hal::gpio::bank0::Gpio29;
use rp2040_hal::gpio::{FunctionNull, Pin, PullNone};
use rp2040_hal::pac::ADC;

/// The pin with a third of VSYS, from a divider that a pull resistor of the pin would load.
pub(crate) type VsysPin = AdcPin<Pin<Gpio29, FunctionNull, PullNone>>;

/// Conversions that are averaged: 2 us each.
const CONVERSIONS: u32 = 8;

/// The supply. Both the probes and the flash ask it.
pub(crate) struct Supply {
    converter: RefCell<(Adc, VsysPin)>,
}

impl Supply {
    pub(crate) fn new(adc: Adc, pin: VsysPin) -> Self {
        Self { converter: RefCell::new((adc, pin)) }
    }

    /// VSYS in millivolts, when the board can measure it.
    pub(crate) fn vsys_mv(&self) -> Option<u16> {
        let mut converter = self.converter.try_borrow_mut().ok()?;
        let (adc, pin) = &mut *converter;
        let mut sum = 0;
        for _ in 0..CONVERSIONS {
            let steps: u16 = adc.read(pin).ok()?;
            if conversion_failed() {
                return None;
            }
            sum += u32::from(steps);
        }
        vsys_mv(sum, CONVERSIONS)
    }

    /// Whether it is known to be too low for the flash.
    pub(crate) fn is_too_low(&self) -> bool {
        self.vsys_mv().is_some_and(|mv| mv < FLOOR_MV)
    }
}

/// Whether the last conversion failed, which the crate of the chip does not say.
fn conversion_failed() -> bool {
    // SAFETY: a status register is read, which changes nothing.
    unsafe { (*ADC::ptr()).cs().read().err().bit_is_set() }
}
