//! What a board is to the logger, and the loop that every board runs.
//!
//! A board crate makes its flash and its probes, implements [`Board`] for the rest of it, and calls
//! [`run`]. Nothing else that decides anything belongs into a board crate.

use crate::button::{Button, Pressed};
use crate::fmt::{info, warning};
use crate::indicator;
use crate::key::{Key, NoKey};
use crate::link::Link;
use crate::logger::{Logger, Settings};
use crate::probes::Probes;
use embedded_storage::nor_flash::NorFlash;
use glueday_types::wire::REPLY_FRAME_LEN_MAX;
use glueday_types::{BootReason, MarkKind};

/// Time between two attempts to take up a log whose flash fails.
const RETRY_MS: u64 = 10_000;
/// How long the LED stays lit when the button has put a mark into the log.
const MARKED_MS: u64 = 1_000;
/// Bytes taken from the line in one turn.
const RECEIVE_LEN: usize = 64;

/// What a board has besides its flash and its probes.
///
/// None of these may wait but [`Board::rest`].
pub trait Board {
    /// Milliseconds since the logger started. Goes on while the board rests and never goes back.
    fn now_ms(&mut self) -> u64;

    /// Moves bytes that came in on the line into `into`, and returns how many.
    fn receive(&mut self, into: &mut [u8]) -> usize;

    /// Hands bytes to the line, and returns how many it took: from none to all.
    fn send(&mut self, bytes: &[u8]) -> usize;

    /// Whether somebody listens on the line, for lines that can tell. What waits for nobody is
    /// dropped.
    fn has_peer(&mut self) -> bool {
        true
    }

    /// Lights the LED or puts it out.
    fn set_led(&mut self, lit: bool);

    /// Whether there is an LED that somebody may look at. If not, the board does not wake for it.
    fn has_led(&mut self) -> bool {
        true
    }

    /// Whether the button is down now.
    fn button_is_down(&mut self) -> bool {
        false
    }

    /// Tells the watchdog that all is well. Called once a turn and before the log is mounted.
    fn feed_watchdog(&mut self) {}

    /// Rests until `until_ms`, or until something happens before: a byte comes in, the line takes
    /// bytes again, the button moves, the watchdog wants to be fed. May return earlier than that.
    fn rest(&mut self, until_ms: u64);
}

/// Takes up the log on `flash` and runs the logger for ever.
///
/// While the flash fails, or holds a log that must not be touched, the LED says so and it is tried
/// again every ten seconds; the reason is in the log lines. `key` comes from [`crate::key::take_up`];
/// a logger without one logs, and says to the host that it has none.
pub fn run<B: Board, F: NorFlash, P: Probes>(
    board: &mut B,
    flash: &mut F,
    probes: &mut P,
    settings: &Settings,
    key: Result<Key, NoKey>,
    reason: BootReason,
) -> ! {
    if let Err(why) = &key {
        warning!("no key: {}", why);
    }
    let mut station = loop {
        board.feed_watchdog();
        let now_s = seconds(board.now_ms());
        match Logger::start(&mut *flash, &mut *probes, settings, now_s, reason) {
            Ok(mut logger) => {
                logger.set_key(key.ok());
                break Station::new(logger);
            }
            Err(error) => warning!("the log cannot be taken up: {}", error),
        }
        let until_ms = board.now_ms().saturating_add(RETRY_MS);
        while board.now_ms() < until_ms {
            board.feed_watchdog();
            show(board, indicator::State::LogFailed, until_ms);
        }
    };
    info!("running");
    loop {
        station.turn(board);
    }
}

/// Shows `state` on the LED and rests until that changes, `until_ms` at most.
fn show<B: Board>(board: &mut B, state: indicator::State, until_ms: u64) {
    if !board.has_led() {
        board.rest(until_ms);
        return;
    }
    let now_ms = board.now_ms();
    let phase_ms = state.phase_ms(now_ms);
    board.set_led(state.is_lit(phase_ms));
    let change_ms = now_ms.saturating_add(state.next_change_ms(phase_ms).into());
    board.rest(until_ms.min(change_ms));
}

/// Seconds in `ms`, whole ones; stops at the end of what the log can count (136 years).
fn seconds(ms: u64) -> u32 {
    u32::try_from(ms / 1000).unwrap_or(u32::MAX)
}

/// A logger with its line, its button and its LED.
#[derive(Debug)]
pub struct Station<F, P> {
    logger: Logger<F, P>,
    link: Link,
    button: Button,
    marked_until_ms: u64,
    out: [u8; REPLY_FRAME_LEN_MAX],
    out_from: usize,
    out_to: usize,
}

impl<F: NorFlash, P: Probes> Station<F, P> {
    /// A station around a logger that was started.
    #[must_use]
    pub fn new(logger: Logger<F, P>) -> Self {
        Self {
            logger,
            link: Link::new(),
            button: Button::new(),
            marked_until_ms: 0,
            out: [0; REPLY_FRAME_LEN_MAX],
            out_from: 0,
            out_to: 0,
        }
    }

    /// The logger.
    #[must_use]
    pub fn logger(&self) -> &Logger<F, P> {
        &self.logger
    }

    /// Gives the logger back.
    #[must_use]
    pub fn release(self) -> Logger<F, P> {
        self.logger
    }

    /// Does what is to be done now, and rests until there is more.
    pub fn turn<B: Board>(&mut self, board: &mut B) {
        board.feed_watchdog();
        let now_ms = board.now_ms();
        let now_s = seconds(now_ms);
        // What could not be written is counted by the logger, said by its status and its LED.
        let _ = self.logger.tick(now_s);
        self.press(board, now_ms);
        if self.talk(board, now_s) {
            return;
        }
        let mut until_ms = match self.logger.next_due_s() {
            Some(due_s) => u64::from(due_s) * 1000,
            None => u64::MAX,
        };
        if let Some(settled_ms) = self.button.settles_at_ms() {
            until_ms = until_ms.min(settled_ms);
        }
        if now_ms < self.marked_until_ms {
            board.set_led(true);
            board.rest(until_ms.min(self.marked_until_ms));
        } else {
            show(board, self.logger.state(), until_ms);
        }
    }

    /// Puts a mark into the log when the button was pressed.
    fn press<B: Board>(&mut self, board: &mut B, now_ms: u64) {
        if self.button.poll(board.button_is_down(), now_ms) == Some(Pressed)
            && self.logger.mark(seconds(now_ms), MarkKind::Button).is_ok()
        {
            self.marked_until_ms = now_ms.saturating_add(MARKED_MS);
        }
    }

    /// Moves bytes both ways once. Returns whether there may be more to move at once.
    fn talk<B: Board>(&mut self, board: &mut B, now_s: u32) -> bool {
        if !board.has_peer() {
            self.link.hang_up();
            self.out_from = 0;
            self.out_to = 0;
        }
        let mut bytes = [0; RECEIVE_LEN];
        let received = board.receive(&mut bytes);
        for byte in bytes.iter().take(received) {
            self.link.receive(*byte);
        }
        // One frame a turn, so that samples are on time between them.
        if self.out_from >= self.out_to {
            self.out_from = 0;
            self.out_to = self.link.next_reply(now_s, &mut self.logger, &mut self.out).unwrap_or(0);
        }
        let rest = self.out.get(self.out_from..self.out_to).unwrap_or_default();
        let sent = if rest.is_empty() { 0 } else { board.send(rest) };
        self.out_from = self.out_from.saturating_add(sent);
        let sent_all = self.out_from >= self.out_to;
        received > 0 || sent > 0 || (sent_all && self.link.has_reply())
    }
}
