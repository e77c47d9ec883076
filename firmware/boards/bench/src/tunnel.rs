//! An I2C bus whose devices are models in the tests, at the other end of a second serial line.

use crate::cost;
use crate::line::{RECEIVE_FULL, SEND_FULL, start_polled};
use crate::registers::UART1;
use crate::time::now_us;
use embedded_hal::i2c::{
    Error, ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation, SevenBitAddress,
};
use glueday_bench_tunnel::{
    ANSWER_FRAME_LEN_MAX, ASKED_FRAME_LEN_MAX, Answer, Asked, Outcome, read,
};
use glueday_types::frame::{self, Collector};
use heapless::Vec;

/// How long the model may take. Its machine may be busy, and the emulator's clock may run a hundred
/// times faster than it.
const TIMEOUT_US: u64 = 30_000_000;

/// The bus.
#[derive(Debug)]
pub(crate) struct Tunnel {
    number: u32,
}

/// Why a transaction was not done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum TunnelError {
    /// No device acknowledged.
    NoAnswer,
    /// The bus failed, or the model does not answer.
    BusFault,
    /// Not of the form that is carried: writes first, then reads, 16 bytes of each.
    NotCarried,
}

impl Error for TunnelError {
    fn kind(&self) -> ErrorKind {
        match self {
            Self::NoAnswer => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown),
            Self::BusFault => ErrorKind::Bus,
            Self::NotCarried => ErrorKind::Other,
        }
    }
}

impl Tunnel {
    pub(crate) fn new() -> Self {
        start_polled(UART1);
        Self { number: 0 }
    }

    /// Sends one question and hands the bytes of its answer to `take`.
    fn ask(
        &mut self,
        address: u8,
        write: &[u8],
        read_len: u8,
        take: impl FnMut(&[u8]) -> bool,
    ) -> Result<(), TunnelError> {
        self.number = self.number.wrapping_add(1);
        let asked = Asked { number: self.number, clock: cost::clock(), address, write, read_len };
        let mut bytes = [0; ASKED_FRAME_LEN_MAX];
        let frame = frame::write(&asked, &mut bytes).ok_or(TunnelError::NotCarried)?;
        // Not asleep: the emulator's clock would jump to the next alarm.
        cost::asleep(|| exchange(self.number, frame, take))
    }
}

fn exchange(
    number: u32,
    frame: &[u8],
    mut take: impl FnMut(&[u8]) -> bool,
) -> Result<(), TunnelError> {
    let end_us = now_us() + TIMEOUT_US;
    let in_time = || if now_us() < end_us { Ok(()) } else { Err(TunnelError::BusFault) };
    for byte in frame {
        while UART1.state.read() & SEND_FULL != 0 {
            in_time()?;
        }
        UART1.data.write((*byte).into());
    }
    let mut collector = Collector::<ANSWER_FRAME_LEN_MAX>::new();
    loop {
        in_time()?;
        if UART1.state.read() & RECEIVE_FULL == 0 {
            continue;
        }
        let [byte, ..] = UART1.data.read().to_le_bytes();
        let Some(Ok(payload)) = collector.push(byte) else { continue };
        match read::<Answer<'_>>(payload) {
            Some(answer) if answer.number == number => {
                return match answer.outcome {
                    Outcome::Done(bytes) if take(bytes) => Ok(()),
                    Outcome::Done(_) | Outcome::BusFault => Err(TunnelError::BusFault),
                    Outcome::NoAnswer => Err(TunnelError::NoAnswer),
                };
            }
            // Of a transaction that was given up, or noise.
            _ => {}
        }
    }
}

impl ErrorType for Tunnel {
    type Error = TunnelError;
}

impl I2c<SevenBitAddress> for Tunnel {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), Self::Error> {
        let mut written = Vec::<u8, 16>::new();
        let mut read_len = 0;
        for operation in operations.iter() {
            match operation {
                Operation::Write(bytes) if read_len == 0 => {
                    written.extend_from_slice(bytes).map_err(|_| TunnelError::NotCarried)?;
                }
                Operation::Write(_) => return Err(TunnelError::NotCarried),
                Operation::Read(bytes) => read_len += bytes.len(),
            }
        }
        let len = u8::try_from(read_len).ok().filter(|len| *len <= 16);
        let len = len.ok_or(TunnelError::NotCarried)?;
        self.ask(address, &written, len, |answer| {
            let mut answer = answer.iter();
            for operation in operations.iter_mut() {
                let Operation::Read(bytes) = operation else { continue };
                for byte in bytes.iter_mut() {
                    match answer.next() {
                        Some(answered) => *byte = *answered,
                        None => return false,
                    }
                }
            }
            answer.next().is_none()
        })
    }
}
