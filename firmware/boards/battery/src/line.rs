//! The line to the host: a UART at 115200 baud, through a cable with a USB adapter at its other end.
//!
//! An adapter that is plugged in holds its end high; without one, a resistor holds the input low. The
//! UART does not run while the chip is stopped. An edge wakes the chip, the first byte is lost with
//! the frame that it belongs to, and the host asks again.

use embassy_stm32::pac::{EXTI, GPIOA, SYSCFG, USART1, gpio};
use embassy_stm32::usart::BufferedUart;
use embedded_io::{Read as _, ReadReady as _, Write as _};

/// Bytes handed to the UART at once.
pub(crate) const SEND_LEN: usize = 256;
/// Bytes that wait for their turn: a few requests.
pub(crate) const RECEIVE_LEN: usize = 256;

/// The pin that receives is PA10, and the line of that number wakes the chip.
const PIN: usize = 10;
/// Port A.
const PORT: u8 = 0;
/// How long after the last byte the chip stays in a mode in which no byte is lost.
const AWAKE_MS: u64 = 10_000;
/// A line that was low for so long has nobody at its other end. The longest byte takes 0.1 ms.
const GONE_MS: u64 = 100;

/// The line.
pub(crate) struct Line<'d> {
    uart: BufferedUart<'d>,
    heard_ms: Option<u64>,
    high_ms: Option<u64>,
}

impl<'d> Line<'d> {
    /// The line on `uart`, which receives on PA10.
    pub(crate) fn new(uart: BufferedUart<'d>) -> Self {
        SYSCFG.exticr(PIN / 4).modify(|w| w.set_exti(PIN % 4, PORT));
        EXTI.rtsr(0).modify(|w| w.set_line(PIN, true));
        EXTI.ftsr(0).modify(|w| w.set_line(PIN, true));
        EXTI.imr(0).modify(|w| w.set_line(PIN, true));
        Self { uart, heard_ms: None, high_ms: None }
    }

    /// Notes what happened on the line since the last look.
    pub(crate) fn look(&mut self, now_ms: u64) {
        if EXTI.pr(0).read().line(PIN) {
            EXTI.pr(0).write(|w| w.set_line(PIN, true));
            self.heard_ms = Some(now_ms);
        }
        if GPIOA.idr().read().idr(PIN) == gpio::vals::Idr::HIGH {
            self.high_ms = Some(now_ms);
        }
    }

    /// Whether an adapter is plugged in.
    pub(crate) fn has_peer(&self, now_ms: u64) -> bool {
        self.high_ms.is_some_and(|high_ms| now_ms.saturating_sub(high_ms) < GONE_MS)
    }

    /// Whether bytes may come or are going, so that the UART must run.
    pub(crate) fn is_awake(&self, now_ms: u64) -> bool {
        let heard = self.heard_ms.is_some_and(|ms| now_ms.saturating_sub(ms) < AWAKE_MS);
        is_sending() || heard && self.has_peer(now_ms)
    }

    pub(crate) fn receive(&mut self, into: &mut [u8], now_ms: u64) -> usize {
        let received = match self.uart.read_ready() {
            Ok(true) => self.uart.read(into).unwrap_or(0),
            _ => 0,
        };
        if received > 0 {
            self.heard_ms = Some(now_ms);
        }
        received
    }

    /// Takes bytes when those before are gone: the UART would wait for room.
    pub(crate) fn send(&mut self, bytes: &[u8]) -> usize {
        if is_sending() {
            return 0;
        }
        let (now, _) = bytes.split_at_checked(SEND_LEN).unwrap_or((bytes, &[]));
        self.uart.write(now).unwrap_or(0)
    }
}

/// Whether bytes are waiting to go or going: the driver asks to be told of either end.
fn is_sending() -> bool {
    let control = USART1.cr1().read();
    control.txeie() || control.tcie() || !USART1.isr().read().tc()
}
