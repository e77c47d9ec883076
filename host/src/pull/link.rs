//! Runs exchanges and sessions on a port.

use super::exchange::{Answer, Exchange, ExchangeError, Step};
use super::session::{Event, Session, SessionError, Tally, Target};
use super::{ATTEMPTS_MAX, Finding, LinkError, Pace, PullError};
use crate::archive::{Archive, ArchiveError, Held, Kept, PullRecord};
use crate::port::Transport;
use glueday_types::block::{Item, Reader};
use glueday_types::frame::FRAME_END;
use glueday_types::header::FORMAT_VERSION;
use glueday_types::wire::{
    Attestation, Identity, Refusal, Request, Status, WIRE_VERSION, WIRE_VERSION_MIN,
};
use glueday_types::{Entry, LoggerId, MarkKind, Sample};

/// How much is read from the port at once.
const READ_LEN: usize = 4096;

/// Is told how a pull goes.
pub trait Progress {
    /// More of the log came.
    fn moved(&mut self, tally: Tally);
    /// Something that the user has to know.
    fn found(&mut self, finding: &Finding);
}

/// Tells nobody.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn moved(&mut self, _: Tally) {}
    fn found(&mut self, _: &Finding) {}
}

/// What a pull did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PullReport {
    /// From whom.
    pub identity: Identity,
    /// How the logger was at the start.
    pub status: Status,
    /// How much was moved.
    pub tally: Tally,
    /// What the user has to know. Empty when all is well.
    pub findings: Vec<Finding>,
}

/// A mark that stands in the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Marked {
    /// The boot.
    pub boot: u32,
    /// Seconds since then.
    pub at_s: u32,
    /// How often it stands there: more than once when a delayed request was done as well.
    pub copies: u32,
}

/// What is noted of a pull beside its bytes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    /// When, in seconds since 1970-01-01 UTC.
    pub(super) now_s: i64,
    /// Supply voltage of the logger, when it could tell.
    pub(super) supply_mv: Option<u16>,
}

/// A line with a logger at its end.
#[derive(Debug)]
pub struct Link<T> {
    port: T,
    pace: Pace,
    number: u16,
}

impl<T: Transport> Link<T> {
    /// A link on an open port. `number` is that of the first request: let it differ from one session
    /// to the next, so that late replies are not mistaken.
    pub fn new(port: T, number: u16) -> Self {
        let pace = Pace::of_line(port.baud());
        Self { port, pace, number }
    }

    /// The port.
    pub fn port(&self) -> &T {
        &self.port
    }

    /// The port again.
    pub fn into_port(self) -> T {
        self.port
    }

    fn name(&self) -> String {
        self.port.name().to_owned()
    }

    /// Wakes the line and asks who is there.
    ///
    /// # Errors
    /// [`LinkError::Silent`] and [`LinkError::WrongDevice`] when it is no logger,
    /// [`LinkError::LoggerNewer`], [`LinkError::LoggerOlder`] and [`LinkError::FormatNewer`] when it is
    /// of another version.
    pub fn hello(&mut self) -> Result<Identity, LinkError> {
        self.port.discard_input()?;
        self.port.write_all(&[FRAME_END])?;
        let number = self.next_number();
        let exchange = Exchange::hello(number, &self.pace, self.port.elapsed());
        let Answer::Hello(identity) = self.exchange(exchange, "hello")? else {
            return Err(self.unexpected("hello"));
        };
        if identity.wire_version < WIRE_VERSION_MIN {
            return Err(self.version(identity.wire_version));
        }
        if identity.wire_version_min > WIRE_VERSION {
            return Err(self.version(identity.wire_version_min));
        }
        if identity.format_version > FORMAT_VERSION {
            let version = identity.format_version;
            return Err(LinkError::FormatNewer { port: self.name(), version });
        }
        Ok(identity)
    }

    /// Asks how the logger is.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn status(&mut self) -> Result<Status, LinkError> {
        match self.ask(Request::Status, "status")? {
            Answer::Status(status) => Ok(status),
            _ => Err(self.unexpected("status")),
        }
    }

    /// Asks for the latest sample: boot, seconds since then, and the sample if there is one.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn latest(&mut self) -> Result<(u32, u32, Option<Sample>), LinkError> {
        match self.ask(Request::Latest, "the latest reading")? {
            Answer::Latest { boot, uptime_s, sample } => Ok((boot, uptime_s, sample)),
            _ => Err(self.unexpected("the latest reading")),
        }
    }

    /// Has the head of the log signed.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn attest(&mut self, nonce: [u8; 16]) -> Result<Attestation, LinkError> {
        match self.ask(Request::Attest { nonce }, "a signature")? {
            Answer::Attested(attestation) => Ok(attestation),
            _ => Err(self.unexpected("a signature")),
        }
    }

    /// Has the logger sample at another interval. Returns boot and second of the entry.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn set_interval(&mut self, interval_s: u16) -> Result<(u32, u32), LinkError> {
        match self.ask(Request::SetInterval { interval_s }, "the new interval")? {
            Answer::Done { boot, at_s } => Ok((boot, at_s)),
            _ => Err(self.unexpected("the new interval")),
        }
    }

    /// Tells the logger the time. `utc_s` is asked before each try, so that a repetition states the
    /// time of the repetition. The logger takes the first try that comes through; one that restarted
    /// meanwhile takes another, and both are right.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn set_clock(&mut self, mut utc_s: impl FnMut() -> i64) -> Result<(u32, u32), LinkError> {
        let mut last = None;
        let number = self.next_number();
        for _ in 0..ATTEMPTS_MAX {
            match self.ask_once(number, Request::SetClock { utc_s: utc_s() }, "the time") {
                Ok(Answer::Done { boot, at_s }) => return Ok((boot, at_s)),
                Ok(_) => return Err(self.unexpected("the time")),
                Err(error @ LinkError::NoReply { .. }) => last = Some(error),
                Err(error) => return Err(error),
            }
        }
        Err(last.unwrap_or_else(|| self.no_reply("the time")))
    }

    /// Has a mark written into the log, once: when no reply comes, the entries that were written since
    /// are searched for it before it is asked for again, under the same number, so that a logger that
    /// took it late does not write it twice.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn mark(&mut self, logger: LoggerId, kind: MarkKind) -> Result<Marked, LinkError> {
        let before = self.status()?;
        let mut unanswered = false;
        let number = self.next_number();
        for _ in 0..ATTEMPTS_MAX {
            match self.ask_once(number, Request::Mark { kind }, "the mark") {
                Ok(Answer::Done { boot, at_s }) => {
                    let copies =
                        if unanswered { self.find_marks(logger, kind, &before)?.len() } else { 1 };
                    let copies = u32::try_from(copies).unwrap_or(u32::MAX).max(1);
                    return Ok(Marked { boot, at_s, copies });
                }
                Ok(_) => return Err(self.unexpected("the mark")),
                Err(LinkError::NoReply { .. }) => {
                    unanswered = true;
                    let found = self.find_marks(logger, kind, &before)?;
                    if let Some(&(boot, at_s)) = found.first() {
                        let copies = u32::try_from(found.len()).unwrap_or(u32::MAX);
                        return Ok(Marked { boot, at_s, copies });
                    }
                }
                Err(error) => return Err(error),
            }
        }
        Err(self.no_reply("the mark"))
    }

    /// Boot and second of the marks of a kind that were written since `before`.
    fn find_marks(
        &mut self,
        logger: LoggerId,
        kind: MarkKind,
        before: &Status,
    ) -> Result<Vec<(u32, u32)>, LinkError> {
        let target = Target::of_status(logger, &self.status()?);
        let target = Target { oldest_block: before.open_block.max(target.oldest_block), ..target };
        let mut session = Session::new(target, Held::default(), self.pace, self.next_number());
        let mut blocks = Vec::new();
        let outcome = self.run(&mut session, |event, _| {
            if let Some(Event::Sealed { bytes, .. } | Event::Open { bytes, .. }) = event {
                blocks.push(bytes);
            }
            Ok::<_, LinkError>(())
        });
        outcome?.map_err(|source| LinkError::Log { port: self.name(), source })?;
        let items = blocks.iter().filter_map(|bytes| Reader::new(bytes).ok()).flatten();
        Ok(items
            .filter_map(|item| match item {
                Item::Entry { number, boot, entry: Entry::Mark { at_s, kind: found } }
                    if found == kind && number >= before.entries =>
                {
                    Some((boot, at_s))
                }
                _ => None,
            })
            .collect())
    }

    /// Pulls what the archive lacks of the log. `now_s` is the time, in seconds since 1970-01-01 UTC,
    /// that the archive notes. The logger is not changed.
    ///
    /// # Errors
    /// [`PullError`]; what came before is stored, and the next pull goes on from there.
    pub fn pull(
        &mut self,
        archive: &mut Archive,
        now_s: i64,
        progress: &mut dyn Progress,
    ) -> Result<PullReport, PullError> {
        let identity = self.hello()?;
        let status = self.status()?;
        let logger = identity.logger;
        let mut findings = Vec::new();
        match archive.note_logger(logger, identity.public_key, now_s) {
            Err(ArchiveError::KeyChanged { logger }) if identity.public_key.is_some() => {
                progress.found(&Finding::KeyChanged { logger });
                findings.push(Finding::KeyChanged { logger });
            }
            // Told when the log is to be proved, see `Link::prove`.
            Err(ArchiveError::KeyChanged { .. }) => {}
            other => drop(other?),
        }
        let target = Target::of_status(logger, &status);
        let at = Moment { now_s, supply_mv: status.supply_mv };
        let tally = self.collect(archive, target, at, progress, &mut findings)?;
        Ok(PullReport { identity, status, tally, findings })
    }

    /// Pulls what the archive lacks of the log up to `target`.
    pub(super) fn collect(
        &mut self,
        archive: &mut Archive,
        target: Target,
        at: Moment,
        progress: &mut dyn Progress,
        findings: &mut Vec<Finding>,
    ) -> Result<Tally, PullError> {
        let (logger, now_s) = (target.logger, at.now_s);
        let held = archive.held(logger)?;
        let mut session = Session::new(target, held, self.pace, self.next_number());
        let origin = format!("pulled through {}", self.port.name());
        let outcome = self.run(&mut session, |event, tally| {
            let Some(event) = event else {
                progress.moved(tally);
                return Ok(());
            };
            let kept = match event {
                Event::Sealed { number, bytes } => {
                    (archive.put_block(logger, &bytes, &origin, now_s)?, number)
                }
                Event::Open { number, bytes } => {
                    (archive.extend_open_block(logger, &bytes, &origin, now_s)?, number)
                }
                Event::Found(finding) => {
                    progress.found(&finding);
                    findings.push(finding);
                    return Ok(());
                }
                _ => return Ok(()),
            };
            if let (Kept::Conflict, block) = kept {
                progress.found(&Finding::Conflict { block });
                findings.push(Finding::Conflict { block });
            }
            Ok::<_, PullError>(())
        });
        let outcome = outcome.and_then(|ended| {
            ended.map_err(|source| LinkError::Log { port: self.name(), source }.into())
        });
        if matches!(outcome, Err(PullError::Link(_))) {
            for (_, bytes) in session.parts() {
                archive.extend_open_block(logger, &bytes, &origin, now_s)?;
            }
        }
        archive.note_pull(&PullRecord {
            logger,
            at_s: now_s,
            port: self.name(),
            bytes: session.tally().bytes,
            result: match &outcome {
                Ok(()) => PullRecord::COMPLETE.to_owned(),
                Err(error) => error.to_string(),
            },
            supply_mv: at.supply_mv,
        })?;
        outcome?;
        Ok(session.tally())
    }

    /// Runs a session to its end. `on` is handed what there is to keep or to tell, and `None` when
    /// bytes came.
    fn run<E: From<LinkError>>(
        &mut self,
        session: &mut Session,
        mut on: impl FnMut(Option<Event>, Tally) -> Result<(), E>,
    ) -> Result<Result<(), SessionError>, E> {
        let mut buffer = [0; READ_LEN];
        let ended = loop {
            match session.poll(self.port.elapsed()) {
                Event::Send(bytes) => self.port.write_all(&bytes).map_err(LinkError::from)?,
                Event::Wait(until) => {
                    let wait = until.saturating_sub(self.port.elapsed());
                    let len = self.port.read(&mut buffer, wait).map_err(LinkError::from)?;
                    session.receive(buffer.get(..len).unwrap_or_default(), self.port.elapsed());
                    on(None, session.tally())?;
                }
                Event::Over(ended) => break ended,
                event => on(Some(event), session.tally())?,
            }
        };
        // The session counted up from the number that it was given.
        let requests = u16::try_from(session.tally().requests % (1 << 16)).unwrap_or(0);
        self.number = self.number.wrapping_add(requests);
        Ok(ended)
    }

    fn exchange(
        &mut self,
        mut exchange: Exchange,
        request: &'static str,
    ) -> Result<Answer, LinkError> {
        let mut buffer = [0; READ_LEN];
        loop {
            match exchange.poll(self.port.elapsed()) {
                Step::Send(bytes) => self.port.write_all(&bytes)?,
                Step::Wait(until) => {
                    let wait = until.saturating_sub(self.port.elapsed());
                    let len = self.port.read(&mut buffer, wait)?;
                    exchange.receive(buffer.get(..len).unwrap_or_default());
                }
                Step::Over(Ok(Answer::Refused(why))) => return Err(self.refused(request, why)),
                Step::Over(Ok(answer)) => return Ok(answer),
                Step::Over(Err(error)) => return Err(self.failed(request, error)),
            }
        }
    }

    fn ask(&mut self, request: Request, name: &'static str) -> Result<Answer, LinkError> {
        let number = self.next_number();
        let now = self.port.elapsed();
        let exchange = Exchange::ask(request, number, &self.pace, ATTEMPTS_MAX, now);
        self.exchange(exchange, name).map_err(|error| self.answered_before(error, name))
    }

    /// Asks without repeating. A change that is asked for again keeps its number: see `Link::mark`.
    fn ask_once(
        &mut self,
        number: u16,
        request: Request,
        name: &'static str,
    ) -> Result<Answer, LinkError> {
        let exchange = Exchange::ask(request, number, &self.pace, 1, self.port.elapsed());
        self.exchange(exchange, name).map_err(|error| self.answered_before(error, name))
    }

    /// Who is asked anything but hello has answered before.
    fn answered_before(&self, error: LinkError, request: &'static str) -> LinkError {
        match error {
            LinkError::Silent { .. } | LinkError::WrongDevice { .. } => self.no_reply(request),
            other => other,
        }
    }

    fn failed(&self, request: &'static str, error: ExchangeError) -> LinkError {
        let port = self.name();
        match error {
            ExchangeError::NoAnswer { logger: true, .. } => LinkError::NoReply { port, request },
            ExchangeError::NoAnswer { bytes: 0, .. } => LinkError::Silent { port },
            ExchangeError::NoAnswer { bytes, .. } => LinkError::WrongDevice { port, bytes },
            ExchangeError::Version { version } => self.version(version),
        }
    }

    fn refused(&self, request: &'static str, why: Refusal) -> LinkError {
        match why {
            Refusal::Version { min, .. } if min > WIRE_VERSION => self.version(min),
            Refusal::Version { max, .. } if max < WIRE_VERSION => {
                LinkError::LoggerOlder { port: self.name(), version: max }
            }
            why => LinkError::Refused { port: self.name(), request, why },
        }
    }

    fn version(&self, version: u8) -> LinkError {
        let port = self.name();
        if version < WIRE_VERSION_MIN {
            LinkError::LoggerOlder { port, version }
        } else {
            LinkError::LoggerNewer { port, version }
        }
    }

    fn no_reply(&self, request: &'static str) -> LinkError {
        LinkError::NoReply { port: self.name(), request }
    }

    fn unexpected(&self, request: &'static str) -> LinkError {
        LinkError::Unexpected { port: self.name(), request }
    }

    fn next_number(&mut self) -> u16 {
        self.number = self.number.wrapping_add(1);
        self.number
    }
}
