//! The logger on an emulated Cortex-M3: pins, clocks and the main loop, nothing that decides.
#![no_std]
#![no_main]

mod board;
mod cost;
mod line;
mod nor;
mod registers;
mod time;
mod tunnel;
mod wires;

use board::{Bench, Supplied};
use cortex_m::interrupt::InterruptNumber;
use cortex_m::peripheral::{NVIC, SCB};
use cortex_m_rt::{entry, exception};
#[cfg(feature = "log")]
use defmt_semihosting as _;
use glueday_bench_tunnel::switchboard::{
    INTERVAL_S, INTERVAL_S_DEFAULT, LOGGER, LOGGER_DEFAULT, POWER_LOW_MV, SEED, WIRED_SLAB,
    WIRED_SUPPLY,
};
use glueday_firmware::probes::{ProbeSet, Sht4xProbe, Tmp75Probe, TwoWire};
use glueday_firmware::{RingLog, Settings, board::run, key};
use glueday_types::{BootReason, LoggerId};
use registers::{RESET_CAUSE, TIMER0, TIMER1, switchboard};
use time::Delay;
use wires::Wire;

/// Interrupts that are used, by their numbers.
#[derive(Clone, Copy, Debug)]
#[repr(u16)]
enum Interrupt {
    Received = 0,
    Sent = 1,
    Timer0 = 8,
    Timer1 = 9,
}

// SAFETY: the numbers are those of the part, below 32 of them.
unsafe impl InterruptNumber for Interrupt {
    fn number(self) -> u16 {
        self as u16
    }
}

#[entry]
fn main() -> ! {
    cost::paint_stack();
    cost::start();
    let reason = boot_reason();
    if let Some(mut core) = cortex_m::Peripherals::take() {
        // Nothing may come before all is set up.
        cortex_m::interrupt::disable();
        time::start(&mut core.SYST);
        line::start();
        for interrupt in
            [Interrupt::Received, Interrupt::Sent, Interrupt::Timer0, Interrupt::Timer1]
        {
            // SAFETY: the handlers take no part in any critical section based on priorities.
            unsafe { NVIC::unmask(interrupt) };
        }
        // SAFETY: all is set up, and this is no critical section.
        unsafe { cortex_m::interrupt::enable() };
    }
    let mut probes = Supplied(ProbeSet {
        slab: thermometer(WIRED_SLAB, 0x48),
        air: Sht4xProbe::new(tunnel::Tunnel::new(), Delay),
        supply: thermometer(WIRED_SUPPLY, 0x49),
    });
    let mut log = nor::log();
    let settings = settings();
    let log_is_begun = RingLog::is_begun(&mut log, settings.logger);
    let key = key::take_up(&mut nor::key_sector(), log_is_begun, seed);
    run(&mut Bench::new(), &mut log, &mut probes, &settings, key, reason)
}

/// The thermometer at `address` at the end of the cable whose wiring stands at `wiring`.
fn thermometer(wiring: usize, address: u8) -> Tmp75Probe<TwoWire<Wire, Wire, Delay>, Delay> {
    let (scl, sda) = wires::cable(wiring);
    // Devices in the emulator need no time between two edges.
    Tmp75Probe::new(TwoWire::new(scl, sda, Delay, 0), address, Delay)
}

/// What the switchboard says, or the defaults.
fn settings() -> Settings {
    let interval_s = u16::try_from(switchboard(INTERVAL_S).read()).unwrap_or(0);
    let (low, high) = (switchboard(LOGGER).read(), switchboard(LOGGER + 4).read());
    let logger = (u64::from(high) << 32 | u64::from(low)).to_le_bytes();
    Settings {
        logger: LoggerId(if logger == [0; 8] { LOGGER_DEFAULT } else { logger }),
        interval_s: if interval_s == 0 { INTERVAL_S_DEFAULT } else { interval_s },
        power_low_mv: Some(POWER_LOW_MV),
    }
}

/// What the switchboard says instead of a random source, which the emulated part has not.
fn seed() -> Option<[u8; key::SEED_LEN]> {
    let mut seed = [0; key::SEED_LEN];
    for (at, bytes) in seed.chunks_exact_mut(4).enumerate() {
        bytes.copy_from_slice(&switchboard(SEED + 4 * at).read().to_le_bytes());
    }
    Some(seed)
}

/// Words in [`RESET_CAUSE`]; after power came on it is zero.
const RUNNING: u32 = 0x5249_4E47;
const RESTARTING: u32 = 0x5245_5354;

/// Why it started: power came on, it restarted itself, or the watchdog ended a hang. Nothing else
/// resets the emulated part.
fn boot_reason() -> BootReason {
    let reason = match RESET_CAUSE.read() {
        RUNNING => BootReason::Watchdog,
        RESTARTING => BootReason::Restart,
        _ => BootReason::PowerOn,
    };
    RESET_CAUSE.write(RUNNING);
    reason
}

/// Starts again; the log says so.
fn restart() -> ! {
    RESET_CAUSE.write(RESTARTING);
    SCB::sys_reset()
}

#[exception]
fn SysTick() {
    time::on_systick();
}

/// All interrupts.
// SAFETY: the signature is that of the runtime; nothing in here is unsafe.
#[exception]
unsafe fn DefaultHandler(interrupt: i16) {
    match interrupt {
        0 => line::on_received(),
        1 => line::on_sent(),
        8 => time::on_timer(TIMER0),
        9 => time::on_timer(TIMER1),
        // The watchdog's warning: what hangs is reset the second time.
        _ => {}
    }
}

#[panic_handler]
fn panicked(_: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "log")]
    defmt::error!("panicked");
    restart()
}
