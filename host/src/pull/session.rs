//! Pulls the blocks of a log, without doing any input or output itself.
//!
//! The session asks for a window of blocks and takes the chunks that stream in. What was lost on the
//! way is asked for again, and only that. A block is handed out for keeping once it is whole, its
//! header is sound, and the block behind it bears its digest (the last sealed block included: the open
//! block bears it). The chain alone decides what is right; what does not fit is read once more, and if
//! it stays, kept and reported.

use super::assembly::{Added, Assembly};
use super::exchange::frame;
use super::run::Run;
use super::{ATTEMPTS_MAX, Finding, Pace};
use crate::archive::{Held, HeldBlock};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, MessageError, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request, Status,
};
use glueday_types::{BLOCK_LEN, HEADER_LEN, LoggerId};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::time::Duration;

/// The most blocks that a log is believed to have: 4 GiB of flash.
const LOG_BLOCKS_MAX: u32 = 1 << 20;

/// What is to be pulled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Target {
    /// From whom.
    pub logger: LoggerId,
    /// The oldest block that can be had.
    pub oldest_block: u32,
    /// The block that is being written.
    pub open_block: u32,
    /// Bytes written of it.
    pub open_len: u16,
}

impl Target {
    /// All of the log at the time of `status`.
    #[must_use]
    pub fn of_status(logger: LoggerId, status: &Status) -> Self {
        let &Status { oldest_block, open_block, open_len, .. } = status;
        Self { logger, oldest_block, open_block, open_len }
    }
}

/// What the caller has to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// Send these bytes.
    Send(Vec<u8>),
    /// Wait for bytes, at most until then.
    Wait(Duration),
    /// Keep this finished block of 4096 bytes.
    Sealed {
        /// Its number.
        number: u32,
        /// Its bytes.
        bytes: Vec<u8>,
    },
    /// Keep this beginning of a block.
    Open {
        /// Its number.
        number: u32,
        /// Its bytes so far.
        bytes: Vec<u8>,
    },
    /// Tell the user.
    Found(Finding),
    /// It is over.
    Over(Result<(), SessionError>),
}

/// Why a session ended early.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SessionError {
    /// The logger does not answer any more.
    #[error("the logger stopped answering: check cable and power, then pull again")]
    Silent,
    /// What comes is damaged on the way, over and over.
    #[error(
        "of {damaged} frames none came whole: check the cable and what runs beside it, or lower the speed of the line, then pull again"
    )]
    Noisy {
        /// Damaged frames since the last that brought something new.
        damaged: u32,
    },
    /// What the logger says of its log cannot be.
    #[error(
        "the logger says that its log has blocks {oldest} to {open}, {len} bytes of the last, which cannot be: pull again, and report it if it stays"
    )]
    BadStatus {
        /// Oldest block.
        oldest: u32,
        /// Open block.
        open: u32,
        /// Bytes of it.
        len: u16,
    },
    /// Another logger answers.
    #[error("another logger ({found}) answers now; pull again to read that one")]
    OtherLogger {
        /// Its id.
        found: LoggerId,
    },
    /// A block of a newer format.
    #[error("block {block} has format {version}, newer than this program: update the program")]
    FormatNewer {
        /// Its number.
        block: u32,
        /// Its format.
        version: u8,
    },
    /// A message of another version.
    #[error(
        "the logger answers in version {version}, which this program does not know: update the program"
    )]
    Version {
        /// The version.
        version: u8,
    },
    /// The logger will not send its log.
    #[error("the logger refused to send its log ({0:?}): pull again, and report it if it stays")]
    Refused(Refusal),
    /// The log became shorter meanwhile.
    #[error(
        "the log became shorter while it was read (it ends at block {newest} now): pull again to compare it with what is held"
    )]
    WentBack {
        /// The newest block.
        newest: u32,
    },
}

/// How far a session is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// New bytes of the log that came.
    pub bytes: u64,
    /// Bytes of the log that were missing at the start.
    pub bytes_total: u64,
    /// Blocks that were finished.
    pub blocks: u32,
    /// Requests that were sent.
    pub requests: u32,
}

/// A pull under way.
#[derive(Debug)]
pub struct Session {
    pub(super) target: Target,
    pub(super) oldest: u32,
    pub(super) sealed: BTreeMap<u32, HeldBlock>,
    pub(super) work: BTreeMap<u32, Assembly>,
    pub(super) given_up: BTreeSet<u32>,
    pub(super) open_done: bool,
    /// Blocks of which the archive held a beginning that the logger did not confirm yet.
    pub(super) unconfirmed: BTreeSet<u32>,
    /// How often a block was read anew from its start.
    pub(super) reads: BTreeMap<u32, u32>,
    /// Blocks whose missing link to the one before was reported.
    pub(super) unchained: BTreeSet<u32>,
    pub(super) queue: VecDeque<Event>,
    pace: Pace,
    number: u16,
    run: Option<Run>,
    /// Whether the logger has to say who it is before bytes are taken from it again.
    unsure: bool,
    attempts: u32,
    /// Damaged frames since the last that brought something new.
    damaged: u32,
    collector: Collector<REPLY_FRAME_LEN_MAX>,
    outcome: Option<Result<(), SessionError>>,
    pub(super) tally: Tally,
}

impl Session {
    /// A session that pulls what `held` lacks of `target`. `number` is that of its first request: take
    /// one that no request of late bore, so that late replies are not mistaken.
    #[must_use]
    pub fn new(target: Target, held: Held, pace: Pace, number: u16) -> Self {
        let mut target = target;
        if usize::from(target.open_len) < HEADER_LEN {
            // Without a whole header there is nothing to keep yet.
            target.open_len = 0;
        }
        let mut session = Self {
            target,
            oldest: target.oldest_block,
            sealed: held.sealed,
            work: BTreeMap::new(),
            given_up: BTreeSet::new(),
            open_done: false,
            unconfirmed: BTreeSet::new(),
            reads: BTreeMap::new(),
            unchained: BTreeSet::new(),
            queue: VecDeque::new(),
            pace,
            number: number.wrapping_sub(1),
            run: None,
            unsure: false,
            attempts: 0,
            damaged: 0,
            collector: Collector::new(),
            outcome: None,
            tally: Tally::default(),
        };
        let Target { oldest_block: oldest, open_block: open, open_len: len, .. } = target;
        if oldest > open || open - oldest >= LOG_BLOCKS_MAX || usize::from(len) > BLOCK_LEN {
            session.outcome = Some(Err(SessionError::BadStatus { oldest, open, len }));
        } else {
            session.begin(held.open);
        }
        session
    }

    fn begin(&mut self, mut open: BTreeMap<u32, Vec<u8>>) {
        let newest = |map: Option<(&u32, usize)>| map.map(|(block, len)| (*block, len));
        let held = newest(self.sealed.last_key_value().map(|(block, _)| (block, BLOCK_LEN)))
            .max(newest(open.last_key_value().map(|(block, bytes)| (block, bytes.len()))));
        let end = (self.target.open_block, usize::from(self.target.open_len));
        if let Some((held_block, held_len)) = held.filter(|held| *held > end) {
            self.found(Finding::WentBack {
                open_block: self.target.open_block,
                open_len: self.target.open_len,
                held_block,
                held_len: u16::try_from(held_len).unwrap_or(u16::MAX),
            });
            // What is held is of no use now; the archive compares when the blocks come.
            self.sealed.clear();
            open.clear();
        } else {
            self.report_lost(&open);
        }
        self.work = open
            .into_iter()
            .filter(|(block, _)| (self.oldest..=self.target.open_block).contains(block))
            .map(|(block, bytes)| (block, Assembly::from_prefix(&bytes)))
            .collect();
        self.unconfirmed = self.work.keys().copied().collect();
        self.open_done = self.work.get(&self.target.open_block).map_or(0, Assembly::prefix_len)
            >= usize::from(self.target.open_len);
        let missing = |block: u32| {
            let have = self.work.get(&block).map_or(0, Assembly::prefix_len);
            u64::try_from(self.need(block).saturating_sub(have)).unwrap_or(0)
        };
        self.tally.bytes_total = self.wanted().map(missing).sum();
        for block in self.unconfirmed.clone() {
            self.settle(block);
        }
    }

    /// Reports the blocks behind the first held one that are not held and cannot be had any more.
    fn report_lost(&mut self, open: &BTreeMap<u32, Vec<u8>>) {
        let first_held = self.sealed.keys().chain(open.keys()).min().copied().unwrap_or(0);
        // From one held block to the next: there may be billions between them.
        let mut from = first_held;
        let mut lost = Vec::new();
        let held = self.sealed.keys().copied().filter(|block| *block < self.oldest);
        for block in held.chain([self.oldest]) {
            if from < block {
                lost.push((from, block - 1));
            }
            from = block.saturating_add(1);
        }
        for (first, last) in lost {
            self.found(Finding::Overwritten { first, last, begun: open.contains_key(&first) });
        }
    }

    /// How far it is.
    #[must_use]
    pub fn tally(&self) -> Tally {
        Tally { bytes_total: self.tally.bytes_total.max(self.tally.bytes), ..self.tally }
    }

    /// The beginnings of blocks that are not finished, for keeping when the session is broken off.
    #[must_use]
    pub fn parts(&self) -> Vec<(u32, Vec<u8>)> {
        self.work
            .iter()
            .filter(|(block, part)| {
                matches!(part.header(), Some(Ok(header)) if header.block == **block
                    && header.logger == self.target.logger)
            })
            .map(|(block, part)| (*block, part.prefix().to_vec()))
            .collect()
    }

    /// What to do at the time `now`.
    pub fn poll(&mut self, now: Duration) -> Event {
        if let Some(event) = self.queue.pop_front() {
            return event;
        }
        if self.run.as_ref().is_some_and(|run| now >= run.deadline) {
            self.unsure = true;
            self.end_run(false);
        }
        if let Some(event) = self.queue.pop_front() {
            return event;
        }
        if let Some(outcome) = &self.outcome {
            return Event::Over(outcome.clone());
        }
        if let Some(run) = &self.run {
            return Event::Wait(run.deadline);
        }
        let Some(run) = self.plan(now + self.pace.reply_wait) else {
            return self.finish();
        };
        self.number = self.number.wrapping_add(1);
        self.tally.requests += 1;
        let request = if self.unsure {
            Request::Hello
        } else {
            let count = u16::try_from(run.blocks.len()).unwrap_or(u16::MAX);
            Request::Blocks { first: run.blocks.start, offset: run.offset, count }
        };
        self.run = Some(run);
        Event::Send(frame(self.number, request))
    }

    /// Nothing is missing any more.
    fn finish(&mut self) -> Event {
        // All blocks are finished by now, or reported. Should one be left, it is not passed over.
        let left: Vec<u32> = self.wanted().filter(|block| self.need(*block) > 0).collect();
        for block in left {
            self.give_up(block, "it came, but could not be verified");
        }
        self.queue.pop_front().unwrap_or_else(|| {
            self.outcome = Some(Ok(()));
            Event::Over(Ok(()))
        })
    }

    /// Takes bytes that came at the time `now`.
    pub fn receive(&mut self, bytes: &[u8], now: Duration) {
        for byte in bytes {
            let payload = match self.collector.push(*byte) {
                Some(Ok(payload)) => payload.to_vec(),
                Some(Err(_)) => {
                    self.damaged = self.damaged.saturating_add(1);
                    continue;
                }
                None => continue,
            };
            match wire::read::<Reply<'_>>(&payload) {
                Ok(message) if message.number == self.number => self.take(message.body, now),
                Err(MessageError::Version { version, .. }) => {
                    self.fail(SessionError::Version { version });
                }
                Ok(_) | Err(MessageError::NotUnderstood { .. }) => {}
            }
        }
    }

    fn take(&mut self, reply: Reply<'_>, now: Duration) {
        let Some(run) = self.run.as_mut() else { return };
        match reply {
            Reply::Hello(identity) if self.unsure => {
                if identity.logger == self.target.logger {
                    self.unsure = false;
                    self.run = None;
                } else {
                    self.fail(SessionError::OtherLogger { found: identity.logger });
                }
            }
            Reply::Chunk { block, offset, bytes } if !self.unsure => {
                let end = (block, usize::from(offset) + bytes.len());
                if !run.blocks.contains(&block) || bytes.is_empty() || end.1 > BLOCK_LEN {
                    return;
                }
                if self.add(block, usize::from(offset), bytes)
                    && let Some(run) = self.run.as_mut()
                {
                    run.progress = true;
                    run.deadline = now + self.pace.reply_wait;
                }
                if self.run.as_ref().is_some_and(|run| end >= run.stop) {
                    self.end_run(true);
                }
            }
            Reply::BlocksEnd { .. } if !self.unsure => self.end_run(true),
            Reply::Refused(Refusal::NoSuchBlock { oldest, newest }) => {
                self.ring_moved(oldest, newest);
            }
            Reply::Refused(Refusal::Version { min, max }) => {
                self.fail(SessionError::Refused(Refusal::Version { min, max }));
            }
            Reply::Refused(why) => self.fail(SessionError::Refused(why)),
            _ => {}
        }
    }

    /// Adds a chunk; whether it brought anything new.
    fn add(&mut self, block: u32, offset: usize, bytes: &[u8]) -> bool {
        if self.sealed.contains_key(&block) || self.given_up.contains(&block) {
            return false;
        }
        match self.work.entry(block).or_insert_with(Assembly::new).add(offset, bytes) {
            Added::New(0) => false,
            Added::New(len) => {
                self.tally.bytes += u64::try_from(len).unwrap_or(0);
                self.attempts = 0;
                self.damaged = 0;
                self.unconfirmed.remove(&block);
                self.settle(block);
                true
            }
            Added::Differs => {
                self.read_again(block, "its bytes change from one reading to the next");
                false
            }
        }
    }

    /// Ends the run. `answered` says that the logger came to the end of it.
    fn end_run(&mut self, answered: bool) {
        let Some(run) = self.run.take() else { return };
        if run.progress {
            return;
        }
        self.attempts += 1;
        if self.attempts < ATTEMPTS_MAX {
            return;
        }
        if self.damaged > 0 {
            // The line is at fault, and not what the logger holds.
            self.fail(SessionError::Noisy { damaged: self.damaged });
        } else if answered {
            self.attempts = 0;
            self.give_up(run.blocks.start, "the logger does not send all of it");
        } else {
            self.fail(SessionError::Silent);
        }
    }

    /// The ring went on meanwhile: what was wanted is not there any more.
    fn ring_moved(&mut self, oldest: u32, newest: u32) {
        if newest < self.target.open_block {
            return self.fail(SessionError::WentBack { newest });
        }
        self.run = None;
        if oldest <= self.oldest {
            self.attempts += 1;
            if self.attempts >= ATTEMPTS_MAX {
                self.fail(SessionError::Refused(Refusal::NoSuchBlock { oldest, newest }));
            }
            return;
        }
        let lost: Vec<u32> = self.wanted().take_while(|block| *block < oldest).collect();
        let parts = self.parts();
        self.oldest = oldest;
        if let (Some(&first), Some(&last)) = (lost.first(), lost.last()) {
            let begun = parts.iter().any(|(block, _)| *block == first);
            self.found(Finding::Overwritten { first, last, begun });
        }
        for (number, bytes) in parts.into_iter().filter(|(block, _)| *block < oldest) {
            self.work.remove(&number);
            self.queue.push_back(Event::Open { number, bytes });
        }
        self.work.retain(|block, _| *block >= oldest);
    }

    pub(super) fn found(&mut self, finding: Finding) {
        self.queue.push_back(Event::Found(finding));
    }

    pub(super) fn fail(&mut self, error: SessionError) {
        self.run = None;
        self.outcome.get_or_insert(Err(error));
    }
}
