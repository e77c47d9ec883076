//! One line to a peer: what came in, what waits to go out, and how fast it may.

use crate::port::{Io, Port};
use glueday_firmware::Link;
use glueday_types::wire::REPLY_FRAME_LEN_MAX;
use std::time::{Duration, Instant};

/// Holds a line to the pace of a real one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Pace {
    /// Bytes a second at most, from the logger to the host: 11,520 for 115200 baud with start and stop
    /// bit.
    pub bytes_per_s: Option<u32>,
    /// Time from the last byte of a request to the first of its reply, as a USB serial adapter takes.
    pub turnaround: Duration,
}

/// Bytes go out in pieces of this size, so that a paced line does not come in bursts.
const PIECE_LEN: usize = 64;

pub(crate) struct Line {
    port: Port,
    link: Link,
    pace: Pace,
    out: [u8; REPLY_FRAME_LEN_MAX],
    out_from: usize,
    out_to: usize,
    /// When the line is free to send again.
    free_at: Instant,
}

impl Line {
    pub(crate) fn new(port: Port, pace: Pace) -> Self {
        Self {
            port,
            link: Link::new(),
            pace,
            out: [0; REPLY_FRAME_LEN_MAX],
            out_from: 0,
            out_to: 0,
            free_at: Instant::now(),
        }
    }

    fn hang_up(&mut self) {
        self.link.hang_up();
        self.out_from = 0;
        self.out_to = 0;
    }

    /// Moves bytes both ways once. `reply` makes the next frame. Returns whether anything moved.
    pub(crate) fn turn(
        &mut self,
        mut reply: impl FnMut(&mut Link, &mut [u8]) -> Option<usize>,
    ) -> bool {
        let mut moved = false;
        let mut bytes = [0; 256];
        match self.port.receive(&mut bytes) {
            Io::Moved(len) => {
                for byte in bytes.iter().take(len) {
                    self.link.receive(*byte);
                }
                let answer_at = Instant::now() + self.pace.turnaround;
                self.free_at = self.free_at.max(answer_at);
                moved = true;
            }
            Io::Waits => {}
            Io::Gone => self.hang_up(),
        }
        // One frame a turn, so that requests and samples are seen between them.
        if self.out_from == self.out_to {
            self.out_from = 0;
            self.out_to = reply(&mut self.link, &mut self.out).unwrap_or(0);
        }
        while let Some(rest) =
            self.out.get(self.out_from..self.out_to).filter(|rest| !rest.is_empty())
        {
            let now = Instant::now();
            if now < self.free_at {
                break;
            }
            let piece = match self.pace.bytes_per_s {
                Some(_) => rest.get(..PIECE_LEN).unwrap_or(rest),
                None => rest,
            };
            match self.port.send(piece) {
                Io::Moved(len) => {
                    moved = true;
                    self.out_from += len;
                    if let Some(bytes_per_s) = self.pace.bytes_per_s {
                        // Late turns of this loop must not slow the line down: it catches up
                        // a little.
                        let from = self.free_at.max(now - Duration::from_millis(20));
                        let len = u32::try_from(len).unwrap_or(u32::MAX);
                        let took = Duration::from_secs(1) * len / bytes_per_s.max(1);
                        self.free_at = from + took;
                    }
                }
                Io::Waits => break,
                Io::Gone => self.hang_up(),
            }
        }
        moved
    }

    /// How long its pace keeps the line from sending what waits, if it does.
    pub(crate) fn pause(&self) -> Option<Duration> {
        let pause = self.free_at.saturating_duration_since(Instant::now());
        (self.out_from < self.out_to && !pause.is_zero()).then_some(pause)
    }

    /// The port, and whether bytes wait for its peer to take them.
    pub(crate) fn waiting(&mut self) -> (&mut Port, bool) {
        let sending = self.out_from < self.out_to && self.pause().is_none();
        (&mut self.port, sending)
    }
}
