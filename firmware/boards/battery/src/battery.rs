//! The board as the logger sees it.

use crate::clock::Clock;
use crate::line::Line;
use cortex_m::peripheral::SCB;
use embassy_stm32::gpio::{Input, Level, Output};
use embassy_stm32::pac::{EXTI, PWR, RCC, SYSCFG, pwr, rcc};
use embassy_stm32::peripherals::IWDG;
use embassy_stm32::wdg::IndependentWatchdog;
use glueday_firmware::Board;

/// How long the logger may be silent. The watchdog's own clock is up to 5 % fast.
pub(crate) const WATCHDOG_US: u32 = 32_000_000;
/// The longest rest: half of that.
const REST_MAX_MS: u64 = 16_000;
/// The button is on PA1, and the line of that number wakes the chip.
const BUTTON_LINE: usize = 1;
/// An event that wakes from `wfe` is also an interrupt that is pending but not enabled.
const SEVONPEND: u32 = 1 << 4;

/// A low-power chip with a watch crystal, a UART, an LED and a button.
pub(crate) struct Battery<'b> {
    clock: &'b Clock,
    core: SCB,
    line: Line<'b>,
    led: Output<'b>,
    button: Input<'b>,
    watchdog: IndependentWatchdog<'b, IWDG>,
}

impl<'b> Battery<'b> {
    /// The board, with `button` on PA1.
    pub(crate) fn new(
        clock: &'b Clock,
        core: SCB,
        line: Line<'b>,
        led: Output<'b>,
        button: Input<'b>,
        watchdog: IndependentWatchdog<'b, IWDG>,
    ) -> Self {
        // SAFETY: the bit only lets more interrupts end `wfe`, which every caller takes for nothing
        // but a reason to look again.
        unsafe { core.scr.modify(|scr| scr | SEVONPEND) };
        RCC.cfgr().modify(|w| w.set_stopwuck(rcc::vals::Stopwuck::HSI));
        PWR.cr1().modify(|w| w.set_lpms(pwr::vals::Lpms::STOP2));
        SYSCFG.exticr(BUTTON_LINE / 4).modify(|w| w.set_exti(BUTTON_LINE % 4, 0));
        EXTI.rtsr(0).modify(|w| w.set_line(BUTTON_LINE, true));
        EXTI.ftsr(0).modify(|w| w.set_line(BUTTON_LINE, true));
        EXTI.imr(0).modify(|w| w.set_line(BUTTON_LINE, true));
        Self { clock, core, line, led, button, watchdog }
    }
}

impl Board for Battery<'_> {
    fn now_ms(&mut self) -> u64 {
        self.clock.now_ms()
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        self.line.receive(into, self.clock.now_ms())
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        self.line.send(bytes)
    }

    fn has_peer(&mut self) -> bool {
        let now_ms = self.clock.now_ms();
        self.line.look(now_ms);
        self.line.has_peer(now_ms)
    }

    fn set_led(&mut self, lit: bool) {
        self.led.set_level(Level::from(lit));
    }

    fn button_is_down(&mut self) -> bool {
        self.button.is_low()
    }

    fn feed_watchdog(&mut self) {
        self.watchdog.pet();
    }

    fn rest(&mut self, until_ms: u64) {
        let now_ms = self.clock.now_ms();
        self.line.look(now_ms);
        EXTI.pr(0).write(|w| w.set_line(BUTTON_LINE, true));
        if !self.line.is_awake(now_ms) {
            self.core.set_sleepdeep();
        }
        self.clock.rest(until_ms.min(now_ms + REST_MAX_MS));
        self.core.clear_sleepdeep();
        self.line.look(self.clock.now_ms());
    }
}
