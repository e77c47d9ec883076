//! From a job file and the archive to something that can be assessed.

use super::args::Question;
use super::{Failure, Plain, fail, now_s, read_file};
use crate::archive::Archive;
use crate::assess::{Assessment, Step, assess};
use crate::history::{self, Damage, History};
use crate::job::{Job, LoggerRef, Zone};
use crate::limits::{Limits, ResolvedLimits};
use crate::quantity::{Quantity as _, TimeSpan};
use glueday_types::LoggerId;
use glueday_types::header::{FORMAT_VERSION, HeaderError};
use jiff::tz::{Disambiguation, TimeZone};
use std::path::Path;

/// A job with the histories of its rooms.
pub(super) struct Site {
    pub(super) job: Job,
    pub(super) limits: ResolvedLimits,
    /// Each room asked about, with the log of its logger; empty when it has none.
    pub(super) rooms: Vec<(Zone, History)>,
    pub(super) step: Step,
    pub(super) at_s: i64,
    /// What the user should know beside the answer.
    pub(super) notes: Vec<String>,
}

/// Reads a job file.
pub(super) fn read_job(path: &Path) -> Result<Job, Failure> {
    Ok(Job::parse(&read_text(path)?, &path.display().to_string())?)
}

/// Reads a text file.
pub(super) fn read_text(path: &Path) -> Result<String, Failure> {
    let text = String::from_utf8(read_file(path)?).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Plain(format!("{}: byte {at} is not UTF-8: save the file as UTF-8 text", path.display()))
    })?;
    Ok(text)
}

impl Site {
    /// Reads the job and the logs of the rooms asked about.
    pub(super) fn open(question: &Question, archive: Option<&Path>) -> Result<Self, Failure> {
        let job = read_job(&question.job)?;
        let limits = Limits::resolve(&job);
        let mut notes = Vec::new();
        for (low, high) in limits.contradictions() {
            notes.push(format!(
                "limits {} and {} leave nothing between them: see the data sheets in the job",
                low.id, high.id
            ));
        }
        let mut rooms = Vec::new();
        for zone in rooms_asked_about(&job, &question.room)? {
            let history = match &zone.logger {
                Some(reference) => read_history(reference, archive, &zone.name, &mut notes)?,
                None => {
                    notes.push(format!("room {} names no logger in the job file", zone.name));
                    History::default()
                }
            };
            rooms.push((zone, history));
        }
        let at_s = match question.at.as_str() {
            "now" => now_s(),
            "last" => {
                match rooms.iter().filter_map(|(_, history)| history.span()).map(|s| s.1).max() {
                    Some(last_s) => last_s,
                    None => return fail("--at last: no room asked about has a dated log"),
                }
            }
            text => parse_time(text, &job.site.time_zone)?,
        };
        if question.at == "now" {
            for (room, history) in &mut rooms {
                if let Some(last_s) = history.distrust_future(at_s) {
                    let last = jiff::Timestamp::from_second(last_s).map(|t| job.local(t));
                    let last =
                        last.map_or(format!("{last_s} s"), |t| t.strftime("%F %R").to_string());
                    notes.push(format!(
                        "room {}: its log goes on until {last}, which is later than now: a clock was \
                         wrong when the logger's was set, and so none of it is evidence. See to the \
                         clock of this computer, then `glueday pull --set-clock`",
                        room.name
                    ));
                }
            }
        }
        Ok(Self { job, limits, rooms, step: question.step.into(), at_s, notes })
    }

    pub(super) fn assess(&self) -> Assessment {
        let zones: Vec<_> = self.rooms.iter().map(|(zone, history)| (zone, history)).collect();
        assess(&self.job, &self.limits, &zones, self.step, self.at_s)
    }
}

/// The rooms asked about. A job without rooms has one that bears the name of the site.
fn rooms_asked_about(job: &Job, names: &[String]) -> Result<Vec<Zone>, Failure> {
    for name in names {
        if job.zone(name).is_none() {
            let known: Vec<&str> = job.zones.iter().map(|zone| zone.name.as_str()).collect();
            return fail(format!(
                "the job has no room \"{name}\"; its rooms are: {}",
                known.join(", ")
            ));
        }
    }
    if job.zones.is_empty() {
        return Ok(vec![Zone {
            name: job.site.name.clone(),
            logger: None,
            area: job.site.area,
            milestones: job.milestones.clone(),
        }]);
    }
    let asked = |zone: &&Zone| names.is_empty() || names.contains(&zone.name);
    Ok(job.zones.iter().filter(asked).cloned().collect())
}

fn read_history(
    reference: &LoggerRef,
    archive: Option<&Path>,
    room: &str,
    notes: &mut Vec<String>,
) -> Result<History, Failure> {
    let archive = open_archive(archive)?;
    let text = match reference {
        LoggerRef::Id(id) => LoggerId(*id).to_string(),
        LoggerRef::Name(name) => name.clone(),
    };
    let logger = match archive.find_logger(&text) {
        Ok(logger) => logger,
        Err(error) => return fail(format!("room {room}: {error}")),
    };
    let blocks = archive.blocks(logger.id)?;
    let conflicts = archive.conflicts(logger.id)?;
    if !conflicts.is_empty() {
        notes.push(format!(
            "room {room}: {} blocks came from the logger in two versions; the first is used, both are kept",
            conflicts.len()
        ));
    }
    let history = history::build(blocks.iter().map(|block| block.bytes.as_slice()));
    let newer = history.damaged.iter().find_map(|damaged| match damaged.what {
        Damage::Header(HeaderError::Newer { version }) => Some((damaged.block, version)),
        _ => None,
    });
    if let Some((block, version)) = newer {
        return fail(format!(
            "room {room}: block {block} of logger {} is of a newer format (version {version}; this \
             program reads up to {FORMAT_VERSION}): update the program",
            logger.label()
        ));
    }
    Ok(history)
}

/// Opens the archive to read from it.
fn open_archive(path: Option<&Path>) -> Result<Archive, Failure> {
    Ok(Archive::open_read_only(&archive_path(path)?)?)
}

/// Where the archive is: what the user said, or the default.
pub(super) fn archive_path(path: Option<&Path>) -> Result<std::path::PathBuf, Failure> {
    match path {
        Some(path) => Ok(path.to_owned()),
        None => Ok(crate::archive::default_place()?),
    }
}

/// Opens the archive to write to it, and makes it with its folder when it is not there.
pub(super) fn open_archive_to_write(path: Option<&Path>) -> Result<Archive, Failure> {
    let place = archive_path(path)?;
    if path.is_none()
        && let Some(folder) = place.parent()
    {
        std::fs::create_dir_all(folder)
            .or_else(|error| fail(format!("{}: {error}", folder.display())))?;
    }
    Ok(Archive::open_or_create(&place)?)
}

/// A time as typed: RFC 3339 with an offset, or on the clock of the site.
pub(super) fn parse_time(text: &str, zone: &TimeZone) -> Result<i64, Failure> {
    if text == "now" {
        return Ok(now_s());
    }
    if let Ok(time) = text.parse::<jiff::Timestamp>() {
        return Ok(time.as_second());
    }
    let Ok(civil) = text.parse::<jiff::civil::DateTime>() else {
        return fail(format!(
            "`{text}` is no time: write \"2026-03-18 08:00\" for the clock of the site, or \
             2026-03-18T14:00Z for UTC"
        ));
    };
    let ambiguous = zone.to_ambiguous_zoned_datetime(civil);
    match ambiguous.disambiguate(Disambiguation::Reject) {
        Ok(time) => Ok(time.timestamp().as_second()),
        Err(_) => fail(format!(
            "`{text}` comes twice or not at all on the clock of the site (daylight saving): give it in \
             UTC, such as 2026-03-29T01:30Z"
        )),
    }
}

/// A length of time as typed, such as "14 d", in seconds.
pub(super) fn parse_span_s(text: &str) -> Result<i64, Failure> {
    let span = TimeSpan::parse(text)?;
    if span.hours() <= 0.0 {
        return fail(format!("`{text}` must be more than nothing"));
    }
    Ok(span.to_duration().as_secs())
}
