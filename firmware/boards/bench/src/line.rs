//! The serial line to the host.

use crate::registers::{UART0, UartRegisters, switchboard};
use core::cell::RefCell;
use cortex_m::interrupt::{self, Mutex};
use glueday_bench_tunnel::switchboard::OVERRUNS;
use heapless::Deque;

/// Bits of the state register.
pub(crate) const SEND_FULL: u32 = 1;
pub(crate) const RECEIVE_FULL: u32 = 1 << 1;
/// Bits of the control register.
const SEND: u32 = 1;
const RECEIVE: u32 = 1 << 1;
const SEND_INTERRUPT: u32 = 1 << 2;
const RECEIVE_INTERRUPT: u32 = 1 << 3;
/// 115200 bits a second from 25 MHz.
const DIVIDER: u32 = 217;

/// Bytes that came in and were not taken: more than the host sends without waiting for a reply.
static RECEIVED: Mutex<RefCell<Deque<u8, 128>>> = Mutex::new(RefCell::new(Deque::new()));

/// Starts a line that is asked whether it has bytes.
pub(crate) fn start_polled(uart: UartRegisters) {
    start_with(uart, SEND | RECEIVE);
}

/// Starts the line to the host, which interrupts with each byte.
pub(crate) fn start() {
    start_with(UART0, SEND | RECEIVE | RECEIVE_INTERRUPT);
}

fn start_with(uart: UartRegisters, control: u32) {
    uart.divider.write(DIVIDER);
    uart.control.write(control);
    // Until something is read, the emulator does not look for bytes on a line that was just switched
    // on, unless something else wakes it.
    if uart.state.read() & RECEIVE_FULL == 0 {
        let _ = uart.data.read();
    }
}

/// A byte came in.
pub(crate) fn on_received() {
    UART0.interrupts.write(RECEIVE);
    interrupt::free(|token| {
        let mut received = RECEIVED.borrow(token).borrow_mut();
        while UART0.state.read() & RECEIVE_FULL != 0 {
            // The lower eight bits are the byte.
            let [byte, ..] = UART0.data.read().to_le_bytes();
            if received.push_back(byte).is_err() {
                let overruns = switchboard(OVERRUNS);
                overruns.write(overruns.read().wrapping_add(1));
            }
        }
    });
}

/// The line takes bytes again. Nobody has to be told more than once.
pub(crate) fn on_sent() {
    UART0.interrupts.write(SEND);
    UART0.control.write(SEND | RECEIVE | RECEIVE_INTERRUPT);
}

/// Whether bytes came in.
pub(crate) fn has_received() -> bool {
    interrupt::free(|token| !RECEIVED.borrow(token).borrow().is_empty())
}

/// Takes bytes that came in.
pub(crate) fn receive(into: &mut [u8]) -> usize {
    interrupt::free(|token| {
        let mut received = RECEIVED.borrow(token).borrow_mut();
        let mut len = 0;
        for (slot, byte) in into.iter_mut().zip(core::iter::from_fn(|| received.pop_front())) {
            *slot = byte;
            len += 1;
        }
        len
    })
}

/// Sends bytes until the line is full.
pub(crate) fn send(bytes: &[u8]) -> usize {
    for (sent, byte) in bytes.iter().enumerate() {
        if UART0.state.read() & SEND_FULL != 0 {
            return sent;
        }
        UART0.data.write((*byte).into());
    }
    bytes.len()
}

/// Whether the line takes a byte. If it does not, an interrupt tells when it does.
pub(crate) fn takes_bytes() -> bool {
    if UART0.state.read() & SEND_FULL == 0 {
        return true;
    }
    UART0.control.write(SEND | RECEIVE | RECEIVE_INTERRUPT | SEND_INTERRUPT);
    // It may have been sent in between, without an interrupt.
    UART0.state.read() & SEND_FULL == 0
}
