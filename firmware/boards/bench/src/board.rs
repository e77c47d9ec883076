//! What the emulated part is to the logger.

use crate::registers::{LEDS, TIMER0, switchboard, watchdog};
use crate::{cost, line, time};
use glueday_bench_tunnel::switchboard::{
    BUTTON, LED, LED_COVERED, MISHAP, SUPPLY_MV, WIRED_SLAB, WIRED_SUPPLY, WIRING_SLAB,
    WIRING_SUPPLY,
};
use glueday_firmware::{Board, Probes, Readings};

/// Ticks without feeding until the watchdog interrupts; it resets after as many more.
const WATCHDOG_TICKS: u32 = 150 * 25_000_000;
/// The watchdog wants to be fed this often.
const REST_US_MAX: u64 = 120_000_000;

/// The board.
#[derive(Debug)]
pub(crate) struct Bench {
    wants_to_send: bool,
    button_was_down: bool,
}

impl Bench {
    pub(crate) fn new() -> Self {
        watchdog::LOCK.write(0x1ACC_E551);
        watchdog::LOAD.write(WATCHDOG_TICKS);
        // Interrupts once, then resets.
        watchdog::CONTROL.write(0b11);
        Self { wants_to_send: false, button_was_down: false }
    }
}

impl Board for Bench {
    fn now_ms(&mut self) -> u64 {
        time::now_us() / 1000
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        line::receive(into)
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        let sent = line::send(bytes);
        self.wants_to_send = sent < bytes.len();
        sent
    }

    fn set_led(&mut self, lit: bool) {
        LEDS.write(lit.into());
        switchboard(LED).write(lit.into());
    }

    fn has_led(&mut self) -> bool {
        switchboard(LED_COVERED).read() == 0
    }

    fn button_is_down(&mut self) -> bool {
        self.button_was_down = switchboard(BUTTON).read() != 0;
        self.button_was_down
    }

    fn feed_watchdog(&mut self) {
        watchdog::CLEAR.write(1);
        let mishap = switchboard(MISHAP);
        match mishap.read() {
            1 => {
                mishap.write(0);
                crate::restart();
            }
            2 => {
                mishap.write(0);
                loop {
                    cortex_m::asm::nop();
                }
            }
            _ => {}
        }
    }

    fn rest(&mut self, until_ms: u64) {
        cost::end_turn();
        let until_us = until_ms.saturating_mul(1000).min(time::now_us() + REST_US_MAX);
        let (wants_to_send, button_was_down) = (self.wants_to_send, self.button_was_down);
        time::sleep(TIMER0, until_us, || {
            line::has_received()
                || (wants_to_send && line::takes_bytes())
                || (switchboard(BUTTON).read() != 0) != button_was_down
        });
    }
}

/// The probes, with the supply voltage that the switchboard says.
#[derive(Debug)]
pub(crate) struct Supplied<P>(pub(crate) P);

impl<P: Probes> Probes for Supplied<P> {
    fn read(&mut self) -> Readings {
        cost::sampled();
        for (from, to) in [(WIRING_SLAB, WIRED_SLAB), (WIRING_SUPPLY, WIRED_SUPPLY)] {
            switchboard(to).write(switchboard(from).read());
        }
        self.0.read()
    }

    fn supply_mv(&mut self) -> Option<u16> {
        match switchboard(SUPPLY_MV).read() {
            0 => None,
            supply_mv => Some(u16::try_from(supply_mv).unwrap_or(u16::MAX)),
        }
    }
}
