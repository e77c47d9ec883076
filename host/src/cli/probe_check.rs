//! `probe-check`: guides through the check of a probe, watches it, and notes it in the job file.

mod report;
mod watch;

use super::args::ProbeCheck as Args;
use super::logger::{open, parse_interval};
use super::question::{archive_path, parse_span_s, read_job, read_text};
use super::{Answer, Failure, Plain, Talk, fail, print_json, store};
use crate::archive::Archive;
use crate::job::{Channel, Edited, Job, LoggerRef, NewCheck, Zone, add_check};
use crate::limits::Limits;
use crate::probe_check::{Method, Outcome, Plan, PlanError, cautions, steps};
use crate::quantity::{Quantity as _, RelativeHumidity, Temperature};
use glueday_types::LoggerId;
use std::path::Path;
use watch::Watch;

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let job = read_job(&args.job)?;
    let room = room(&job, args.room.as_deref())?;
    let plan = plan(args)?;
    let give_up_s = seconds(&args.give_up)?;
    if give_up_s <= plan.watch_s() {
        return Err(Box::new(PlanError::GiveUpTooSoon));
    }
    let interval_s = args.interval.as_deref().map(parse_interval).transpose()?;
    let Some(limit) = Limits::resolve(&job).value(plan.limit()) else {
        return fail(format!("there is no limit {}", plan.limit()));
    };
    let room_name = room.map(|zone| zone.name.as_str());
    rehearse(args, room_name, &plan)?;
    guide(&plan, talk)?;

    let mut link = open(&args.port, talk)?;
    let logger = link.hello()?.logger;
    if let Some(note) = belongs(logger, room, archive)? {
        writeln!(talk.err, "note: {note}")?;
    }
    let window = Watch { plan: &plan, units: job.site.units, give_up_s, interval_s }
        .until_steady(&mut link, talk)
        .map_err(|error| {
            Plain(format!("{error}; nothing was written to {}", args.job.display()))
        })?;
    let outcome = Outcome::of(&plan, &window, limit, job.site.units, args.reference.as_deref())?;

    let today = job.local(jiff::Timestamp::now()).date();
    let check = outcome.to_check(&plan, today);
    let added = store(args, room_name, plan.channel(), &check).or_else(|error| {
        let lines = check.to_toml();
        fail(format!("{error}\nthe check was not written; add it by hand:\n{lines}"))
    })?;
    let answer = if outcome.within { Answer::Yes } else { Answer::Wait };
    if talk.json {
        print_json(talk, &report::document(&plan, room_name, &window, &outcome, !args.dry_run))?;
        return Ok(answer);
    }
    let lines = report::lines(&plan, room_name, &window, &outcome, job.site.units);
    if args.dry_run {
        writeln!(talk.err, "{lines}not written; this would be added to {}:", args.job.display())?;
        write!(talk.out, "{added}")?;
    } else {
        writeln!(talk.out, "{lines}noted in {}", args.job.display())?;
    }
    if !outcome.within {
        writeln!(
            talk.err,
            "the probe is off by more than the limit: repeat the check, and replace the probe or have it \
             calibrated when it stays"
        )?;
    }
    if matches!(plan.method(), Method::Comparison(_)) {
        let reference = &outcome.reference.text;
        writeln!(talk.err, "look again: the reference must still read {reference}, else repeat")?;
    }
    Ok(answer)
}

/// The room asked about; `None` for a job without rooms.
fn room<'a>(job: &'a Job, name: Option<&str>) -> Result<Option<&'a Zone>, Failure> {
    let known = || job.zones.iter().map(|zone| zone.name.as_str()).collect::<Vec<_>>().join(", ");
    match (name, job.zones.as_slice()) {
        (Some(name), []) if name == job.site.name => Ok(None),
        (Some(name), []) => fail(format!(
            "the job has no room \"{name}\": add a [[room]] to it, or leave out --room"
        )),
        (Some(name), _) => match job.zone(name) {
            Some(zone) => Ok(Some(zone)),
            None => fail(format!("the job has no room \"{name}\"; its rooms are: {}", known())),
        },
        (None, []) => Ok(None),
        (None, [only]) => Ok(Some(only)),
        (None, _) => fail(format!("which room's logger is it? Name it with --room: {}", known())),
    }
}

fn plan(args: &Args) -> Result<Plan, Failure> {
    let channel = Channel::from(args.channel);
    let method = match (args.salt, &args.reference) {
        (Some(salt), _) => Method::Salt(salt),
        (None, Some(text)) => Method::Comparison(match channel {
            Channel::Rh => RelativeHumidity::parse(text)?.held(),
            _ => Temperature::parse(text)?.held(),
        }),
        (None, None) => Method::Ice,
    };
    Ok(Plan::new(channel, method, seconds(&args.watch)?)?)
}

fn seconds(text: &str) -> Result<u32, Failure> {
    Ok(u32::try_from(parse_span_s(text)?)?)
}

fn guide(plan: &Plan, talk: &mut Talk<'_>) -> Result<(), Failure> {
    for (number, step) in (1..).zip(steps(plan)) {
        paragraph(talk, &format!("{number}. "), &step)?;
    }
    for caution in cautions(plan) {
        paragraph(talk, "CAUTION: ", caution)?;
    }
    Ok(())
}

/// Wraps a text at the width of the terminal, its lines set in behind the mark.
fn paragraph(talk: &mut Talk<'_>, mark: &str, text: &str) -> Result<(), Failure> {
    let width = talk.width.clamp(40, 100);
    let mut line = mark.to_owned();
    let mut begun = false;
    for word in text.split_whitespace() {
        if begun && line.chars().count() + 1 + word.chars().count() > width {
            writeln!(talk.err, "{line}")?;
            line = " ".repeat(mark.chars().count());
        } else if begun {
            line.push(' ');
        }
        line.push_str(word);
        begun = true;
    }
    writeln!(talk.err, "{line}")?;
    Ok(())
}

/// Refuses a logger that is known to be another room's. Says so when it is not known.
fn belongs(
    logger: LoggerId,
    room: Option<&Zone>,
    archive: Option<&Path>,
) -> Result<Option<String>, Failure> {
    let Some(room) = room else { return Ok(None) };
    let wrong = |named: &str| {
        fail(format!(
            "the connected logger is {logger}, but room {} has {named}: connect that one, or mend \
             `logger` in the job file",
            room.name
        ))
    };
    match &room.logger {
        None => Ok(Some(format!("room {} names no logger in the job file", room.name))),
        Some(LoggerRef::Id(id)) if LoggerId(*id) == logger => Ok(None),
        Some(LoggerRef::Id(id)) => wrong(&LoggerId(*id).to_string()),
        Some(LoggerRef::Name(name)) => {
            let archive = Archive::open_read_only(&archive_path(archive)?);
            match archive.and_then(|archive| archive.find_logger(name)) {
                Ok(found) if found.id == logger => Ok(None),
                Ok(found) => wrong(&found.label()),
                Err(error) => Ok(Some(format!(
                    "cannot tell whether this is the logger of room {}: {error}",
                    room.name
                ))),
            }
        }
    }
}

/// Adds the check to the file as it is by now: it may have been edited meanwhile.
fn store(
    args: &Args,
    room: Option<&str>,
    channel: Channel,
    check: &NewCheck,
) -> Result<String, Failure> {
    let Edited { text, added } = edit(args, room, channel, check)?;
    if !args.dry_run {
        store::write(&args.job, text.as_bytes())?;
    }
    Ok(added)
}

fn edit(
    args: &Args,
    room: Option<&str>,
    channel: Channel,
    check: &NewCheck,
) -> Result<Edited, Failure> {
    let name = args.job.display().to_string();
    Ok(add_check(&read_text(&args.job)?, &name, room, channel, check)?)
}

/// Finds out whether the file can take a check, before anybody waits for one.
fn rehearse(args: &Args, room: Option<&str>, plan: &Plan) -> Result<(), Failure> {
    if !args.dry_run {
        store::rehearse(&args.job).map_err(|error| {
            Plain(format!("the check could not be noted: {error}; or use --dry-run"))
        })?;
    }
    let figure = if plan.is_humidity() { "50 %" } else { "0 C" };
    let check = NewCheck {
        date: jiff::civil::date(2026, 1, 1),
        method: plan.check_method(),
        reference: figure.to_owned(),
        reading: figure.to_owned(),
        temperature: None,
    };
    edit(args, room, plan.channel(), &check).map(|_| ())
}
