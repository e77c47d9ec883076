//! The thread that talks to the logger: asks how it is, pulls what is new, and tries again when the line
//! is lost.

use super::super::{Failure, fail, now_s};
use crate::archive::Archive;
use crate::port::{Address, PortError, Transport};
use crate::pull::{Finding, Link, Progress, PullError, Tally};
use glueday_types::wire::Status;
use glueday_types::{LoggerId, Sample};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long a wait goes on after somebody asked to stop.
const SLICE: Duration = Duration::from_millis(50);
/// How long a lost line is left alone before it is tried again.
const RETRY: Duration = Duration::from_secs(2);
/// How long the thread has to see that it is to end. It may hang in a port that takes no bytes; the end of
/// the program ends it then, and what it stored is whole.
const END_WAIT: Duration = Duration::from_secs(1);

/// What the thread tells.
pub(super) enum News {
    /// A logger answered.
    Reached { logger: LoggerId, port: String },
    /// Its log is on the way.
    Moving { port: String, bytes: u64, total: u64 },
    /// The archive has all that the logger had.
    Told { port: String, told: Told, findings: Vec<String> },
    /// The line does not work; it is tried again.
    Lost { why: String },
    /// It is no use to go on.
    Failed { why: String },
}

/// What a logger says of itself.
pub(super) struct Told {
    /// The latest sample.
    pub(super) sample: Option<Sample>,
    /// Seconds since boot, then.
    pub(super) uptime_s: u32,
    /// The same by the clock of this computer.
    pub(super) at_s: i64,
    pub(super) interval_s: u16,
    pub(super) supply_mv: Option<u16>,
}

pub(super) struct Follower {
    news: Receiver<News>,
    stop: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Follower {
    pub(super) fn start(
        address: Address,
        archive: Archive,
        every: Duration,
        stop: Arc<AtomicBool>,
    ) -> Self {
        let (tell, news) = channel();
        let thread = {
            let stop = Arc::clone(&stop);
            let mut follow = Follow { address, archive, stop, tell, head: None };
            std::thread::spawn(move || follow.run(every))
        };
        Self { news, stop, thread }
    }

    /// What comes within a time.
    pub(super) fn news(&self, wait: Duration) -> Result<Option<News>, Failure> {
        match self.news.recv_timeout(wait) {
            Ok(mut news) => {
                // How far a pull has come is only of use while it is the latest.
                while matches!(news, News::Moving { .. })
                    && let Ok(newer) = self.news.try_recv()
                {
                    news = newer;
                }
                Ok(Some(news))
            }
            Err(RecvTimeoutError::Timeout) => Ok(None),
            // It was asked to, and was the first to see that.
            Err(RecvTimeoutError::Disconnected) if self.stop.load(Ordering::Relaxed) => Ok(None),
            Err(RecvTimeoutError::Disconnected) => {
                fail("the part of the program that talks to the logger broke off")
            }
        }
    }

    /// Ends the thread, or leaves it behind.
    pub(super) fn end(self) {
        self.stop.store(true, Ordering::Relaxed);
        let until = Instant::now() + END_WAIT;
        while !self.thread.is_finished() && Instant::now() < until {
            std::thread::sleep(SLICE);
        }
    }
}

/// Why a refresh came to nothing.
enum Broken {
    /// The line; to be tried again.
    Line(String),
    /// The archive; that will not mend itself.
    Archive(String),
    /// Somebody has had enough.
    Stopped,
}

impl From<PullError> for Broken {
    fn from(error: PullError) -> Self {
        match error {
            PullError::Archive(error) => Self::Archive(error.to_string()),
            PullError::Link(error) => Self::Line(error.to_string()),
        }
    }
}

/// Where the log of a logger ended when all of it had been pulled.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Head {
    logger: LoggerId,
    boot: u32,
    open_block: u32,
    open_len: u16,
}

struct Follow {
    address: Address,
    archive: Archive,
    stop: Arc<AtomicBool>,
    tell: Sender<News>,
    head: Option<Head>,
}

type Port = Link<Stoppable<Box<dyn Transport>>>;

impl Follow {
    fn run(&mut self, every: Duration) {
        let mut link: Option<(Port, LoggerId)> = None;
        while !self.is_over() {
            let began = Instant::now();
            let outcome = match &mut link {
                Some((link, logger)) => self.refresh(link, *logger),
                closed => self.open().and_then(|(port, logger)| {
                    let (port, logger) = closed.insert((port, logger));
                    self.refresh(port, *logger)
                }),
            };
            let (news, wait) = match outcome {
                Ok(news) => (news, every),
                Err(Broken::Line(why)) => (News::Lost { why }, RETRY),
                Err(Broken::Archive(why)) => (News::Failed { why }, Duration::ZERO),
                Err(Broken::Stopped) => return,
            };
            if !matches!(news, News::Told { .. }) {
                link = None;
            }
            if self.is_over() || self.tell.send(news).is_err() {
                return;
            }
            while began.elapsed() < wait && !self.is_over() {
                std::thread::sleep(SLICE.min(wait));
            }
        }
    }

    fn is_over(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    fn open(&self) -> Result<(Port, LoggerId), Broken> {
        let transport = self.address.open().map_err(|error| Broken::Line(error.to_string()))?;
        let transport = Stoppable { transport, stop: Arc::clone(&self.stop) };
        let mut link = Link::new(transport, super::super::logger::session_number());
        let logger = link.hello().map_err(PullError::Link)?.logger;
        let news = News::Reached { logger, port: self.address.to_string() };
        self.tell.send(news).map_err(|_| Broken::Stopped)?;
        Ok((link, logger))
    }

    /// Asks how the logger is, and pulls only when its log has grown: on a slow line, and for the list
    /// of pulls in the archive.
    fn refresh(&mut self, link: &mut Port, logger: LoggerId) -> Result<News, Broken> {
        let port = self.address.to_string();
        let status = link.status().map_err(PullError::Link)?;
        let head = Head::of(logger, &status);
        let mut findings = Vec::new();
        if self.head != Some(head) {
            let mut progress = Teller { tell: &self.tell, port: &port };
            let report = link.pull(&mut self.archive, now_s(), &mut progress)?;
            if report.identity.logger != logger {
                return Err(Broken::Line(format!("{port}: another logger was plugged in")));
            }
            self.head = Some(Head::of(logger, &report.status));
            findings = report.findings.iter().map(ToString::to_string).collect();
        }
        let (boot, uptime_s, sample) = link.latest().map_err(PullError::Link)?;
        let sample = sample.filter(|_| boot == status.boot);
        let told = Told {
            sample,
            uptime_s,
            at_s: now_s(),
            interval_s: status.interval_s,
            supply_mv: status.supply_mv,
        };
        Ok(News::Told { port, told, findings })
    }
}

impl Head {
    fn of(logger: LoggerId, status: &Status) -> Self {
        let Status { boot, open_block, open_len, .. } = *status;
        Self { logger, boot, open_block, open_len }
    }
}

struct Teller<'a> {
    tell: &'a Sender<News>,
    port: &'a str,
}

impl Progress for Teller<'_> {
    fn moved(&mut self, tally: Tally) {
        let (bytes, total) = (tally.bytes, tally.bytes_total);
        // Nobody listens any more only when it is over, which is noticed elsewhere.
        let _ = self.tell.send(News::Moving { port: self.port.to_owned(), bytes, total });
    }

    fn found(&mut self, _: &Finding) {}
}

/// A port whose waits end when somebody asks to stop.
struct Stoppable<T> {
    transport: T,
    stop: Arc<AtomicBool>,
}

impl<T: Transport> Transport for Stoppable<T> {
    fn name(&self) -> &str {
        self.transport.name()
    }

    fn baud(&self) -> Option<u32> {
        self.transport.baud()
    }

    fn write_all(&mut self, bytes: &[u8]) -> Result<(), PortError> {
        self.transport.write_all(bytes)
    }

    fn read(&mut self, into: &mut [u8], timeout: Duration) -> Result<usize, PortError> {
        let until = self.transport.elapsed() + timeout;
        loop {
            if self.stop.load(Ordering::Relaxed) {
                let (port, detail) = (self.name().to_owned(), "no longer listened to".to_owned());
                return Err(PortError::Gone { port, detail });
            }
            let left = until.saturating_sub(self.transport.elapsed());
            match self.transport.read(into, left.min(SLICE))? {
                0 if left > SLICE => {}
                len => return Ok(len),
            }
        }
    }

    fn discard_input(&mut self) -> Result<(), PortError> {
        self.transport.discard_input()
    }

    fn elapsed(&self) -> Duration {
        self.transport.elapsed()
    }
}
