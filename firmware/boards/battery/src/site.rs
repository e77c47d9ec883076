//! What the board measures: probes whose supply is off between samples, and the cells.

use crate::clock::Delay;
use embassy_stm32::Peri;
use embassy_stm32::adc::{Adc, SampleTime, VREF_CALIB_MV};
use embassy_stm32::gpio::{Output, OutputOpenDrain};
use embassy_stm32::pac;
use embassy_stm32::peripherals::{ADC1, PA0};
use embedded_hal::delay::DelayNs as _;
use glueday_firmware::probes::{
    OneWirePair, OneWireProbe, Probes, Readings, Sht4xProbe, TwoWire, two_wire,
};

/// From supply on to the first command: the slowest sensor takes some milliseconds (data sheets, from
/// memory).
const POWER_UP_MS: u32 = 10;
/// The largest reading of the converter.
const FULL_SCALE: u32 = 4095;
/// The cells are measured through a divider of two equal resistors.
const DIVIDER: u32 = 2;

type Pin<'p> = OutputOpenDrain<'p>;
type Air<'p> = Sht4xProbe<TwoWire<Pin<'p>, Pin<'p>, Delay<'p>>, Delay<'p>>;

/// The pins to the probes.
pub(crate) struct Wires<'p> {
    pub(crate) slab: Pin<'p>,
    pub(crate) supply: Pin<'p>,
    pub(crate) scl: Pin<'p>,
    pub(crate) sda: Pin<'p>,
    /// Low switches the supply of the probes on.
    pub(crate) switch: Output<'p>,
}

/// The probes and the cells.
pub(crate) struct Site<'p> {
    probes: OneWirePair<Pin<'p>, Air<'p>, Pin<'p>, Delay<'p>>,
    switch: Output<'p>,
    delay: Delay<'p>,
    converter: Peri<'p, ADC1>,
    cells: Peri<'p, PA0>,
}

impl<'p> Site<'p> {
    /// Probes on `wires`, and the cells on PA0.
    pub(crate) fn new(
        wires: Wires<'p>,
        converter: Peri<'p, ADC1>,
        cells: Peri<'p, PA0>,
        delay: Delay<'p>,
    ) -> Self {
        let Wires { slab, supply, scl, sda, switch } = wires;
        let bus = TwoWire::new(scl, sda, delay, two_wire::STANDARD_MODE_NS);
        let probes = OneWirePair {
            slab: OneWireProbe::new(slab, delay),
            air: Sht4xProbe::new(bus, delay),
            supply: OneWireProbe::new(supply, delay),
        };
        Self { probes, switch, delay, converter, cells }
    }
}

impl Probes for Site<'_> {
    fn read(&mut self) -> Readings {
        self.switch.set_low();
        self.delay.delay_ms(POWER_UP_MS);
        let readings = self.probes.read();
        self.switch.set_high();
        readings
    }

    fn supply_mv(&mut self) -> Option<u16> {
        let mut converter = Adc::new(self.converter.reborrow());
        let mut reference = converter.enable_vrefint();
        let factory = u32::from(reference.calibrated_value());
        let reference = converter.blocking_read(&mut reference, SampleTime::CYCLES640_5);
        let cells = converter.blocking_read(&mut self.cells, SampleTime::CYCLES640_5);
        converter.power_down();
        // Its regulator and the reference would go on through the rest.
        pac::ADC1.cr().modify(|w| w.set_advregen(false));
        pac::ADC1.cr().modify(|w| w.set_deeppwd(true));
        pac::ADC1_COMMON.ccr().modify(|w| w.set_vrefen(false));
        let rail_mv = (VREF_CALIB_MV * factory).checked_div(reference.into())?;
        let cells_mv = u64::from(DIVIDER * u32::from(cells)) * u64::from(rail_mv);
        u16::try_from(cells_mv / u64::from(FULL_SCALE)).ok()
    }
}
