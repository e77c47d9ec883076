//! The host's side: a pull that is answered by anything.

use super::input::{Input, sound_frame};
use super::seeds::true_log;
use glueday::archive::{Held, HeldBlock};
use glueday::pull::{Event, Finding, Pace, Session, SessionError, Target};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, CHUNK_LEN, Identity, Message, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX, Refusal, Reply,
    Request,
};
use glueday_types::{BLOCK_LEN, Header, LoggerId, digest};
use std::collections::BTreeSet;
use std::time::Duration;

/// More turns than any pull of the log takes, with everything read again as often as it may be.
const TURNS_MAX: usize = 20_000;

/// A pull of a small log whose every request is answered with noise, with messages that make no sense,
/// with changed bytes, or rightly. It ends, and what it hands out is what it says: whole, of this
/// logger, under its own number. Where no message was forged, the blocks that it finished are the true
/// ones, and an honest logger in the end makes the pull complete.
pub fn pull(data: &[u8]) {
    let mut input = Input::new(data);
    let log = true_log();
    let open = u32::try_from(log.blocks.len() - 1).expect("a small log");
    let honest =
        Target { logger: log.logger, oldest_block: 0, open_block: open, open_len: log.open_len };
    let target = match input.below(4) {
        0 => Target {
            oldest_block: input.take(),
            open_block: input.take(),
            open_len: input.take(),
            ..honest
        },
        1 => Target { oldest_block: u32::from(input.below(4)), ..honest },
        _ => honest,
    };
    let held = held(&mut input, open);
    let mut line = Line {
        kept: held
            .sealed
            .keys()
            .copied()
            .chain(held.open.get_key_value(&open).map(|(open, _)| *open))
            .collect(),
        session: Session::new(target, held, Pace::of_line(Some(115_200)), input.take()),
        now: Duration::ZERO,
        request: None,
        asked: None,
        over: None,
        // With another target than the logger's own, an honest answer is none.
        forged: target.open_block != open || target.open_len != log.open_len,
        findings: Vec::new(),
        target,
    };
    line.turn();
    for _ in 0..64 {
        if input.is_empty() || line.over.is_some() {
            break;
        }
        line.answer(&mut input);
        line.turn();
    }
    line.finish();
}

/// Some of the log is in the archive already.
fn held(input: &mut Input<'_>, open: u32) -> Held {
    let mut held = Held::default();
    let (which, begun) = (input.take::<u8>(), input.take::<u16>());
    let log = true_log();
    for (number, bytes) in (0..).zip(&log.blocks) {
        if number < open && which >> number & 1 == 1 {
            let header = Header::from_bytes(bytes).expect("a true block");
            let block = HeldBlock { digest: digest(bytes), previous: header.previous };
            held.sealed.insert(number, block);
        } else if number == u32::from(begun % 8) && begun > 0 {
            let len = usize::from(begun / 8).clamp(64, BLOCK_LEN);
            held.open.insert(number, bytes[..len].to_vec());
        }
    }
    held
}

struct Line {
    session: Session,
    now: Duration,
    /// The number of the last request, and what it was.
    request: Option<u16>,
    asked: Option<Request>,
    over: Option<Result<(), SessionError>>,
    /// Whether the logger lied in a way that no check can tell.
    forged: bool,
    findings: Vec<Finding>,
    target: Target,
    /// Blocks that are in the archive, or begun in it.
    kept: BTreeSet<u32>,
}

impl Line {
    /// Lets the session go on until it waits or is over. Returns until when it waits.
    fn turn(&mut self) -> Duration {
        for _ in 0..TURNS_MAX {
            match self.session.poll(self.now) {
                Event::Send(bytes) => self.take_request(&bytes),
                Event::Wait(until) => {
                    assert!(until > self.now, "it waits for what is past");
                    return until;
                }
                Event::Sealed { number, bytes } => self.check_sealed(number, &bytes),
                Event::Open { number, bytes } => self.check_open(number, &bytes),
                Event::Found(finding) => self.findings.push(finding),
                Event::Over(outcome) => {
                    self.over = Some(outcome);
                    return self.now;
                }
            }
        }
        panic!("it neither waits nor ends");
    }

    fn take_request(&mut self, bytes: &[u8]) {
        let mut collector = Collector::<REQUEST_FRAME_LEN_MAX>::new();
        let payloads: Vec<Vec<u8>> = bytes
            .iter()
            .filter_map(|byte| Some(collector.push(*byte)?.expect("a sound frame").to_vec()))
            .collect();
        let [payload] = &payloads[..] else { panic!("{} frames at once", payloads.len()) };
        let message = wire::read::<Request>(payload).expect("a request");
        self.request = Some(message.number);
        self.asked = Some(message.body);
    }

    fn check_sealed(&mut self, number: u32, bytes: &[u8]) {
        assert_eq!(bytes.len(), BLOCK_LEN);
        let header = Header::from_bytes(bytes).expect("a sound header");
        assert_eq!((header.block, header.logger), (number, self.target.logger));
        let doubted = |f: &Finding| matches!(f, Finding::ChainBroken { .. });
        if !self.forged && !self.findings.iter().any(doubted) {
            assert!(
                bytes == true_log().blocks[number as usize],
                "block {number} is not the true one"
            );
        }
        self.kept.insert(number);
    }

    fn check_open(&mut self, number: u32, bytes: &[u8]) {
        let header = Header::from_bytes(bytes).expect("a sound header");
        assert_eq!((header.block, header.logger), (number, self.target.logger));
        assert!(bytes.len() <= BLOCK_LEN);
        self.kept.insert(number);
    }

    /// Sends a reply of the right number, mostly.
    fn send(&mut self, off: u8, reply: Reply<'_>) {
        let number = self.request.unwrap_or(0).wrapping_sub(off.into());
        let mut out = [0; 2 * REPLY_FRAME_LEN_MAX];
        if let Some(frame) = Message::new(number, reply).write(&mut out) {
            self.session.receive(frame, self.now);
        }
    }

    /// Answers once, in a way that the input chooses.
    fn answer(&mut self, input: &mut Input<'_>) {
        let kind = input.below(12);
        match kind {
            0 => self.session.receive(input.some_bytes(), self.now),
            1 => {
                self.forged = true;
                let body = input.some_bytes();
                let number = self.request.unwrap_or(0);
                // Version and number as they should be, so that the body is looked at.
                let mut head = [0; 4];
                let head =
                    postcard::to_slice(&(1_u8, number), &mut head).expect("at most four bytes");
                self.session.receive(&sound_frame(&[head, body].concat()), self.now);
            }
            2 => self.now += Duration::from_millis(input.take::<u16>().into()),
            3 | 4 => {
                let block = u32::from(input.below(8));
                let off = input.below(16) / 15;
                let (offset, len) = (input.take::<u16>() % 4096, input.take::<u16>() % 2048);
                let (at, change) = (input.take::<u16>(), if kind == 4 { input.take() } else { 0 });
                self.chunk(off, block, offset.into(), len.into(), (at, change));
            }
            5 => {
                self.forged = true;
                let (block, offset) = (input.take(), input.take());
                let bytes = input.some_bytes();
                self.send(0, Reply::Chunk { block, offset, bytes });
            }
            6 => {
                let end = Reply::BlocksEnd {
                    next: input.take::<u8>().into(),
                    offset: input.take(),
                    more: input.take(),
                };
                self.send(0, end);
            }
            7 => {
                let logger = input.of(&[self.target.logger, self.target.logger, LoggerId([7; 8])]);
                self.send(0, Reply::Hello(identity(logger)));
            }
            8 => {
                let newest = input.take::<u32>();
                let why = input.of(&[
                    Refusal::NoSuchBlock { oldest: newest >> 24, newest: newest & 0xFF_FFFF },
                    Refusal::NotUnderstood,
                    Refusal::FlashFailed,
                    Refusal::Version { min: 3, max: 4 },
                ]);
                self.send(input.below(16) / 15, Reply::Refused(why));
            }
            9 => {
                let done = Reply::Done { boot: input.take(), at_s: input.take() };
                self.send(0, done);
            }
            _ => self.serve(usize::from(input.take::<u8>())),
        }
    }

    /// Bytes of the true log, one of them changed by `change`.
    fn chunk(&mut self, off: u8, block: u32, offset: usize, len: usize, change: (u16, u8)) {
        let log = true_log();
        let Some(bytes) = log.blocks.get(block as usize) else { return };
        let end =
            if block as usize + 1 == log.blocks.len() { log.open_len.into() } else { BLOCK_LEN };
        let span = offset.min(end)..(offset + len.min(CHUNK_LEN)).min(end);
        let mut bytes = bytes[span.clone()].to_vec();
        if let Some(byte) = bytes.get_mut(usize::from(change.0) % CHUNK_LEN) {
            *byte ^= change.1;
            // The end of the log has nobody to vouch for it.
            self.forged |= change.1 != 0 && end < BLOCK_LEN;
        }
        let offset = u16::try_from(span.start).expect("within a block");
        self.send(off, Reply::Chunk { block, offset, bytes: &bytes });
    }

    /// Answers the last request as a logger does, in at most so many frames.
    fn serve(&mut self, frames: usize) {
        match self.asked {
            Some(Request::Hello) => self.send(0, Reply::Hello(identity(true_log().logger))),
            Some(Request::Blocks { first, offset, count }) => {
                let log = true_log();
                let open = log.blocks.len() - 1;
                let mut at = (first as usize, usize::from(offset));
                let last = first as usize + usize::from(count);
                for _ in 0..frames {
                    let end = if at.0 == open { log.open_len.into() } else { BLOCK_LEN };
                    if at.1 >= end && at.0 < open {
                        at = (at.0 + 1, 0);
                    }
                    if at.0 >= last || at.0 > open || (at.0 == open && at.1 >= end) {
                        let next = u32::try_from(at.0).unwrap_or(u32::MAX);
                        let offset = u16::try_from(at.1).unwrap_or(0);
                        self.send(0, Reply::BlocksEnd { next, offset, more: false });
                        return;
                    }
                    self.chunk(0, u32::try_from(at.0).unwrap_or(u32::MAX), at.1, CHUNK_LEN, (0, 0));
                    at.1 += CHUNK_LEN.min(BLOCK_LEN - at.1);
                }
            }
            _ => {}
        }
    }

    /// An honest logger on a good line from here on, and then none at all: the pull ends.
    fn finish(mut self) {
        // Half a frame left on the line would spoil the first honest one, which may be the last that a
        // session waits for after so much silence. On a good line there is none.
        self.session.receive(&[0], self.now);
        if self.over.is_some() {
            return;
        }
        for turn in 0..TURNS_MAX {
            let until = self.turn();
            if let Some(outcome) = &self.over {
                assert!(self.forged || *outcome == Ok(()), "{outcome:?}, {:?}", self.findings);
                return self.check_complete();
            }
            // Time passes only when nothing is said.
            if turn < 500 && self.asked.is_some() {
                self.serve(usize::MAX);
                self.asked = None;
            } else {
                self.now = until;
            }
        }
        panic!("it never ends");
    }

    /// Every block is kept, or was there before, or the user was told.
    fn check_complete(&self) {
        let told = |block: u32| {
            self.findings.iter().any(|finding| match finding {
                Finding::Overwritten { first, last, .. } => (*first..=*last).contains(&block),
                Finding::BadBlock { block: bad, .. } => *bad == block,
                _ => false,
            })
        };
        let mut blocks = self.target.oldest_block..=self.target.open_block;
        let lacking = blocks.find(|block| !self.kept.contains(block) && !told(*block));
        assert!(self.forged || lacking.is_none(), "block {lacking:?} is lacking");
    }
}

fn identity(logger: LoggerId) -> Identity {
    Identity {
        wire_version_min: 1,
        wire_version: 1,
        format_version: 1,
        logger,
        firmware: (0, 1, 0),
        blocks: 16,
        public_key: None,
    }
}
