//! The line to the logger, spoken without the host program.

use super::PATIENCE;
use glueday_types::frame::Collector;
use glueday_types::wire::{self, Message, REPLY_FRAME_LEN_MAX, Reply, Request};
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// How long an answer may take before it is asked for again.
const ASK_AGAIN: Duration = Duration::from_millis(500);

/// A peer of the logger.
#[derive(Debug)]
pub struct Line {
    stream: TcpStream,
    collector: Collector<REPLY_FRAME_LEN_MAX>,
    number: u16,
}

impl Line {
    /// Connects to `HOST:PORT`.
    ///
    /// # Panics
    /// When nobody listens.
    #[must_use]
    pub fn connect(address: &str) -> Self {
        let stream = TcpStream::connect(address).expect("the emulator listens");
        stream.set_nodelay(true).expect("an option");
        stream.set_read_timeout(Some(PATIENCE)).expect("a timeout");
        Self { stream, collector: Collector::new(), number: 0 }
    }

    /// Sends a request, and does not wait. Whether it could be sent.
    pub fn send(&mut self, request: Request) -> bool {
        self.number = self.number.wrapping_add(1);
        let mut out = [0; 64];
        let message = Message::new(self.number, request);
        let frame = message.write(&mut out).expect("a request is short");
        self.stream.write_all(frame).is_ok()
    }

    /// Asks, and hands the reply to `read`.
    ///
    /// # Panics
    /// When there is none in time.
    pub fn ask<T>(&mut self, request: Request, read: impl FnOnce(&Reply<'_>) -> T) -> T {
        assert!(self.send(request), "the line is closed");
        let mut byte = [0];
        loop {
            self.stream.read_exact(&mut byte).expect("a reply in time");
            let Some(payload) = self.collector.push(byte[0]) else { continue };
            let payload = payload.expect("a frame");
            let message: Message<Reply<'_>> = wire::read(payload).expect("a reply");
            if message.number == self.number {
                return read(&message.body);
            }
        }
    }

    /// Asks a logger that may just be starting, as a host does: again when no answer comes. A byte that
    /// comes in while the board switches its line on may be lost. Returns how often it asked.
    ///
    /// # Panics
    /// When there is no answer in all that time.
    pub fn ask_until_it_answers(&mut self, request: Request) -> u32 {
        self.stream.set_read_timeout(Some(ASK_AGAIN)).expect("a timeout");
        let began = Instant::now();
        let mut asked = 0;
        'again: loop {
            assert!(began.elapsed() < PATIENCE, "no answer to {request:?}, asked {asked} times");
            assert!(self.send(request), "the line is closed");
            asked += 1;
            let mut byte = [0];
            while self.stream.read_exact(&mut byte).is_ok() {
                let Some(Ok(payload)) = self.collector.push(byte[0]) else { continue };
                let answered = wire::read::<Reply<'_>>(payload).expect("a reply").number;
                if answered == self.number {
                    break 'again;
                }
            }
        }
        self.stream.set_read_timeout(Some(PATIENCE)).expect("a timeout");
        asked
    }

    /// Asks for something that stands in the log then, and returns boot and time of it.
    ///
    /// # Panics
    /// When it was not done.
    pub fn done(&mut self, request: Request) -> (u32, u32) {
        self.ask(request, |reply| match reply {
            Reply::Done { boot, at_s } => (*boot, *at_s),
            other => panic!("{request:?}: {other:?}"),
        })
    }
}
