//! From a job file and the archive to something that can be assessed.

use super::args::Question;
use super::{Failure, Plain, fail, now_s, read_file};
use crate::archive::{Archive, StoredLogger};
use crate::history::{Damage, History};
use crate::job::{Job, LoggerRef};
use crate::quantity::{Quantity as _, TimeSpan};
use crate::record::{self, Case, CopyOfBlock, Evidence, Log, Original};
use glueday_types::header::{FORMAT_VERSION, HeaderError};
use glueday_types::{BLOCK_LEN, LoggerId};
use jiff::tz::{AmbiguousOffset, Disambiguation, Offset, TimeZone};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::Path;

/// A question with all that it takes to answer it, gathered from the job file and the archive.
pub(super) struct Site {
    /// What the answer rests on. Its logs are bare blocks unless [`Site::open_whole`] gathered them.
    pub(super) evidence: Evidence,
    /// The same, read.
    case: Case,
    /// What the user should know beside the answer.
    pub(super) notes: Vec<String>,
    /// The rooms asked about that have a logger in the archive, and which.
    pub(super) loggers: Vec<(String, LoggerId)>,
}

/// The archive that questions are asked of, opened when the first room names a logger.
pub(super) struct Shelf<'a> {
    place: Option<&'a Path>,
    opened: Option<Archive>,
}

impl<'a> Shelf<'a> {
    pub(super) fn new(place: Option<&'a Path>) -> Self {
        Self { place, opened: None }
    }

    /// One that is open already.
    pub(super) fn of(archive: Archive) -> Self {
        Self { place: None, opened: Some(archive) }
    }

    pub(super) fn archive(&mut self) -> Result<&Archive, Failure> {
        match &mut self.opened {
            Some(opened) => Ok(opened),
            closed => Ok(closed.insert(open_archive(self.place)?)),
        }
    }
}

impl std::ops::Deref for Site {
    type Target = Case;

    fn deref(&self) -> &Case {
        &self.case
    }
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

/// How much of a log is read.
#[derive(Clone, Copy, PartialEq)]
enum Depth {
    /// What a verdict needs.
    Blocks,
    /// All that a record holds.
    Whole,
}

impl Site {
    /// Reads the job and the blocks of the logs of the rooms asked about.
    pub(super) fn open(question: &Question, archive: Option<&Path>) -> Result<Self, Failure> {
        Self::gather(question, &mut Shelf::new(archive), Depth::Blocks)
    }

    /// As [`Site::open`], of an archive that is used for more than one question.
    pub(super) fn open_from(question: &Question, shelf: &mut Shelf<'_>) -> Result<Self, Failure> {
        Self::gather(question, shelf, Depth::Blocks)
    }

    /// Reads the job and the logs of the rooms asked about, with signatures, imported files and other
    /// copies of blocks.
    pub(super) fn open_whole(question: &Question, archive: Option<&Path>) -> Result<Self, Failure> {
        Self::gather(question, &mut Shelf::new(archive), Depth::Whole)
    }

    fn gather(question: &Question, shelf: &mut Shelf<'_>, depth: Depth) -> Result<Self, Failure> {
        let job_name = question.job.display().to_string();
        let job_text = read_text(&question.job)?;
        let job = Job::parse(&job_text, &job_name)?;
        let mut notes = Vec::new();
        let mut logs: BTreeMap<LoggerId, Log> = BTreeMap::new();
        let mut found = Vec::new();
        for zone in record::rooms(&job, &question.room)? {
            let Some(reference) = zone.logger else {
                notes.push(format!("room {} names no logger in the job file", zone.name));
                continue;
            };
            let archive = shelf.archive()?;
            let logger = archive
                .find_logger(&reference.to_string())
                .or_else(|error| fail(format!("room {}: {error}", zone.name)))?;
            let id = logger.id;
            if let Entry::Vacant(place) = logs.entry(id) {
                place.insert(read_log(archive, logger, depth)?);
            }
            let conflicts = archive.conflicts(id)?;
            if !conflicts.is_empty() {
                notes.push(format!(
                    "room {}: {} blocks came from the logger in two versions; the first is used, both are kept",
                    zone.name,
                    conflicts.len()
                ));
            }
            found.push((zone.name, reference, id));
        }
        let evidence = evidence(question, job_text, logs.into_values().collect());
        // Whoever judges the evidence has the logs and not the archive.
        for (room, reference, id) in &found {
            if evidence.log(reference).map(|log| log.logger) != Some(*id) {
                return fail(format!(
                    "room {room}: \"{reference}\" means more than one logger of this job: write \
                     logger = \"{id}\" in the job file"
                ));
            }
        }
        Self::read(question, &job_name, evidence, depth, (found, notes))
    }

    /// A question about a job that comes with its logs.
    pub(super) fn of_logs(
        question: &Question,
        job_name: &str,
        job_text: String,
        logs: Vec<Log>,
    ) -> Result<Self, Failure> {
        let job = Job::parse(&job_text, job_name)?;
        let evidence = evidence(question, job_text, logs);
        let (mut found, mut notes) = (Vec::new(), Vec::new());
        for zone in record::rooms(&job, &question.room)? {
            let Some(reference) = zone.logger else {
                notes.push(format!("room {} names no logger in the job file", zone.name));
                continue;
            };
            match evidence.log(&reference) {
                Some(log) => found.push((zone.name, reference, log.logger)),
                None => {
                    return fail(format!(
                        "room {}: no block is of its logger \"{reference}\": pull or import, and \
                         export the job again",
                        zone.name
                    ));
                }
            }
        }
        Self::read(question, job_name, evidence, Depth::Blocks, (found, notes))
    }

    /// Reads the evidence for the time asked about.
    fn read(
        question: &Question,
        job_name: &str,
        mut evidence: Evidence,
        depth: Depth,
        (found, mut notes): (Vec<(String, LoggerRef, LoggerId)>, Vec<String>),
    ) -> Result<Self, Failure> {
        let mut case = Case::of(&evidence, job_name)?;
        for (room, history) in &case.rooms {
            refuse_newer(&room.name, history)?;
        }
        let contradictions = case.limits.contradictions().into_iter().map(|(low, high)| {
            format!(
                "limits {} and {} leave nothing between them: see the data sheets in the job",
                low.id, high.id
            )
        });
        notes.splice(0..0, contradictions);
        case.at_s = match question.at.as_str() {
            "now" => now_s(),
            "last" => {
                let spans = case.rooms.iter().filter_map(|(_, history)| history.span());
                match spans.map(|span| span.1).max() {
                    Some(last_s) => last_s,
                    None => return fail("--at last: no room asked about has a dated log"),
                }
            }
            text => parse_time(text, &case.job.site.time_zone)?,
        };
        if question.at == "now" {
            for (room, history) in &mut case.rooms {
                let Some(last_s) = history.distrust_future(case.at_s) else { continue };
                let last = jiff::Timestamp::from_second(last_s).map(|t| case.job.local(t));
                let last = last.map_or(format!("{last_s} s"), |t| t.strftime("%F %R").to_string());
                let note = format!(
                    "room {}: its log goes on until {last}, which is later than now: a clock was wrong \
                     when the logger's was set, and so none of it is evidence. See to the clock of \
                     this computer, then `glueday pull --set-clock`",
                    room.name
                );
                // Whoever reads a record does not know what the time was.
                if depth == Depth::Whole {
                    return fail(note);
                }
                notes.push(note);
            }
        }
        evidence.at_s = case.at_s;
        let loggers = found.into_iter().map(|(room, _, id)| (room, id)).collect();
        Ok(Self { evidence, case, notes, loggers })
    }
}

fn evidence(question: &Question, job_text: String, logs: Vec<Log>) -> Evidence {
    Evidence {
        program: record::PROGRAM.to_owned(),
        job_text,
        step: question.step.into(),
        at_s: 0,
        rooms: question.room.clone(),
        logs,
    }
}

/// Where the rest of a block was never pulled, it stays as an erased flash reads.
pub(super) fn fill_up(blocks: &mut [Vec<u8>]) {
    if let Some((_, before_last)) = blocks.split_last_mut() {
        before_last.iter_mut().for_each(|block| block.resize(BLOCK_LEN, 0xFF));
    }
}

/// A block that this program cannot read is no reason to pass over it.
fn refuse_newer(room: &str, history: &History) -> Result<(), Failure> {
    let newer = history.damaged.iter().find_map(|damaged| match damaged.what {
        Damage::Header(HeaderError::Newer { version }) => Some((damaged.block, version)),
        _ => None,
    });
    match newer {
        Some((block, version)) => fail(format!(
            "room {room}: block {block} of its log is of a newer format (version {version}; this \
             program reads up to {FORMAT_VERSION}): update the program"
        )),
        None => Ok(()),
    }
}

/// The log of a logger of the archive, with all that a record holds of it.
pub(super) fn whole_log(archive: &Archive, logger: StoredLogger) -> Result<Log, Failure> {
    read_log(archive, logger, Depth::Whole)
}

/// The log of a logger of the archive.
fn read_log(archive: &Archive, logger: StoredLogger, depth: Depth) -> Result<Log, Failure> {
    let id = logger.id;
    let mut blocks: Vec<Vec<u8>> =
        archive.blocks(id)?.into_iter().map(|block| block.bytes).collect();
    fill_up(&mut blocks);
    let mut log = Log {
        logger: id,
        name: logger.name,
        public_key: logger.public_key,
        blocks,
        attestations: Vec::new(),
        original: None,
        other_copies: Vec::new(),
    };
    if depth == Depth::Whole {
        log.attestations = archive.attestations(id)?;
        log.original = archive.import(id)?.map(|import| Original {
            file_name: import.file_name,
            bytes: import.original,
            mapping: import.mapping,
        });
        log.other_copies = archive
            .conflicts(id)?
            .into_iter()
            .map(|it| CopyOfBlock { number: it.number, bytes: it.bytes, seen_s: it.seen_s })
            .collect();
    }
    Ok(log)
}

/// Opens the archive to read from it.
pub(super) fn open_archive(path: Option<&Path>) -> Result<Archive, Failure> {
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
    let kind = ambiguous.offset();
    if let Ok(time) = ambiguous.disambiguate(Disambiguation::Reject) {
        return Ok(time.timestamp().as_second());
    }
    let utc = |offset: Offset| {
        let time = offset.to_timestamp(civil);
        time.map_or_else(|_| "another time".to_owned(), |t| t.strftime("%FT%RZ").to_string())
    };
    let (how, before, after) = match kind {
        AmbiguousOffset::Fold { before, after } => ("comes twice", before, after),
        AmbiguousOffset::Gap { before, after } => ("is left out", after, before),
        AmbiguousOffset::Unambiguous { .. } => {
            return fail(format!("`{text}` is beyond all calendars: check the year"));
        }
    };
    fail(format!(
        "`{text}` {how} on the clock of the site (daylight saving): give it in UTC, {} or {}",
        utc(before),
        utc(after)
    ))
}

/// A length of time as typed, such as "14 d", in seconds.
pub(super) fn parse_span_s(text: &str) -> Result<i64, Failure> {
    let span = TimeSpan::parse(text)?;
    if span.hours() <= 0.0 {
        return fail(format!("`{text}` is no time at all: write more, such as \"10 min\""));
    }
    Ok(span.to_duration().as_secs())
}
