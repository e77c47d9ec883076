//! The logger's side of the wire: bytes in, bytes out, no port and no clock.
//!
//! The board feeds what came in to [`Link::receive`], then asks [`Link::next_reply`] for as many
//! frames as its line takes. A run of blocks is made chunk by chunk as it is asked for, so that it
//! needs no RAM, and any new request ends it.

use crate::logger::Logger;
use crate::probes::Probes;
use crate::ring::{Error, RingLog};
use embedded_storage::nor_flash::NorFlash;
use glueday_types::BLOCK_LEN;
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, CHUNK_LEN, Message, MessageError, REQUEST_FRAME_LEN_MAX, Refusal, Reply, Request,
    WIRE_VERSION, WIRE_VERSION_MIN,
};
use heapless::Deque;

/// Requests that may wait for their reply. The host asks one at a time; this is for one that gave up
/// waiting and asks again.
const WAITING_MAX: usize = 4;

/// The first second of the year 10000 UTC: no clock is set that far.
const UTC_S_END: i64 = 253_402_300_800;

/// What came in and what goes out, on one line.
#[derive(Debug)]
pub struct Link {
    collector: Collector<REQUEST_FRAME_LEN_MAX>,
    waiting: Deque<Asked, WAITING_MAX>,
    run: Option<Run>,
    done: Option<Done>,
    bad_frames: u32,
}

/// The last request that changed something, and how it was answered. The line may deliver a request
/// twice, or its reply may be lost: asked again under the same number, it is answered again and not
/// done again.
#[derive(Clone, Copy, Debug)]
struct Done {
    number: u16,
    request: Request,
    boot: u32,
    at_s: u32,
}

#[derive(Clone, Copy, Debug)]
struct Asked {
    number: u16,
    request: Result<Request, Refusal>,
}

/// A run of chunks under way.
#[derive(Clone, Copy, Debug)]
struct Run {
    number: u16,
    block: u32,
    offset: u16,
    blocks_left: u16,
}

/// What a run sends next.
enum Next {
    Chunk { block: u32, offset: u16, len: usize },
    End,
}

impl Default for Link {
    fn default() -> Self {
        Self::new()
    }
}

impl Link {
    /// A line on which nothing was said yet.
    #[must_use]
    pub fn new() -> Self {
        Self {
            collector: Collector::new(),
            waiting: Deque::new(),
            run: None,
            done: None,
            bad_frames: 0,
        }
    }

    /// Frames that came in with a wrong check, too long, or more at once than can wait. They are not
    /// answered: who sent them is not known.
    #[must_use]
    pub fn bad_frames(&self) -> u32 {
        self.bad_frames
    }

    /// Forgets what was asked for and half received: the peer is gone.
    pub fn hang_up(&mut self) {
        *self = Self { bad_frames: self.bad_frames, ..Self::new() };
    }

    /// Whether [`Link::next_reply`] has something to send.
    #[must_use]
    pub fn has_reply(&self) -> bool {
        self.run.is_some() || !self.waiting.is_empty()
    }

    /// Takes one byte from the line.
    pub fn receive(&mut self, byte: u8) {
        let asked = match self.collector.push(byte) {
            None => return,
            Some(Err(_)) => {
                self.bad_frames = self.bad_frames.saturating_add(1);
                return;
            }
            Some(Ok(payload)) => match wire::read::<Request>(payload) {
                Ok(message) => Asked { number: message.number, request: Ok(message.body) },
                Err(MessageError::Version { number, .. }) => {
                    let refusal = Refusal::Version { min: WIRE_VERSION_MIN, max: WIRE_VERSION };
                    Asked { number, request: Err(refusal) }
                }
                Err(MessageError::NotUnderstood { number }) => {
                    Asked { number, request: Err(Refusal::NotUnderstood) }
                }
            },
        };
        self.run = None;
        if self.waiting.push_back(asked).is_err() {
            self.bad_frames = self.bad_frames.saturating_add(1);
        }
    }

    /// Does what was asked for next and writes the reply as one frame into `out`, which should have
    /// [`wire::REPLY_FRAME_LEN_MAX`] bytes. Returns its length; `None` when there is nothing to say.
    pub fn next_reply<F: NorFlash, P: Probes>(
        &mut self,
        now_s: u32,
        logger: &mut Logger<F, P>,
        out: &mut [u8],
    ) -> Option<usize> {
        // Ends with the first that has a reply of its own; as many turns as can wait.
        while let Some(asked) = self.waiting.pop_front() {
            let answer = asked.request.and_then(|request| match request {
                Request::Blocks { first, offset, count } => {
                    check_start(logger.ring(), first, offset)?;
                    let run =
                        Run { number: asked.number, block: first, offset, blocks_left: count };
                    // An older request that waited does not take the line from a newer one.
                    self.run = Some(run).filter(|_| self.waiting.is_empty());
                    Ok(None)
                }
                other => self.answer(asked.number, other, now_s, logger).map(Some),
            });
            match answer {
                Ok(None) => {}
                Ok(Some(reply)) => return write(asked.number, reply, out),
                Err(refusal) => return write(asked.number, Reply::Refused(refusal), out),
            }
        }
        self.next_of_run(logger, out)
    }

    /// The next frame of the run. Apart, so that its buffer is not on the stack while something is
    /// signed.
    #[inline(never)]
    fn next_of_run<F: NorFlash, P: Probes>(
        &mut self,
        logger: &mut Logger<F, P>,
        out: &mut [u8],
    ) -> Option<usize> {
        let mut run = self.run?;
        let reply = run.next(logger.ring());
        let mut bytes = [0; CHUNK_LEN];
        match reply {
            Next::Chunk { block, offset, len } => {
                let chunk = bytes.get_mut(..len)?;
                if logger.read(block, offset, chunk).is_err() {
                    self.run = None;
                    return write(run.number, Reply::Refused(Refusal::FlashFailed), out);
                }
                self.run = Some(run);
                write(run.number, Reply::Chunk { block, offset, bytes: chunk }, out)
            }
            Next::End => {
                self.run = None;
                let ring = logger.ring();
                let more = (run.block, run.offset) < (ring.open_block(), ring.open_len());
                let end = Reply::BlocksEnd { next: run.block, offset: run.offset, more };
                write(run.number, end, out)
            }
        }
    }
}

impl Link {
    /// Answers what takes one reply, and does it unless that was done before.
    fn answer<F: NorFlash, P: Probes>(
        &mut self,
        number: u16,
        request: Request,
        now_s: u32,
        logger: &mut Logger<F, P>,
    ) -> Result<Reply<'static>, Refusal> {
        if request == Request::Hello {
            // A session begins, and may choose its numbers anew.
            self.done = None;
        }
        if let Some(done) = self.done
            && done.number == number
            && same_change(done.request, request)
        {
            return Ok(Reply::Done { boot: done.boot, at_s: done.at_s });
        }
        let reply = answer(request, now_s, logger)?;
        if let Reply::Done { boot, at_s } = reply {
            self.done = Some(Done { number, request, boot, at_s });
        }
        Ok(reply)
    }
}

/// Whether two requests of one number ask for the same change. Who asks for the clock to be set again
/// states the time of the repetition.
fn same_change(one: Request, other: Request) -> bool {
    matches!((one, other), (Request::SetClock { .. }, Request::SetClock { .. })) || one == other
}

impl Run {
    /// Moves on by a chunk.
    fn next<F: NorFlash>(&mut self, ring: &RingLog<F>) -> Next {
        // Twice at most: behind a whole block comes one with a header at least.
        for _ in 0..2 {
            let in_ring = (ring.oldest_block()..=ring.open_block()).contains(&self.block);
            if self.blocks_left == 0 || !in_ring {
                return Next::End;
            }
            let open = self.block == ring.open_block();
            let end = if open { usize::from(ring.open_len()) } else { BLOCK_LEN };
            let len = CHUNK_LEN.min(end.saturating_sub(self.offset.into()));
            if len > 0 {
                let chunk = Next::Chunk { block: self.block, offset: self.offset, len };
                // A chunk is at most as long as a block.
                self.offset = self.offset.saturating_add(u16::try_from(len).unwrap_or(u16::MAX));
                return chunk;
            }
            if open {
                return Next::End;
            }
            self.block = self.block.saturating_add(1);
            self.offset = 0;
            self.blocks_left -= 1;
        }
        Next::End
    }
}

/// Whether a run can begin there.
fn check_start<F: NorFlash>(ring: &RingLog<F>, first: u32, offset: u16) -> Result<(), Refusal> {
    let (oldest, newest) = (ring.oldest_block(), ring.open_block());
    if !(oldest..=newest).contains(&first) {
        return Err(Refusal::NoSuchBlock { oldest, newest });
    }
    let end = if first == newest { usize::from(ring.open_len()) } else { BLOCK_LEN };
    if usize::from(offset) > end {
        return Err(Refusal::BadValue);
    }
    Ok(())
}

/// Does what takes one reply.
fn answer<F: NorFlash, P: Probes>(
    request: Request,
    now_s: u32,
    logger: &mut Logger<F, P>,
) -> Result<Reply<'static>, Refusal> {
    let done = |result: Result<(), Error>, boot| match result {
        Ok(()) => Ok(Reply::Done { boot, at_s: now_s }),
        Err(_) => Err(Refusal::FlashFailed),
    };
    let boot = logger.ring().boot();
    match request {
        Request::Hello => Ok(Reply::Hello(logger.identity())),
        Request::Status => Ok(Reply::Status(logger.status(now_s))),
        Request::SetClock { utc_s } if !(0..UTC_S_END).contains(&utc_s) => Err(Refusal::BadValue),
        Request::SetClock { utc_s } => done(logger.set_clock(now_s, utc_s), boot),
        Request::SetInterval { interval_s: 0 } => Err(Refusal::BadValue),
        Request::SetInterval { interval_s } => done(logger.set_interval(now_s, interval_s), boot),
        Request::Mark { kind } => done(logger.mark(now_s, kind), boot),
        Request::Latest => Ok(Reply::Latest { boot, uptime_s: now_s, sample: logger.latest() }),
        Request::Attest { nonce } => logger.attest(now_s, nonce).map(Reply::Attested),
        // Handled by the caller; an answer all the same, so that no request goes without one.
        Request::Blocks { .. } => Err(Refusal::NotUnderstood),
    }
}

fn write(number: u16, reply: Reply<'_>, out: &mut [u8]) -> Option<usize> {
    Message::new(number, reply).write(out).map(|frame| frame.len())
}
