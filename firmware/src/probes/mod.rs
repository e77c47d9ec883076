//! The probes of the four channels.
//!
//! A probe never fails the logger: what goes wrong becomes the [`Absent`] reason in the sample, so
//! that a gap in the record says why it is there.

#[cfg(feature = "drivers")]
pub mod convert;
#[cfg(feature = "drivers")]
mod i2c;
#[cfg(feature = "more-thermometers")]
mod more_thermometers;
#[cfg(feature = "drivers")]
pub mod one_wire;
#[cfg(feature = "drivers")]
pub mod two_wire;

#[cfg(feature = "drivers")]
pub use i2c::{Sht4xProbe, Tmp75Probe};
#[cfg(feature = "more-thermometers")]
pub use more_thermometers::{Lm75Probe, Tmp117Probe};
#[cfg(feature = "drivers")]
pub use one_wire::{OneWirePair, OneWireProbe};
#[cfg(feature = "drivers")]
pub use two_wire::TwoWire;

use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};

/// One reading of all channels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Readings {
    /// Slab surface temperature.
    pub slab: Reading<CentiCelsius>,
    /// Air temperature.
    pub air: Reading<CentiCelsius>,
    /// Air relative humidity.
    pub air_rh: Reading<CentiPercent>,
    /// Temperature of the radiant supply.
    pub supply: Reading<CentiCelsius>,
}

/// All that the logger measures.
pub trait Probes {
    /// Measures all channels now.
    fn read(&mut self) -> Readings;

    /// Supply voltage of the logger in millivolts, when the board can measure it.
    fn supply_mv(&mut self) -> Option<u16> {
        None
    }
}

impl<P: Probes + ?Sized> Probes for &mut P {
    fn read(&mut self) -> Readings {
        (**self).read()
    }

    fn supply_mv(&mut self) -> Option<u16> {
        (**self).supply_mv()
    }
}

/// A probe for one temperature.
pub trait Thermometer {
    /// Measures now.
    fn temperature(&mut self) -> Reading<CentiCelsius>;
}

/// A probe for temperature and relative humidity of the air.
pub trait Hygrometer {
    /// Measures now.
    fn air(&mut self) -> (Reading<CentiCelsius>, Reading<CentiPercent>);
}

/// No probe.
#[derive(Clone, Copy, Debug, Default)]
pub struct NotFitted;

impl Thermometer for NotFitted {
    fn temperature(&mut self) -> Reading<CentiCelsius> {
        Err(Absent::NotFitted)
    }
}

impl Hygrometer for NotFitted {
    fn air(&mut self) -> (Reading<CentiCelsius>, Reading<CentiPercent>) {
        (Err(Absent::NotFitted), Err(Absent::NotFitted))
    }
}

/// One probe for each place, of whatever kind.
#[derive(Clone, Copy, Debug)]
pub struct ProbeSet<S, A, P> {
    /// On the slab surface.
    pub slab: S,
    /// In the air of the room.
    pub air: A,
    /// On the supply pipe of the radiant heating.
    pub supply: P,
}

impl<S: Thermometer, A: Hygrometer, P: Thermometer> Probes for ProbeSet<S, A, P> {
    fn read(&mut self) -> Readings {
        let (air, air_rh) = self.air.air();
        Readings { slab: self.slab.temperature(), air, air_rh, supply: self.supply.temperature() }
    }
}
