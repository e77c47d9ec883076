//! A line in virtual time on which one chosen thing goes wrong with one chosen frame, or each bit with
//! a given probability.
//!
//! A frame is what the host or the logger sends at once; they are counted in both directions together,
//! from 0, in the order in which they are sent.

use crate::flash::Random;
use glueday::port::{PortError, Transport};
use std::cell::Cell;
use std::collections::VecDeque;
use std::fmt;
use std::rc::Rc;
use std::time::Duration;

/// What a line leads to.
pub trait FarEnd {
    /// Takes bytes from the line. `now_s` counts on through restarts.
    fn receive(&mut self, bytes: &[u8], now_s: u32);
    /// The next frame that it sends, if it has one.
    fn next_frame(&mut self, now_s: u32) -> Option<Vec<u8>>;
    /// Loses power and starts again.
    fn restart(&mut self, now_s: u32);
}

/// What goes wrong with a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Only so many of its bytes come.
    Cut(usize),
    /// This bit of it is wrong.
    Flip(usize),
    /// It does not come.
    Drop,
    /// It comes twice.
    Double,
    /// It comes behind the next frame of its direction.
    Hold,
    /// It comes so many milliseconds late.
    Late(u32),
    /// It comes, and once more so many milliseconds later.
    Echo(u32),
    /// So many of its bytes come, then the logger restarts and says nothing for half a second.
    Reset(usize),
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cut(at) => write!(f, "cut={at}"),
            Self::Flip(bit) => write!(f, "flip={bit}"),
            Self::Drop => f.write_str("drop=1"),
            Self::Double => f.write_str("double=1"),
            Self::Hold => f.write_str("hold=1"),
            Self::Late(ms) => write!(f, "late={ms}"),
            Self::Echo(ms) => write!(f, "echo={ms}"),
            Self::Reset(at) => write!(f, "reset={at}"),
        }
    }
}

impl Fault {
    /// Reads what `Display` writes.
    #[must_use]
    pub fn parse(name: &str, value: &str) -> Option<Self> {
        let number = value.parse::<usize>().ok()?;
        let ms = u32::try_from(number).ok()?;
        Some(match name {
            "cut" => Self::Cut(number),
            "flip" => Self::Flip(number),
            "drop" => Self::Drop,
            "double" => Self::Double,
            "hold" => Self::Hold,
            "late" => Self::Late(ms),
            "echo" => Self::Echo(ms),
            "reset" => Self::Reset(number),
            _ => return None,
        })
    }
}

/// How long a logger needs to start, as far as the line sees it.
const START: Duration = Duration::from_millis(500);

/// A frame that was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// By the host, to the logger.
    pub to_logger: bool,
    /// As it was sent.
    pub bytes: Vec<u8>,
}

/// The line.
#[derive(Debug)]
pub struct OneFault<E> {
    /// At its other end.
    pub far: E,
    /// What befalls which frame.
    pub fault: Option<(usize, Fault)>,
    /// A frame that does not come, besides.
    pub lost: Option<usize>,
    /// How probable it is that a bit is wrong, those that frame a byte included.
    pub bit_errors: f64,
    /// Chooses them.
    pub random: Random,
    /// What was sent, if it is kept.
    pub seen: Option<Vec<Seen>>,
    /// Frames that were sent.
    pub frames: usize,
    /// Whether the fault befell a frame.
    pub befell: bool,
    /// Bits that were wrong by chance.
    pub wrong_bits: u64,
    /// What the time is on the line, for who has no hold of it.
    pub clock: Rc<Cell<Duration>>,
    now: Duration,
    quiet_until: Duration,
    incoming: VecDeque<u8>,
    held_up: Option<Vec<u8>>,
    held_down: Option<Vec<u8>>,
    later: Vec<(Duration, bool, Vec<u8>)>,
}

impl<E: FarEnd> OneFault<E> {
    /// A line without faults, at 115200 baud.
    #[must_use]
    pub fn new(far: E) -> Self {
        Self {
            far,
            fault: None,
            lost: None,
            bit_errors: 0.0,
            random: Random(1),
            seen: None,
            frames: 0,
            befell: false,
            wrong_bits: 0,
            clock: Rc::default(),
            now: Duration::ZERO,
            quiet_until: Duration::ZERO,
            incoming: VecDeque::new(),
            held_up: None,
            held_down: None,
            later: Vec::new(),
        }
    }

    /// Seconds on the line's clock.
    #[must_use]
    pub fn now_s(&self) -> u32 {
        u32::try_from(self.now.as_secs()).unwrap_or(u32::MAX)
    }

    /// Ends all faults, lets pass what is still under way, and the logger answer it.
    pub fn calm(&mut self) {
        self.fault = None;
        self.lost = None;
        self.bit_errors = 0.0;
        self.seen = None;
        let end = self.later.iter().map(|(due, ..)| *due).max().unwrap_or(self.now);
        self.now = self.now.max(end).max(self.quiet_until);
        self.arrive();
        if let Some(frame) = self.held_up.take() {
            self.give(&frame);
        }
        if let Some(frame) = self.held_down.take() {
            self.incoming.extend(frame);
        }
        let now_s = self.now_s();
        while let Some(frame) = self.far.next_frame(now_s) {
            self.incoming.extend(frame);
        }
        self.clock.set(self.now);
    }

    fn time_of(bytes: usize) -> Duration {
        Duration::from_secs(1) * u32::try_from(bytes * 10).unwrap_or(u32::MAX) / 115_200
    }

    fn give(&mut self, bytes: &[u8]) {
        if self.now >= self.quiet_until {
            let now_s = self.now_s();
            self.far.receive(bytes, now_s);
        }
    }

    fn pass(&mut self, to_logger: bool, bytes: &[u8]) {
        if to_logger {
            self.give(bytes);
        } else {
            self.incoming.extend(bytes);
        }
    }

    fn reset(&mut self) {
        let now_s = self.now_s();
        self.far.restart(now_s);
        self.quiet_until = self.now + START;
    }

    /// Ten bits make a byte on the line; without its start or stop bit it is lost.
    fn by_chance(&mut self, bytes: &mut Vec<u8>) {
        if self.bit_errors <= 0.0 {
            return;
        }
        let mut kept = Vec::with_capacity(bytes.len());
        for byte in bytes.iter() {
            let mut byte = *byte;
            let mut framed = true;
            for bit in 0..10_u32 {
                if self.random.uniform() < self.bit_errors {
                    self.wrong_bits += 1;
                    match bit {
                        0..8 => byte ^= 1 << bit,
                        _ => framed = false,
                    }
                }
            }
            if framed {
                kept.push(byte);
            }
        }
        *bytes = kept;
    }

    /// A frame sets out, and what becomes of it comes out at the other side.
    fn send(&mut self, to_logger: bool, mut bytes: Vec<u8>) {
        let number = self.frames;
        self.frames += 1;
        if let Some(seen) = &mut self.seen {
            seen.push(Seen { to_logger, bytes: bytes.clone() });
        }
        self.by_chance(&mut bytes);
        let fault = self.fault.filter(|(at, _)| *at == number).map(|(_, fault)| fault);
        self.befell |= fault.is_some();
        let held = if to_logger { self.held_up.take() } else { self.held_down.take() };
        match fault {
            None if self.lost == Some(number) => {}
            None => self.pass(to_logger, &bytes),
            Some(Fault::Cut(at)) => {
                bytes.truncate(at);
                self.pass(to_logger, &bytes);
            }
            Some(Fault::Flip(bit)) => {
                if let Some(byte) = bytes.get_mut(bit / 8) {
                    *byte ^= 1 << (bit % 8);
                }
                self.pass(to_logger, &bytes);
            }
            Some(Fault::Drop) => {}
            Some(Fault::Double) => {
                self.pass(to_logger, &bytes);
                self.pass(to_logger, &bytes);
            }
            Some(Fault::Hold) if to_logger => self.held_up = Some(bytes),
            Some(Fault::Hold) => self.held_down = Some(bytes),
            Some(Fault::Late(ms)) => {
                self.later.push((self.now + Duration::from_millis(ms.into()), to_logger, bytes));
            }
            Some(Fault::Echo(ms)) => {
                self.pass(to_logger, &bytes);
                self.later.push((self.now + Duration::from_millis(ms.into()), to_logger, bytes));
            }
            Some(Fault::Reset(at)) => {
                bytes.truncate(at);
                self.pass(to_logger, &bytes);
                self.reset();
            }
        }
        if let Some(held) = held {
            self.pass(to_logger, &held);
        }
    }

    /// Hands over what is due by now.
    fn arrive(&mut self) {
        let now = self.now;
        let due: Vec<_> = self.later.extract_if(.., |(due, ..)| *due <= now).collect();
        for (_, to_logger, bytes) in due {
            self.pass(to_logger, &bytes);
        }
    }
}

impl<E: FarEnd> Transport for OneFault<E> {
    fn name(&self) -> &str {
        "simulated line"
    }

    fn baud(&self) -> Option<u32> {
        Some(115_200)
    }

    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.now += Self::time_of(bytes.len());
        self.arrive();
        self.send(true, bytes.to_vec());
        self.clock.set(self.now);
        Ok(())
    }

    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        let until = self.now + timeout;
        loop {
            self.arrive();
            if !self.incoming.is_empty() || self.now >= until {
                break;
            }
            let now_s = self.now_s();
            if self.now >= self.quiet_until
                && let Some(frame) = self.far.next_frame(now_s)
            {
                self.now += Self::time_of(frame.len());
                self.send(false, frame);
                continue;
            }
            let next = self.later.iter().map(|(due, ..)| *due).chain([until]).min();
            let quiet = Some(self.quiet_until).filter(|at| *at > self.now);
            self.now = next.into_iter().chain(quiet).min().unwrap_or(until);
        }
        self.clock.set(self.now);
        let len = into.len().min(self.incoming.len());
        for (slot, byte) in into.iter_mut().zip(self.incoming.drain(..len)) {
            *slot = byte;
        }
        Ok(len)
    }

    fn discard_input(&mut self) -> Result<(), PortError> {
        self.incoming.clear();
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        self.now
    }
}
