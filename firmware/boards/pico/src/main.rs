//! The logger on an RP2040 board with 2 MiB of flash.
//!
//! Which wire goes to which pin stands in `README.md` beside this crate; the pins are taken in `main`.
#![no_std]
#![no_main]

mod chip;
mod fault;
mod identity;
mod layout;
mod line;
#[cfg(feature = "log")]
mod log;
mod lot;
mod pages;
mod pause;
mod pico;
mod reason;
mod site;
mod supply;
mod volts;

use chip::OnBoardFlash;
use core::fmt::Write as _;
use embedded_hal::delay::DelayNs as _;
use glueday_firmware::board;
use glueday_firmware::key;
use glueday_firmware::part::Part;
use glueday_firmware::probes::{OneWirePair, OneWireProbe, Sht4xProbe, TwoWire};
use glueday_firmware::{RingLog, Settings};
use glueday_types::BootReason;
use layout::{LOG_LEN, SECTOR_LEN};
use line::Line;
use lot::Lot;
use pages::LogFlash;
use pause::Pause;
use pico::{Pico, WATCHDOG_US};
use reason::{ARMED, boot_reason};
use rp2040_hal::adc::{Adc, AdcPin};
use rp2040_hal::clocks::init_clocks_and_plls;
use rp2040_hal::gpio::FunctionSioOutput;
use rp2040_hal::gpio::{FunctionNull, InOutPin, Pin, PinId, Pins, PullDown, PullUp, ValidFunction};
use rp2040_hal::pac::Peripherals;
use rp2040_hal::sio::Sio;
use rp2040_hal::timer::Timer;
use rp2040_hal::usb::UsbBus;
use rp2040_hal::watchdog::{ScratchRegister, Watchdog};
use site::Site;
use supply::Supply;
use usb_device::bus::UsbBusAllocator;

/// The crystal of the board.
const CRYSTAL_HZ: u32 = 12_000_000;

/// Sampling interval of a log that begins.
const INTERVAL_S: u16 = 600;

/// Half a period of the I2C clock: 50 kHz, which a metre of cable takes.
const I2C_HALF_NS: u32 = 10_000;

/// How long a board waits that restarted because something went wrong. One that does so again and
/// again would otherwise push the log out of the ring with the entries of its starts.
const HOLD_OFF_MS: u32 = 30_000;

/// The second stage of the boot: reads four bits at once, as flash of this class does.
#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2: [u8; layout::BOOT2_LEN as usize] = rp2040_boot2::BOOT_LOADER_W25Q080;

#[rp2040_hal::entry]
fn main() -> ! {
    // For good: interrupts end rests, see `pico.rs`.
    cortex_m::interrupt::disable();
    match start() {
        Some(never) => match never {},
        None => rp2040_hal::reset(),
    }
}

/// Takes the board into use and runs the logger; `None` when a part of the chip cannot be had.
fn start() -> Option<core::convert::Infallible> {
    let mut chip = Peripherals::take()?;
    let mut watchdog = Watchdog::new(chip.WATCHDOG);
    let scratch = watchdog.read_scratch(ScratchRegister::Scratch0);
    // SAFETY: one read of a register that nobody writes.
    let watchdog_reason = unsafe { (*rp2040_hal::pac::WATCHDOG::ptr()).reason().read().bits() };
    let chip_reset = chip.VREG_AND_CHIP_RESET.chip_reset().read().bits();
    let reason = boot_reason(watchdog_reason, scratch, chip_reset);

    let clocks = init_clocks_and_plls(
        CRYSTAL_HZ,
        chip.XOSC,
        chip.CLOCKS,
        chip.PLL_SYS,
        chip.PLL_USB,
        &mut chip.RESETS,
        &mut watchdog,
    );
    let clocks = clocks.ok()?;
    let mut timer = Timer::new(chip.TIMER, &mut chip.RESETS, &clocks);
    watchdog.write_scratch(ScratchRegister::Scratch0, ARMED);
    watchdog.start(WATCHDOG_US);

    let sio = Sio::new(chip.SIO);
    let pins = Pins::new(chip.IO_BANK0, chip.PADS_BANK0, sio.gpio_bank0, &mut chip.RESETS);
    let adc = Adc::new(chip.ADC, &mut chip.RESETS);
    let supply = Supply::new(adc, AdcPin::new(pins.gpio29.into_pull_type()).ok()?);
    let mut flash = LogFlash::new(OnBoardFlash::new(&supply));
    let lot = Lot::new(chip.ROSC, timer);
    let logger = identity::logger_id(&mut flash, || lot.draw());
    let log_is_begun = RingLog::is_begun(Part::new(&mut flash, 0, LOG_LEN), logger);
    let mut key_sector = Part::new(&mut flash, LOG_LEN, SECTOR_LEN);
    let key = key::take_up(&mut key_sector, log_is_begun, || Some(lot.draw()));
    let mut log = Part::new(&mut flash, 0, LOG_LEN);

    let bus = UsbBus::new(
        chip.USBCTRL_REGS,
        chip.USBCTRL_DPRAM,
        clocks.usb_clock,
        // The board may be fed through its pins: it does not wait to see the voltage of the plug.
        true,
        &mut chip.RESETS,
    );
    let bus = UsbBusAllocator::new(bus);
    let mut serial = heapless::String::<16>::new();
    write!(serial, "{logger}").ok()?;
    let line = Line::new(&bus, &serial)?;
    let cycles = cortex_m::Peripherals::take()?.SYST;
    let mut pause = Pause::new(cycles, timer, &line);

    let i2c = TwoWire::new(open_drain(pins.gpio5), open_drain(pins.gpio4), pause, I2C_HALF_NS);
    let mut site = Site {
        probes: OneWirePair {
            slab: OneWireProbe::new(open_drain(pins.gpio6), pause),
            air: Sht4xProbe::new(i2c, pause),
            supply: OneWireProbe::new(open_drain(pins.gpio7), pause),
        },
        supply: &supply,
    };
    if matches!(reason, BootReason::Watchdog | BootReason::Restart) && scratch == ARMED {
        for _ in 0..HOLD_OFF_MS / 1000 {
            watchdog.feed();
            pause.delay_ms(1000);
        }
    }
    let alarm = timer.alarm_0()?;
    let led = pins.gpio25.into_push_pull_output();
    let button = pins.gpio9.into_pull_up_input();
    let mut board = Pico::new(timer, alarm, watchdog, &line, led, button);
    let settings =
        Settings { logger, interval_s: INTERVAL_S, power_low_mv: Some(volts::WARNING_MV) };
    board::run(&mut board, &mut log, &mut site, &settings, key, reason)
}

/// A pin for a wire that is pulled down or let go. The pull-up of the pin is far too weak to work
/// with; it keeps a wire without its resistor from floating.
fn open_drain<I>(pin: Pin<I, FunctionNull, PullDown>) -> InOutPin<Pin<I, FunctionNull, PullUp>>
where
    I: PinId + ValidFunction<FunctionSioOutput> + ValidFunction<FunctionNull>,
{
    InOutPin::new(pin.into_pull_type())
}
