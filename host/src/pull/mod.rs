//! Talks to a logger: asks who it is and how it is, sets its clock, and pulls its log.
//!
//! [`Exchange`] (one request, one reply) and [`Session`] (the blocks of the log) are pure: they are
//! fed bytes and the time, and say what to send and what to keep. [`Link`] runs them on a
//! [`Transport`](crate::port::Transport) and an [`Archive`](crate::archive::Archive).
//!
//! # What may happen twice
//! A reply can be lost after the logger did what was asked, and a line can deliver a request late or
//! twice. What changes the logger is therefore repeated under the same number, which it does once. Only
//! one that restarted meanwhile does it again: the clock of the new boot needs to be set anyway, and
//! setting an interval again adds an entry that says the same. A mark is looked for in the log before
//! it is asked for again, see [`Link::mark`].

mod assembly;
mod error;
mod exchange;
mod link;
mod proof;
mod run;
mod session;
mod verify;

pub use error::{Finding, LinkError, PullError};
pub use exchange::{Answer, Exchange, ExchangeError, Step};
pub use link::{Link, Marked, NoProgress, Progress, PullReport};
pub use proof::Proof;
pub use session::{Event, Session, SessionError, Tally, Target};

use glueday_types::wire::REPLY_FRAME_LEN_MAX;
use std::time::Duration;

/// Blocks asked for at once. A turnaround of 16 ms costs as little as 0.2 % of the line then.
pub const WINDOW_BLOCKS: u16 = 32;
/// How often a request is repeated without a new byte of the log before it is given up.
pub const ATTEMPTS_MAX: u32 = 8;

/// Bits on an 8N1 line for each byte.
const BITS_PER_BYTE: u32 = 10;
/// What the logger and an adapter may take to turn around, with a wide margin for a busy flash.
const TURNAROUND: Duration = Duration::from_millis(250);
/// The slowest line that a TCP port is thought to hide.
const BAUD_UNKNOWN: u32 = 9600;

/// How long to wait for things, from the speed of the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace {
    /// The longest silence before a reply, or before the next frame of a run.
    pub reply_wait: Duration,
    /// How often hello is said until a logger answers.
    pub hello_every: Duration,
    /// How long hello is said.
    pub hello_for: Duration,
}

impl Pace {
    /// The pace of a line of `baud` bits per second, 8N1, or of one that does not tell.
    #[must_use]
    pub fn of_line(baud: Option<u32>) -> Self {
        let bits =
            u32::try_from(REPLY_FRAME_LEN_MAX).unwrap_or(u32::MAX).saturating_mul(BITS_PER_BYTE);
        let frame = Duration::from_secs(1) * bits / baud.unwrap_or(BAUD_UNKNOWN).max(1);
        // What is under way when a request is sent has to pass first.
        let reply_wait = frame * 2 + TURNAROUND;
        let hello_every = reply_wait.min(Duration::from_millis(300).max(frame + TURNAROUND / 4));
        Self { reply_wait, hello_every, hello_for: Duration::from_secs(3).max(hello_every * 4) }
    }
}
