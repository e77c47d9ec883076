//! A serial line in virtual time between the host's real code and a [`ToyLogger`], with faults that a
//! seed decides.
//!
//! The line moves bytes at its speed, takes a turnaround for each request, and then drops, doubles,
//! damages, cuts and delays whole frames as often as [`Faults`] says. It counts everything.
//! [`OneFault`] is another such line, with one chosen fault, that leads to the [`RealLogger`] as well.

mod one_fault;
mod real_logger;
mod toy_logger;

pub use one_fault::{FarEnd, Fault, OneFault, Seen};
pub use real_logger::{Patterned, REAL_ID, RealLogger};
pub use toy_logger::{ToyLogger, frame};

use glueday::port::{PortError, Transport};
use std::collections::VecDeque;
use std::time::Duration;

/// How often out of 1000 frames each fault happens.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Faults {
    /// The frame does not come.
    pub dropped: u32,
    /// It comes twice.
    pub doubled: u32,
    /// One of its bits is wrong.
    pub flipped: u32,
    /// Only a part of it comes, so that it runs into the next.
    pub cut: u32,
    /// Other bytes come before it.
    pub noisy: u32,
    /// It comes up to three seconds late.
    pub late: u32,
}

/// The line.
#[derive(Clone, Debug)]
pub struct FaultyLink {
    /// At its other end.
    pub logger: ToyLogger,
    /// What goes wrong in both directions.
    pub faults: Faults,
    /// Bytes that still come before the plug is pulled.
    pub lives: Option<u64>,
    /// The logger restarts when this many bytes came, and says nothing for so long.
    pub restart: Option<(u64, Duration)>,
    /// Who answers after the restart, if somebody else.
    pub swap: Option<Box<ToyLogger>>,
    /// Bits per second, 8N1.
    pub baud: u32,
    /// Time between a request and the first byte of the reply.
    pub turnaround: Duration,
    /// Bytes that the host sent.
    pub sent: u64,
    /// Bytes that came to the host.
    pub received: u64,
    /// Requests that the host sent.
    pub turnarounds: u64,
    /// Frames that a fault befell.
    pub hit: u64,
    now: Duration,
    quiet_until: Duration,
    incoming: VecDeque<u8>,
    seed: u64,
}

impl FaultyLink {
    /// A line without faults, at 115200 baud with 16 ms turnaround.
    #[must_use]
    pub fn new(logger: ToyLogger) -> Self {
        Self {
            logger,
            faults: Faults::default(),
            lives: None,
            restart: None,
            swap: None,
            baud: 115_200,
            turnaround: Duration::from_millis(16),
            sent: 0,
            received: 0,
            turnarounds: 0,
            hit: 0,
            now: Duration::ZERO,
            quiet_until: Duration::ZERO,
            incoming: VecDeque::new(),
            seed: 1,
        }
    }

    /// The same with faults, as `seed` has them.
    #[must_use]
    pub fn with_faults(logger: ToyLogger, faults: Faults, seed: u64) -> Self {
        Self { faults, seed, ..Self::new(logger) }
    }

    /// Puts bytes on the line to the host, as if they were left from earlier.
    pub fn leave(&mut self, bytes: &[u8]) {
        self.incoming.extend(bytes);
    }

    /// Ends all faults, also those that are under way.
    pub fn calm(&mut self) {
        self.faults = Faults::default();
        self.restart = None;
        self.lives = None;
        self.quiet_until = self.now;
    }

    /// SplitMix64 (Steele, Lea and Flood 2014).
    fn random(&mut self) -> u64 {
        self.seed = self.seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.seed ^ (self.seed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, limit: usize) -> usize {
        let limit = u64::try_from(limit.max(1)).unwrap_or(1);
        usize::try_from(self.random() % limit).unwrap_or(0)
    }

    fn happens(&mut self, per_mille: u32) -> bool {
        let happens = self.random() % 1000 < u64::from(per_mille);
        self.hit += u64::from(happens);
        happens
    }

    fn time_of(&self, bytes: usize) -> Duration {
        Duration::from_secs(1) * u32::try_from(bytes * 10).unwrap_or(u32::MAX) / self.baud
    }

    /// What becomes of bytes on the way.
    fn spoil(&mut self, mut frame: Vec<u8>) -> Vec<u8> {
        let faults = self.faults;
        if self.happens(faults.dropped) {
            return Vec::new();
        }
        if self.happens(faults.flipped) {
            let bit = self.below(frame.len() * 8);
            if let Some(byte) = frame.get_mut(bit / 8) {
                *byte ^= 1 << (bit % 8);
            }
        }
        if self.happens(faults.cut) {
            let keep = self.below(frame.len());
            frame.truncate(keep);
        }
        if self.happens(faults.doubled) {
            frame.extend_from_within(..);
        }
        if self.happens(faults.noisy) {
            let noise = self.below(40);
            let mut bytes: Vec<u8> = (0..noise).map(|_| self.random().to_le_bytes()[0]).collect();
            bytes.append(&mut frame);
            frame = bytes;
        }
        frame
    }

    /// Lets the logger send, unless it is quiet.
    fn fetch(&mut self, until: Duration) {
        if let Some((after, quiet)) = self.restart
            && self.received >= after
        {
            self.restart = None;
            if let Some(other) = self.swap.take() {
                self.logger = *other;
            }
            self.logger.restart(glueday_types::BootReason::BrownOut);
            self.quiet_until = self.now + quiet;
        }
        while self.incoming.is_empty() && self.now < until {
            if self.now < self.quiet_until {
                self.now = self.quiet_until.min(until);
                continue;
            }
            let Some(frame) = self.logger.next_frame() else {
                self.now = until;
                break;
            };
            let took = self.time_of(frame.len());
            let late = self.faults.late;
            if self.happens(late) {
                let late_ms = u64::try_from(self.below(3000)).unwrap_or(0);
                self.quiet_until = self.now + Duration::from_millis(late_ms);
            }
            self.now += took;
            let frame = self.spoil(frame);
            self.incoming.extend(frame);
        }
    }

    fn gone(&self) -> PortError {
        PortError::Gone { port: self.name().to_owned(), detail: "unplugged".to_owned() }
    }
}

impl Transport for FaultyLink {
    fn name(&self) -> &str {
        "simulated line"
    }

    fn baud(&self) -> Option<u32> {
        Some(self.baud)
    }

    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        if self.lives == Some(0) {
            return Err(self.gone());
        }
        self.sent += u64::try_from(bytes.len()).unwrap_or(0);
        self.now += self.time_of(bytes.len());
        if bytes.len() > 1 {
            self.turnarounds += 1;
            self.now += self.turnaround;
        }
        let bytes = self.spoil(bytes.to_vec());
        if self.now >= self.quiet_until {
            self.logger.receive(&bytes);
        }
        Ok(())
    }

    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        self.fetch(self.now + timeout);
        if self.lives == Some(0) {
            return Err(self.gone());
        }
        let room = self.lives.map_or(into.len(), |lives| {
            into.len().min(usize::try_from(lives).unwrap_or(usize::MAX))
        });
        let len = room.min(self.incoming.len());
        for (slot, byte) in into.iter_mut().zip(self.incoming.drain(..len)) {
            *slot = byte;
        }
        let moved = u64::try_from(len).unwrap_or(0);
        self.received += moved;
        self.lives = self.lives.map(|lives| lives - moved);
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
