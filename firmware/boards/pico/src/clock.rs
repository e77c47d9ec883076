//! Clocks and time.
//!
//! The processor runs from the 48 MHz that USB needs anyhow: the second PLL stays off, and the
//! logger has next to nothing to compute.

use rp2040_hal::Clock as _;
use rp2040_hal::clocks::{ClocksManager, UsbClock};
use rp2040_hal::fugit::{HertzU32, RateExtU32 as _};
use rp2040_hal::pac::{CLOCKS, PLL_USB, RESETS, TIMER, XOSC};
use rp2040_hal::pll::{common_configs::PLL_USB_48MHZ, setup_pll_blocking};
use rp2040_hal::timer::Timer;
use rp2040_hal::watchdog::Watchdog;
use rp2040_hal::xosc::setup_xosc_blocking;

/// The crystal of the board.
const CRYSTAL: HertzU32 = HertzU32::MHz(12);
/// Ticks of the crystal in a microsecond.
const TICKS_PER_US: u8 = 12;

/// What runs from the crystal.
pub(crate) struct Clocks {
    pub(crate) timer: Timer,
    pub(crate) usb: UsbClock,
}

/// The registers that clocks are made with.
pub(crate) struct ClockRegisters {
    pub(crate) xosc: XOSC,
    pub(crate) clocks: CLOCKS,
    pub(crate) pll_usb: PLL_USB,
    pub(crate) timer: TIMER,
}

/// Starts them; `None` when a clock cannot be had.
pub(crate) fn start(
    registers: ClockRegisters,
    resets: &mut RESETS,
    watchdog: &mut Watchdog,
) -> Option<Clocks> {
    let crystal = setup_xosc_blocking(registers.xosc, CRYSTAL).ok()?;
    watchdog.enable_tick_generation(TICKS_PER_US);
    let mut clocks = ClocksManager::new(registers.clocks);
    let pll =
        setup_pll_blocking(registers.pll_usb, CRYSTAL, PLL_USB_48MHZ, &mut clocks, resets).ok()?;
    let fast = 48.MHz();
    clocks.reference_clock.configure_clock(&crystal, CRYSTAL).ok()?;
    clocks.system_clock.configure_clock(&pll, fast).ok()?;
    clocks.usb_clock.configure_clock(&pll, fast).ok()?;
    clocks.adc_clock.configure_clock(&pll, fast).ok()?;
    let timer = Timer::new(registers.timer, resets, &clocks);
    Some(Clocks { timer, usb: clocks.usb_clock })
}
