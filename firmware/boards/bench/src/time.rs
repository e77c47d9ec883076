//! Time, delays and sleep.
//!
//! SysTick counts microseconds of an external clock and is never set anew, so that no time is lost;
//! two other timers wake the processor.

use crate::cost;
use crate::registers::{TIMER0, TIMER1, TimerRegisters};
use core::cell::Cell;
use cortex_m::interrupt::{self, Mutex};
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::peripheral::{SCB, SYST};
use embedded_hal::delay::DelayNs;

/// Microseconds in a period of SysTick, which has 24 bits.
const PERIOD_US: u32 = 16_000_000;
/// Ticks of the other timers in a microsecond.
const TICKS_PER_US: u32 = 25;
/// The longest time that they reach.
const ALARM_US_MAX: u32 = 160_000_000;
/// A delay under this is not worth a sleep. Devices in the emulator need no time between two edges,
/// so that it is not waited for at all.
const SHORT_US: u32 = 50;

static PERIODS: Mutex<Cell<u32>> = Mutex::new(Cell::new(0));

/// Starts the clock.
pub(crate) fn start(systick: &mut SYST) {
    systick.set_clock_source(SystClkSource::External);
    systick.set_reload(PERIOD_US - 1);
    systick.clear_current();
    systick.enable_interrupt();
    systick.enable_counter();
    for timer in [TIMER0, TIMER1] {
        // No reload: it runs once for each value that is set.
        timer.reload.write(0);
        timer.value.write(u32::MAX);
        timer.control.write(ENABLE | INTERRUPT);
    }
}

/// Bits of a timer's control register.
const ENABLE: u32 = 1;
const INTERRUPT: u32 = 1 << 3;

/// A period of SysTick is over.
pub(crate) fn on_systick() {
    interrupt::free(|token| {
        let periods = PERIODS.borrow(token);
        periods.set(periods.get().wrapping_add(1));
    });
}

/// One of the other timers has run down: there is nothing to do but that the processor woke.
pub(crate) fn on_timer(timer: TimerRegisters) {
    timer.interrupts.write(1);
}

/// Microseconds since the start.
pub(crate) fn now_us() -> u64 {
    interrupt::free(|token| {
        let periods = PERIODS.borrow(token).get();
        // At zero, a period is over and its interrupt may not be pending yet: that is told apart one
        // microsecond later.
        loop {
            let before = SCB::is_pendst_pending();
            let left_us = SYST::get_current();
            if left_us != 0 && before == SCB::is_pendst_pending() {
                let periods = u64::from(periods) + u64::from(before);
                return periods * u64::from(PERIOD_US) + u64::from(PERIOD_US - left_us);
            }
        }
    })
}

/// Sleeps until `until_us` or until `is_over` says so, which is asked whenever an interrupt came.
///
/// What an interrupt brings between the question and the sleep is not missed: interrupts are masked
/// meanwhile, and a masked one wakes the processor all the same.
pub(crate) fn sleep(timer: TimerRegisters, until_us: u64, mut is_over: impl FnMut() -> bool) {
    loop {
        let left_us = until_us.saturating_sub(now_us());
        if left_us == 0 {
            return;
        }
        let left_us = u32::try_from(left_us).unwrap_or(u32::MAX).min(ALARM_US_MAX);
        timer.value.write(left_us * TICKS_PER_US);
        let over = interrupt::free(|_| {
            let over = is_over();
            if !over {
                cost::asleep(cortex_m::asm::wfi);
            }
            over
        });
        if over {
            return;
        }
    }
}

/// Delays that sleep.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Delay;

impl DelayNs for Delay {
    fn delay_ns(&mut self, ns: u32) {
        self.delay_us(ns.div_ceil(1000));
    }

    fn delay_us(&mut self, us: u32) {
        if us >= SHORT_US {
            // One more, since the first is not a whole one.
            sleep(TIMER1, now_us() + u64::from(us) + 1, || false);
        }
    }

    fn delay_ms(&mut self, ms: u32) {
        sleep(TIMER1, now_us() + u64::from(ms) * 1000 + 1, || false);
    }
}
