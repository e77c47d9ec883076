//! The waits of the probes, in which USB goes on.

use crate::line::Line;
use cortex_m::peripheral::SYST;
use cortex_m::peripheral::syst::SystClkSource;
use embedded_hal::delay::DelayNs;
use rp2040_hal::timer::Timer;

/// Cycles of the processor in a microsecond, as `init_clocks_and_plls` sets it up. With a slower one,
/// fetching the code of a bit on a wire from flash would take too much of the bit.
pub(crate) const CYCLES_PER_US: u32 = 125;

/// The counter of cycles has 24 bits and counts down.
const CYCLES_MASK: u32 = 0x00FF_FFFF;

/// Waits from this on leave time for USB; shorter ones are parts of a bit on a wire.
const LONG_US: u32 = 1_000;

const _: () = assert!(LONG_US * CYCLES_PER_US < CYCLES_MASK);

/// Waits: short ones to a fraction of a microsecond, long ones on the timer.
#[derive(Clone, Copy)]
pub(crate) struct Pause<'l, 'u> {
    timer: Timer,
    line: &'l Line<'u>,
}

impl<'l, 'u> Pause<'l, 'u> {
    pub(crate) fn new(mut cycles: SYST, timer: Timer, line: &'l Line<'u>) -> Self {
        cycles.set_clock_source(SystClkSource::Core);
        cycles.set_reload(CYCLES_MASK);
        cycles.clear_current();
        cycles.enable_counter();
        Self { timer, line }
    }
}

impl DelayNs for Pause<'_, '_> {
    fn delay_ns(&mut self, ns: u32) {
        self.delay_us(ns.div_ceil(1000));
    }

    fn delay_us(&mut self, us: u32) {
        if us < LONG_US {
            let from = SYST::get_current();
            while from.wrapping_sub(SYST::get_current()) & CYCLES_MASK < us * CYCLES_PER_US {}
            return;
        }
        let from_us = self.timer.get_counter().ticks();
        while self.timer.get_counter().ticks() - from_us <= u64::from(us) {
            self.line.poll();
        }
    }

    fn delay_ms(&mut self, ms: u32) {
        for _ in 0..ms {
            self.delay_us(1000);
        }
    }
}
