//! One request and its reply, repeated until it is there.

use super::Pace;
use glueday_types::Sample;
use glueday_types::frame::{Collector, FRAME_END};
use glueday_types::wire::{
    self, Attestation, Identity, Message, MessageError, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX,
    Refusal, Reply, Request, Status,
};
use std::time::Duration;

/// A reply that has no bytes of the log in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// To hello.
    Hello(Identity),
    /// To status.
    Status(Status),
    /// It was done.
    Done {
        /// The boot.
        boot: u32,
        /// Seconds since then, as in the entry that was written.
        at_s: u32,
    },
    /// To latest.
    Latest {
        /// The boot.
        boot: u32,
        /// Seconds since then, now.
        uptime_s: u32,
        /// The latest sample of this boot.
        sample: Option<Sample>,
    },
    /// To attest.
    Attested(Attestation),
    /// It was not done.
    Refused(Refusal),
}

impl Answer {
    fn from_reply(reply: Reply<'_>) -> Option<Self> {
        match reply {
            Reply::Hello(identity) => Some(Self::Hello(identity)),
            Reply::Status(status) => Some(Self::Status(status)),
            Reply::Done { boot, at_s } => Some(Self::Done { boot, at_s }),
            Reply::Latest { boot, uptime_s, sample } => {
                Some(Self::Latest { boot, uptime_s, sample })
            }
            Reply::Attested(attestation) => Some(Self::Attested(attestation)),
            Reply::Refused(why) => Some(Self::Refused(why)),
            Reply::Chunk { .. } | Reply::BlocksEnd { .. } => None,
        }
    }
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step<T> {
    /// Send these bytes, then ask again.
    Send(Vec<u8>),
    /// Wait for bytes, at most until then, then ask again.
    Wait(Duration),
    /// It is over.
    Over(T),
}

/// Why there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExchangeError {
    /// No frame of a logger came in time, only this many other bytes.
    NoAnswer {
        /// Bytes that came.
        bytes: u64,
        /// Whether any frame of a logger was among them.
        logger: bool,
    },
    /// A message of a version came that this program does not know.
    Version {
        /// The version.
        version: u8,
    },
}

/// Asks one thing up to a number of times.
///
/// ```
/// use glueday::pull::{Exchange, Pace, Step};
/// use glueday_types::wire::Request;
/// use std::time::Duration;
///
/// let pace = Pace::of_line(Some(115_200));
/// let mut exchange = Exchange::hello(7, &pace, Duration::ZERO);
/// assert!(matches!(exchange.poll(Duration::ZERO), Step::Send(_)));
/// assert!(matches!(exchange.poll(Duration::ZERO), Step::Wait(_)));
/// ```
#[derive(Debug)]
pub struct Exchange {
    request: Request,
    number: u16,
    every: Duration,
    tries_left: u32,
    next_try: Duration,
    sent: u32,
    collector: Collector<REPLY_FRAME_LEN_MAX>,
    bytes: u64,
    logger: bool,
    outcome: Option<Result<Answer, ExchangeError>>,
}

impl Exchange {
    /// Says hello until somebody answers: the line may lose what is sent first, and may still hold a
    /// run of an earlier session.
    #[must_use]
    pub fn hello(number: u16, pace: &Pace, now: Duration) -> Self {
        let every = pace.hello_every;
        let tries = pace.hello_for.as_millis().div_ceil(every.as_millis().max(1));
        let tries = u32::try_from(tries).unwrap_or(1).max(1);
        Self::new(Request::Hello, number, every, tries, now)
    }

    /// Asks `request` once, or up to `tries` times.
    #[must_use]
    pub fn ask(request: Request, number: u16, pace: &Pace, tries: u32, now: Duration) -> Self {
        Self::new(request, number, pace.reply_wait, tries, now)
    }

    fn new(request: Request, number: u16, every: Duration, tries: u32, now: Duration) -> Self {
        Self {
            request,
            number,
            every,
            tries_left: tries,
            next_try: now,
            sent: 0,
            collector: Collector::new(),
            bytes: 0,
            logger: false,
            outcome: None,
        }
    }

    /// How often the request was sent.
    #[must_use]
    pub fn sent(&self) -> u32 {
        self.sent
    }

    /// What to do at the time `now`.
    pub fn poll(&mut self, now: Duration) -> Step<Result<Answer, ExchangeError>> {
        if let Some(outcome) = self.outcome {
            return Step::Over(outcome);
        }
        if now < self.next_try {
            return Step::Wait(self.next_try);
        }
        if self.tries_left == 0 {
            return Step::Over(Err(ExchangeError::NoAnswer {
                bytes: self.bytes,
                logger: self.logger,
            }));
        }
        self.tries_left -= 1;
        self.next_try = now + self.every;
        self.sent += 1;
        Step::Send(frame(self.number, self.request))
    }

    /// Takes bytes that came.
    pub fn receive(&mut self, bytes: &[u8]) {
        self.bytes += u64::try_from(bytes.len()).unwrap_or(0);
        for byte in bytes {
            let Some(Ok(payload)) = self.collector.push(*byte) else { continue };
            match wire::read::<Reply<'_>>(payload) {
                Ok(message) => {
                    self.logger = true;
                    // Replies to others than this request are late ones of earlier requests.
                    if message.number == self.number
                        && let Some(answer) = Answer::from_reply(message.body)
                    {
                        self.outcome.get_or_insert(Ok(answer));
                    }
                }
                Err(MessageError::Version { version, .. }) => {
                    self.outcome.get_or_insert(Err(ExchangeError::Version { version }));
                }
                // Our own request, sent back by an echoing line, is read like this.
                Err(MessageError::NotUnderstood { .. }) => {}
            }
        }
    }
}

/// A request as a frame. The zero before it ends whatever the logger took noise for.
pub(super) fn frame(number: u16, request: Request) -> Vec<u8> {
    let mut bytes = [0; REQUEST_FRAME_LEN_MAX];
    let mut frame = vec![FRAME_END];
    // Every request fits: the length is that of the longest.
    if let Some(written) = Message::new(number, request).write(&mut bytes) {
        frame.extend_from_slice(written);
    }
    frame
}
