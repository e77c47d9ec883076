//! The board as the logger sees it.
//!
//! Interrupts are masked from the first line of `main` on and no handler exists: an interrupt that is
//! asked for ends the rest, and the loop sees what there is to do. So nothing ever runs beside the
//! loop, and nothing has to be locked.

use crate::line::Line;
use embedded_hal::digital::{InputPin as _, OutputPin as _};
use glueday_firmware::Board;
use rp2040_hal::fugit::MicrosDurationU32;
use rp2040_hal::gpio::bank0::{Gpio9, Gpio25};
use rp2040_hal::gpio::{
    FunctionSioInput, FunctionSioOutput, Interrupt as Edge, Pin, PullDown, PullUp,
};
use rp2040_hal::pac::{Interrupt, NVIC};
use rp2040_hal::timer::{Alarm as _, Alarm0, Timer};
use rp2040_hal::watchdog::Watchdog;

/// What the watchdog lets pass without being fed, nearly the longest that it can. A turn takes 1 s of
/// probes and five writes with an erase of 0.4 s each at worst, so 3 s.
pub(crate) const WATCHDOG_US: MicrosDurationU32 = MicrosDurationU32::micros(8_300_000);

/// The longest rest: the watchdog wants to be fed.
const REST_MAX_US: u64 = 2_000_000;

/// What ends a rest.
const WAKES: [Interrupt; 3] =
    [Interrupt::TIMER_IRQ_0, Interrupt::USBCTRL_IRQ, Interrupt::IO_IRQ_BANK0];

/// To ground when pressed.
pub(crate) type ButtonPin = Pin<Gpio9, FunctionSioInput, PullUp>;
/// The LED on the board.
pub(crate) type LedPin = Pin<Gpio25, FunctionSioOutput, PullDown>;

/// The board.
pub(crate) struct Pico<'l, 'u> {
    timer: Timer,
    alarm: Alarm0,
    watchdog: Watchdog,
    line: &'l Line<'u>,
    led: LedPin,
    button: ButtonPin,
}

impl<'l, 'u> Pico<'l, 'u> {
    /// The board. Interrupts must be masked, or the first that comes ends the program.
    pub(crate) fn new(
        timer: Timer,
        mut alarm: Alarm0,
        watchdog: Watchdog,
        line: &'l Line<'u>,
        led: LedPin,
        button: ButtonPin,
    ) -> Self {
        alarm.enable_interrupt();
        button.set_interrupt_enabled(Edge::EdgeLow, true);
        button.set_interrupt_enabled(Edge::EdgeHigh, true);
        for wake in WAKES {
            // SAFETY: all interrupts stay masked in the processor, so that no handler is run.
            unsafe { NVIC::unmask(wake) };
        }
        Self { timer, alarm, watchdog, line, led, button }
    }

    fn now_us(&self) -> u64 {
        self.timer.get_counter().ticks()
    }
}

impl Board for Pico<'_, '_> {
    fn now_ms(&mut self) -> u64 {
        self.now_us() / 1000
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        self.line.receive(into)
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        self.line.send(bytes)
    }

    fn has_peer(&mut self) -> bool {
        self.line.has_peer()
    }

    fn set_led(&mut self, lit: bool) {
        // Neither can fail.
        let _ = if lit { self.led.set_high() } else { self.led.set_low() };
    }

    fn button_is_down(&mut self) -> bool {
        self.button.is_low().unwrap_or(false)
    }

    fn feed_watchdog(&mut self) {
        self.watchdog.feed();
    }

    fn rest(&mut self, until_ms: u64) {
        if self.line.poll() {
            return;
        }
        let wait_us = until_ms.saturating_mul(1000).saturating_sub(self.now_us()).min(REST_MAX_US);
        let Ok(wait_us) = u32::try_from(wait_us) else { return };
        if wait_us == 0 || self.alarm.schedule(MicrosDurationU32::micros(wait_us)).is_err() {
            return;
        }
        // What came since the last rest is still asked for, so that nothing is slept through.
        cortex_m::asm::dsb();
        cortex_m::asm::wfi();
        self.alarm.clear_interrupt();
        self.button.clear_interrupt(Edge::EdgeLow);
        self.button.clear_interrupt(Edge::EdgeHigh);
        for wake in WAKES {
            NVIC::unpend(wake);
        }
    }
}
