//! The waits of the probes, in which USB goes on.

use crate::line::Line;
use embedded_hal::delay::DelayNs;
use rp2040_hal::timer::Timer;

/// Waits from this on leave time for USB; shorter ones are parts of a bit on a wire.
const LONG_US: u32 = 1_000;

/// Waits on the timer.
#[derive(Clone, Copy)]
pub(crate) struct Pause<'l, 'u> {
    pub(crate) timer: Timer,
    pub(crate) line: &'l Line<'u>,
}

impl DelayNs for Pause<'_, '_> {
    fn delay_ns(&mut self, ns: u32) {
        self.delay_us(ns.div_ceil(1000));
    }

    fn delay_us(&mut self, us: u32) {
        if us < LONG_US {
            // One more, since the timer is somewhere within its microsecond.
            self.timer.delay_us(us + 1);
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
