//! What running costs: ticks awake, and how deep the stack went. Written to the switchboard.
//!
//! The emulator counts instructions by its clock when told to, so that ticks awake are instructions.

use crate::registers::{SECONDS, TICKS, TICKS_PRESCALER, switchboard};
use core::cell::Cell;
use cortex_m::interrupt::Mutex;
use glueday_bench_tunnel::Clock;
use glueday_bench_tunnel::switchboard::{
    IDLE_TICKS, IDLE_TURNS, SAMPLE_TICKS, SAMPLE_TURNS, STACK_FLOOR, STACK_PAINT, STACK_TOP,
};

/// Counts that belong to the turn under way.
struct Turn {
    began: Cell<u32>,
    not_counted: Cell<u32>,
    sampled: Cell<bool>,
}

static TURN: Mutex<Turn> =
    Mutex::new(Turn { began: Cell::new(0), not_counted: Cell::new(0), sampled: Cell::new(false) });

/// Starts the counter of ticks.
pub(crate) fn start() {
    TICKS_PRESCALER.write(0);
    cortex_m::interrupt::free(|token| TURN.borrow(token).began.set(TICKS.read()));
}

/// The time by the counters that are not the logger's clock.
pub(crate) fn clock() -> Clock {
    Clock { seconds: SECONDS.read(), ticks: TICKS.read() }
}

/// Does something that is not counted: sleeping, or waiting for a model of a device.
pub(crate) fn asleep<T>(what: impl FnOnce() -> T) -> T {
    let began = TICKS.read();
    let result = what();
    let took = TICKS.read().wrapping_sub(began);
    cortex_m::interrupt::free(|token| {
        let not_counted = &TURN.borrow(token).not_counted;
        not_counted.set(not_counted.get().wrapping_add(took));
    });
    result
}

/// This turn has a sample.
pub(crate) fn sampled() {
    cortex_m::interrupt::free(|token| TURN.borrow(token).sampled.set(true));
}

/// Ends a turn and begins the next.
pub(crate) fn end_turn() {
    cortex_m::interrupt::free(|token| {
        let turn = TURN.borrow(token);
        let now = TICKS.read();
        let took = now.wrapping_sub(turn.began.replace(now)).wrapping_sub(turn.not_counted.take());
        let (turns, ticks) = if turn.sampled.take() {
            (SAMPLE_TURNS, SAMPLE_TICKS)
        } else {
            (IDLE_TURNS, IDLE_TICKS)
        };
        let turns = switchboard(turns);
        turns.write(turns.read().wrapping_add(1));
        let (low, high) = (switchboard(ticks), switchboard(ticks + 4));
        let (sum, carry) = low.read().overflowing_add(took);
        low.write(sum);
        high.write(high.read().wrapping_add(carry.into()));
    });
}

/// Fills the free stack, and says where it is. To be called first.
#[inline(never)]
pub(crate) fn paint_stack() {
    let floor = cortex_m_rt::heap_start().addr();
    let top = cortex_m::register::msp::read();
    let top = usize::try_from(top).unwrap_or(floor);
    switchboard(STACK_FLOOR).write(word(floor));
    switchboard(STACK_TOP).write(word(STACK_TOP_ADDRESS));
    // What is used of it now is a little above the pointer.
    for at in (floor..top.saturating_sub(64)).step_by(4) {
        // SAFETY: between the end of the static data and the stack pointer, where nothing lives.
        unsafe { core::ptr::with_exposed_provenance_mut::<u32>(at).write_volatile(STACK_PAINT) };
    }
    for counter in
        [IDLE_TURNS, SAMPLE_TURNS, IDLE_TICKS, IDLE_TICKS + 4, SAMPLE_TICKS, SAMPLE_TICKS + 4]
    {
        switchboard(counter).write(0);
    }
}

/// The end of the 16 KiB of RAM in `memory.x`.
const STACK_TOP_ADDRESS: usize = 0x2000_4000;

/// A `usize` has 32 bits here.
fn word(address: usize) -> u32 {
    u32::try_from(address).unwrap_or(0)
}
