//! The logger on a low-power Cortex-M4 with a stop mode, a watch crystal and a flash chip on SPI.
//!
//! Which wire goes to which pin stands in `README.md` beside this crate; the pins are taken in `main`.
#![no_std]
#![no_main]

mod battery;
mod clock;
mod line;
mod lot;
mod site;
mod start;

use battery::{Battery, WATCHDOG_US};
use clock::{Clock, Delay};
#[cfg(feature = "log")]
use defmt_rtt as _;
use embassy_stm32::gpio::{AnyPin, Input, Level, Output, OutputOpenDrain, Pull, Speed};
use embassy_stm32::rcc::{LsConfig, Sysclk, mux};
use embassy_stm32::spi::Spi;
use embassy_stm32::time::Hertz;
use embassy_stm32::usart::{BufferedInterruptHandler, BufferedUart};
use embassy_stm32::wdg::IndependentWatchdog;
use embassy_stm32::{Peri, bind_interrupts, peripherals, spi, usart};
use embedded_hal_bus::spi::ExclusiveDevice;
use glueday_firmware::board;
use glueday_firmware::key;
use glueday_firmware::nor::SpiNor;
use glueday_firmware::part::Part;
use glueday_firmware::{RingLog, Settings};
use line::Line;
use site::{Site, Wires};

/// Bytes of the flash chip that log and key take.
const FLASH_LEN: usize = 2 * 1024 * 1024;
/// Bytes of the sector of the key, the last one.
const KEY_LEN: u32 = 4096;
/// Bytes of the log: eight weeks at one sample a minute, three times over.
const LOG_LEN: u32 = FLASH_LEN as u32 - KEY_LEN;
/// Sampling interval of a log that begins.
const INTERVAL_S: u16 = 600;
/// Three cells in series at this voltage: a little under the regulator's output, so that it follows
/// them down. The probes work to 3.0 V.
const POWER_LOW_MV: u16 = 3_400;
/// Slow enough for a chip on wires.
const SPI_HZ: u32 = 4_000_000;
const BAUD: u32 = 115_200;

bind_interrupts!(struct Interrupts {
    USART1 => BufferedInterruptHandler<peripherals::USART1>;
});

#[cortex_m_rt::entry]
fn main() -> ! {
    let reason = start::boot_reason();
    start::guard();
    let chip = embassy_stm32::init(clocks());
    let watchdog = IndependentWatchdog::new(chip.IWDG, WATCHDOG_US);
    let Some(mut core) = cortex_m::Peripherals::take() else { restart() };
    let clock = Clock::start(&mut core.DCB, &mut core.DWT);
    let delay = Delay(&clock);

    let open_drain =
        |pin: Peri<'static, AnyPin>| OutputOpenDrain::new(pin, Level::High, Speed::Low);
    let wires = Wires {
        slab: open_drain(chip.PB0.into()),
        supply: open_drain(chip.PB1.into()),
        scl: open_drain(chip.PB6.into()),
        sda: open_drain(chip.PB7.into()),
        switch: Output::new(chip.PB2, Level::High, Speed::Low),
    };
    let mut site = Site::new(wires, chip.ADC1, chip.PA0, delay);

    let mut config = spi::Config::default();
    config.frequency = Hertz(SPI_HZ);
    let bus = Spi::new_blocking(chip.SPI1, chip.PA5, chip.PA7, chip.PA6, config);
    let select = Output::new(chip.PA4, Level::High, Speed::Low);
    let Ok(device) = ExclusiveDevice::new(bus, select, delay);
    let mut flash = SpiNor::<_, _, FLASH_LEN>::new(device, delay);

    let mut config = usart::Config::default();
    config.baudrate = BAUD;
    let (mut sent, mut received) = ([0; line::SEND_LEN], [0; line::RECEIVE_LEN]);
    let uart = BufferedUart::new(
        chip.USART1,
        chip.PA10,
        chip.PA9,
        &mut sent,
        &mut received,
        Interrupts,
        config,
    );
    let Ok(uart) = uart else { restart() };
    let led = Output::new(chip.PB12, Level::Low, Speed::Low);
    let button = Input::new(chip.PA1, Pull::Up);
    let mut battery = Battery::new(&clock, core.SCB, Line::new(uart), led, button, watchdog);

    let settings = Settings {
        logger: start::logger_id(),
        interval_s: INTERVAL_S,
        power_low_mv: Some(POWER_LOW_MV),
    };
    let log_is_begun = RingLog::is_begun(Part::new(&mut flash, 0, LOG_LEN), settings.logger);
    let mut key_sector = Part::new(&mut flash, LOG_LEN, KEY_LEN);
    let key = key::take_up(&mut key_sector, log_is_begun, lot::draw);
    let mut log = Part::new(&mut flash, 0, LOG_LEN);
    board::run(&mut battery, &mut log, &mut site, &settings, key, reason)
}

/// 16 MHz from the chip's own oscillator, which is back within microseconds of a stop; the watch
/// crystal for time.
fn clocks() -> embassy_stm32::Config {
    let mut config = embassy_stm32::Config::default();
    config.rcc.msi = None;
    config.rcc.hsi = true;
    config.rcc.sys = Sysclk::HSI;
    config.rcc.hsi48 = None;
    config.rcc.ls = LsConfig::default_lse();
    config.rcc.mux.adcsel = mux::Adcsel::SYS;
    // Keeps clocks on through every rest: for the debug probe only.
    config.enable_debug_during_sleep = cfg!(feature = "log");
    config
}

/// Before a restart, so that a fault at each start does not fill the log with starts. Less than the
/// watchdog waits.
const RESTART_CYCLES: u32 = 20 * 16_000_000;

/// For what cannot happen: the log says that the firmware restarted itself.
fn restart() -> ! {
    cortex_m::asm::delay(RESTART_CYCLES);
    cortex_m::peripheral::SCB::sys_reset()
}

#[panic_handler]
fn panic(_info: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "log")]
    defmt::error!("{}", defmt::Display2Format(_info));
    restart()
}
