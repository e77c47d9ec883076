//! `adopt` and `pull`: everything that talks to a logger.

use super::args::{Adopt, Port, Pull};
use super::question::{open_archive_to_write, parse_span_s};
use super::{Answer, Failure, Talk, fail, now_s, print_json};
use crate::archive::Archive;
use crate::attest::fingerprint;
use crate::port::{Address, Transport};
use crate::pull::{Finding, Link, Progress, Proof, PullError, PullReport, Tally};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Adopted<'a> {
    schema: u32,
    logger: String,
    name: &'a str,
    firmware: String,
    boot: u32,
    interval_s: u16,
    clock_set: bool,
    signed: Signed,
}

#[derive(Serialize)]
struct Pulled {
    schema: u32,
    logger: String,
    name: Option<String>,
    blocks_sealed: usize,
    bytes_moved: u64,
    up_to_date: bool,
    findings: Vec<String>,
    open_block: u32,
    open_len: u16,
    signed: Signed,
}

/// What came of asking for a signature.
#[derive(Serialize)]
struct Signed {
    /// `yes`, `no_key`, `alarm`, or `not_taken` when the line did not allow it.
    state: &'static str,
    /// Short form of the pinned key, for people to compare.
    fingerprint: Option<String>,
    /// Up to which block the signed log goes.
    open_block: Option<u32>,
    /// Bytes of that block.
    open_len: Option<u16>,
    /// Why it is not `yes`.
    why: Option<String>,
}

impl Signed {
    fn of(proof: &Result<Proof, String>, public_key: Option<&[u8; 32]>) -> Self {
        let (state, head, why) = match proof {
            Ok(Proof::True(kept)) => ("yes", Some(kept.attestation), None),
            Ok(Proof::NoKey) => ("no_key", None, None),
            Ok(Proof::Alarm(finding)) => ("alarm", None, Some(finding.to_string())),
            Ok(Proof::Unfinished(what)) => ("not_taken", None, Some(what.to_string())),
            Err(error) => ("not_taken", None, Some(error.clone())),
        };
        Self {
            state,
            fingerprint: public_key.map(fingerprint),
            open_block: head.map(|head| head.open_block),
            open_len: head.map(|head| head.open_len),
            why,
        }
    }

    /// For people: what is proved goes to standard output, all else to standard error.
    fn tell(&self, talk: &mut Talk<'_>) -> Result<(), Failure> {
        match (self.state, &self.fingerprint, self.open_block.zip(self.open_len), &self.why) {
            (_, Some(key), Some((block, len)), _) => {
                writeln!(talk.out, "signed up to block {block}, byte {len}, by key {key}")?;
            }
            ("no_key", ..) => {
                writeln!(talk.err, "note: this logger has no key and cannot sign its log")?;
            }
            ("not_taken", _, _, Some(why)) => {
                writeln!(
                    talk.err,
                    "warning: the log was not signed this time ({why}): pull again"
                )?;
            }
            // An alarm was told when it was found.
            _ => {}
        }
        Ok(())
    }
}

/// A nonce for a signature, by the random source of the operating system.
fn nonce() -> Result<[u8; 16], String> {
    let mut nonce = [0; 16];
    let filled = getrandom::fill(&mut nonce);
    filled.map(|()| nonce).map_err(|error| format!("this computer has no random bits: {error}"))
}

/// A logger that does not answer is a warning; an archive that fails is an error.
fn or_warn(proof: Result<Proof, PullError>) -> Result<Result<Proof, String>, Failure> {
    match proof {
        Ok(proof) => Ok(Ok(proof)),
        Err(PullError::Link(error)) => Ok(Err(error.to_string())),
        Err(error) => Err(error.into()),
    }
}

pub(super) fn adopt(
    args: &Adopt,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let interval_s = args.interval.as_deref().map(parse_interval).transpose()?;
    let mut archive = open_archive_to_write(archive)?;
    let mut link = open(&args.port, talk)?;
    let identity = link.hello()?;
    // A key is pinned only once its owner has signed with it.
    let proof = match nonce() {
        Ok(nonce) => or_warn(link.sign_head(&archive, &identity, now_s(), nonce))?,
        Err(why) => Err(why),
    };
    if let Ok(Proof::Alarm(finding)) = proof {
        return fail(finding.to_string());
    }
    // The name is settled before the logger is told anything.
    let adopted = archive.adopt(identity.logger, &args.name, identity.public_key, now_s())?;
    if let Ok(Proof::True(taken)) = &proof {
        archive.put_attestation(taken)?;
    }
    let signed = Signed::of(&proof, adopted.public_key.as_ref());
    if let Some(interval_s) = interval_s {
        link.set_interval(interval_s)?;
    }
    if !args.keep_clock {
        link.set_clock(now_s)?;
    }
    let status = link.status()?;
    let (major, minor, patch) = identity.firmware;
    let firmware = format!("{major}.{minor}.{patch}");
    if talk.json {
        let document = Adopted {
            schema: 1,
            logger: identity.logger.to_string(),
            name: &args.name,
            firmware,
            boot: status.boot,
            interval_s: status.interval_s,
            clock_set: !args.keep_clock,
            signed,
        };
        print_json(talk, &document)?;
        return Ok(Answer::Yes);
    }
    writeln!(talk.out, "{}: logger {}, firmware {firmware}", args.name, identity.logger)?;
    writeln!(talk.out, "boot {}, samples every {} s", status.boot, status.interval_s)?;
    if let Some(fingerprint) = &signed.fingerprint {
        writeln!(talk.out, "key {fingerprint}, pinned: write it down with the logger")?;
    }
    signed.tell(talk)?;
    for (probe, state) in [("slab", status.slab), ("air", status.air), ("supply", status.supply)] {
        if let Err(reason) = state {
            writeln!(talk.err, "note: {probe}: {}", crate::assess::absent(reason))?;
        }
    }
    if args.keep_clock {
        writeln!(
            talk.err,
            "note: the clock was left as it is; without a sync the log stays undated"
        )?;
    }
    Ok(Answer::Yes)
}

pub(super) fn pull(
    args: &Pull,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let mut archive = open_archive_to_write(archive)?;
    let mut link = open(&args.port, talk)?;
    let (report, proof) = pull_into(&mut archive, &mut link, talk, now_s, args.set_clock)?;
    let logger = archive.find_logger(&report.identity.logger.to_string())?;
    let signed = Signed::of(&proof, logger.public_key.as_ref());
    let findings: Vec<String> = report.findings.iter().map(ToString::to_string).collect();
    if talk.json {
        let document = Pulled {
            schema: 1,
            logger: logger.id.to_string(),
            name: logger.name,
            blocks_sealed: archive.held(logger.id)?.sealed.len(),
            bytes_moved: report.tally.bytes,
            up_to_date: report.tally.bytes == 0,
            findings,
            open_block: report.status.open_block,
            open_len: report.status.open_len,
            signed,
        };
        print_json(talk, &document)?;
        return Ok(Answer::Yes);
    }
    let label = logger.label();
    if report.tally.bytes == 0 {
        writeln!(talk.out, "{label}: nothing new")?;
    } else {
        writeln!(talk.out, "{label}: {} bytes of its log moved", report.tally.bytes)?;
    }
    signed.tell(talk)?;
    if logger.name.is_none() {
        writeln!(
            talk.err,
            "note: name this logger with `glueday adopt`, so that jobs can refer to it"
        )?;
    }
    Ok(Answer::Yes)
}

/// Pulls with a progress bar where there is a terminal, and has the log signed. What has to be known
/// goes to standard error. `now_s` tells the time in seconds of UTC.
pub(super) fn pull_into<T: Transport>(
    archive: &mut Archive,
    link: &mut Link<T>,
    talk: &mut Talk<'_>,
    now_s: impl Fn() -> i64,
    set_clock: bool,
) -> Result<(PullReport, Result<Proof, String>), Failure> {
    if set_clock {
        link.hello()?;
        link.set_clock(&now_s)?;
    }
    let mut bar = Bar::new(talk.progress);
    let report = link.pull(archive, now_s(), &mut bar);
    let mut report = report.inspect_err(|_| bar.bar.finish_and_clear())?;
    let proof = nonce().map(|nonce| link.prove(archive, &mut report, now_s(), nonce, &mut bar));
    bar.bar.finish_and_clear();
    let proof = match proof {
        Ok(proof) => or_warn(proof)?,
        Err(why) => Err(why),
    };
    for finding in &report.findings {
        writeln!(talk.err, "note: {finding}")?;
    }
    Ok((report, proof))
}

/// A progress bar, hidden where standard error is no terminal.
struct Bar {
    bar: ProgressBar,
}

impl Bar {
    fn new(shown: bool) -> Self {
        let target =
            if shown { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        // The template is a constant; an error in it would only cost the looks of the bar.
        if let Ok(style) = ProgressStyle::with_template(
            "{bar:30} {bytes} of {total_bytes}, {bytes_per_sec}, {eta} left",
        ) {
            bar.set_style(style);
        }
        Self { bar }
    }
}

impl Progress for Bar {
    fn moved(&mut self, tally: Tally) {
        self.bar.set_length(tally.bytes_total);
        self.bar.set_position(tally.bytes);
    }

    fn found(&mut self, finding: &Finding) {
        self.bar.println(finding.to_string());
    }
}

/// Where the logger is: as the user said, or the only port that it can be.
pub(super) fn port_address(port: &Port, talk: &mut Talk<'_>) -> Result<Address, Failure> {
    let name = match &port.port {
        Some(name) => name.clone(),
        None => {
            let name = super::ports::only_usb_port()?;
            writeln!(talk.err, "using {name}, the only USB serial port")?;
            name
        }
    };
    Ok(Address::parse(&name, port.baud)?)
}

pub(super) fn open(port: &Port, talk: &mut Talk<'_>) -> Result<Link<Box<dyn Transport>>, Failure> {
    Ok(Link::new(port_address(port, talk)?.open()?, session_number()))
}

/// The first message number of a session: another one each time, by the clock.
pub(super) fn session_number() -> u16 {
    let bytes = jiff::Timestamp::now().as_millisecond().to_le_bytes();
    u16::from_le_bytes([bytes[0], bytes[1]])
}

pub(super) fn parse_interval(text: &str) -> Result<u16, Failure> {
    match u16::try_from(parse_span_s(text)?) {
        Ok(interval_s) if interval_s > 0 => Ok(interval_s),
        _ => fail(format!("`{text}` is no interval: from 1 s to 18 h, such as \"10 min\"")),
    }
}
