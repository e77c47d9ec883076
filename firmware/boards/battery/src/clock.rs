//! Time from the watch crystal, and rests that it ends.
//!
//! LPTIM1 counts the crystal in every mode of the chip that is used here, Stop 2 among them.
//!
//! Rests end by `wfe`: an interrupt that becomes pending sets the processor's event register, whether
//! it is enabled or not (SEVONPEND), and the register keeps what came before the rest began. So no
//! edge is lost between looking and resting, and no interrupt needs code.

use core::cell::Cell;
use cortex_m::peripheral::{DCB, DWT, NVIC};
use embassy_stm32::interrupt::Interrupt;
use embassy_stm32::pac::{EXTI, LPTIM1, RCC, lptim, rcc};
use embedded_hal::delay::DelayNs;
use glueday_firmware::ticks::Ticks;

/// Cycles of the processor in a microsecond.
const CYCLES_US: u32 = 16;
/// Delays from here on are rests.
const REST_US: u32 = 4_000;
/// Looks at a register that follows within three periods of the crystal, 100 µs.
const LOOKS_MAX: u32 = 2_000;
/// The place of LPTIM1 among the lines that can wake the chip.
const LPTIM1_LINE: usize = 32;

/// Time since the logger started.
pub(crate) struct Clock {
    ticks: Cell<Ticks>,
}

impl Clock {
    /// Starts to count. The crystal runs already.
    pub(crate) fn start(dcb: &mut DCB, dwt: &mut DWT) -> Self {
        dcb.enable_trace();
        dwt.enable_cycle_counter();
        RCC.ccipr().modify(|w| w.set_lptim1sel(rcc::vals::Lptim1sel::LSE));
        RCC.apb1enr1().modify(|w| w.set_lptim1en(true));
        EXTI.imr(LPTIM1_LINE / 32).modify(|w| w.set_line(LPTIM1_LINE % 32, true));
        LPTIM1.cfgr().write(|w| w.set_presc(lptim::vals::Presc::DIV32));
        LPTIM1.ier().write(|w| w.set_ccie(0, true));
        // From here on for ever: stopping it in the wrong moment would leave its interrupt stuck.
        LPTIM1.cr().write(|w| w.set_enable(true));
        LPTIM1.arr().write(|w| w.set_arr(u16::MAX));
        wait(|| LPTIM1.isr().read().arrok());
        LPTIM1.cr().write(|w| {
            w.set_enable(true);
            w.set_cntstrt(true);
        });
        Self { ticks: Cell::new(Ticks::new(counter())) }
    }

    /// Milliseconds since the start.
    pub(crate) fn now_ms(&self) -> u64 {
        let mut ticks = self.ticks.get();
        let now_ms = ticks.now_ms(counter());
        self.ticks.set(ticks);
        now_ms
    }

    /// Rests until `until_ms` or until something happens; may return earlier.
    pub(crate) fn rest(&self, until_ms: u64) {
        // Pending again from here on is what ends the rest.
        LPTIM1.icr().write(|w| {
            w.set_cccf(0, true);
            w.set_cmpokcf(0, true);
        });
        for interrupt in [Interrupt::LPTIM1, Interrupt::EXTI1, Interrupt::EXTI15_10] {
            NVIC::unpend(interrupt);
        }
        self.now_ms();
        let Some(alarm) = self.ticks.get().alarm(until_ms) else { return };
        // The last place before the counter goes round gives no alarm.
        LPTIM1.cmp().write(|w| w.set_cmp(alarm.min(u16::MAX - 1)));
        wait(|| LPTIM1.isr().read().cmpok(0));
        self.now_ms();
        if self.ticks.get().alarm(until_ms).is_some() {
            cortex_m::asm::dsb();
            cortex_m::asm::wfe();
        }
    }
}

/// The counter, which moves by another clock than the processor's: two looks have to agree.
fn counter() -> u16 {
    let mut before = LPTIM1.cnt().read().cnt();
    for _ in 0..LOOKS_MAX {
        let now = LPTIM1.cnt().read().cnt();
        if now == before {
            break;
        }
        before = now;
    }
    before
}

/// Waits until a register has followed, not for ever.
fn wait(has_followed: impl Fn() -> bool) {
    for _ in 0..LOOKS_MAX {
        if has_followed() {
            break;
        }
    }
}

/// Waits for probes and flash: short times by counting cycles, long ones in light sleep.
#[derive(Clone, Copy)]
pub(crate) struct Delay<'c>(pub(crate) &'c Clock);

impl Delay<'_> {
    fn rest_ms(self, ms: u32) {
        // One more, because the millisecond that it is now has begun already.
        let until_ms = self.0.now_ms() + u64::from(ms) + 1;
        while self.0.now_ms() < until_ms {
            self.0.rest(until_ms);
        }
    }
}

impl DelayNs for Delay<'_> {
    #[inline]
    fn delay_ns(&mut self, ns: u32) {
        let from = DWT::cycle_count();
        let cycles = ns.div_ceil(1000).saturating_mul(CYCLES_US);
        while DWT::cycle_count().wrapping_sub(from) < cycles {}
    }

    #[inline]
    fn delay_us(&mut self, us: u32) {
        if us >= REST_US {
            self.rest_ms(us.div_ceil(1000));
        } else {
            self.delay_ns(us * 1000);
        }
    }

    fn delay_ms(&mut self, ms: u32) {
        if ms > 0 {
            self.rest_ms(ms);
        }
    }
}
