//! `export`

mod data_set;

use super::args::Export as Args;
use super::question::{archive_path, parse_span_s, parse_time, read_job};
use super::{Answer, Failure, Talk, fail, print_json, store};
use crate::archive::{Archive, StoredLogger};
use crate::export::samples::{self, Ask, Counts};
use crate::export::{About, Column, ExportError, Format, Log, Origin, SCHEMA, Span, events};
use crate::history::{self, Damaged};
use crate::job::{Job, LoggerRef, Zone};
use crate::{intake, record};
use glueday_types::LoggerId;
use jiff::tz::TimeZone;
use serde::Serialize;
use std::io::{BufWriter, Write};
use std::path::Path;

/// Version of the document that `--json` prints.
const REPORT_SCHEMA: u32 = 1;

/// A log to export.
struct Source {
    origin: Origin,
    zone: Option<Zone>,
    blocks: Vec<Vec<u8>>,
    damaged: Vec<Damaged>,
}

#[derive(Serialize)]
struct Report {
    schema: u32,
    table_schema: u32,
    samples: Table,
    events: Option<Table>,
    undated: u64,
    undated_left_out: u64,
    outside: u64,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct Table {
    file: String,
    rows: u64,
    columns: Vec<ColumnReport>,
}

#[derive(Serialize)]
struct ColumnReport {
    name: &'static str,
    unit: &'static str,
    what: &'static str,
}

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    if let Some(folder) = &args.data_set {
        return data_set::run(args, folder, archive, talk);
    }
    let Some(output) = args.output.as_deref() else {
        return fail("say with --output where the table goes, or with --data-set where many do");
    };
    let piped = output.as_os_str() == "-";
    if piped && talk.json {
        return fail("--json and --output - both want standard output: --format jsonl gives rows");
    }
    let format = format(args, output, piped)?;
    let event_file = args.events.as_deref().map(|path| Ok::<_, Failure>((path, of_file(path)?)));
    let event_file = event_file.transpose()?;
    if event_file.is_some_and(|(path, _)| path == output) {
        return fail("--events and --output name the same file: give each one of its own");
    }
    let job = args.job.as_deref().map(read_job).transpose()?;
    let time_zone = time_zone(args, job.as_ref())?;
    let mut notes = Vec::new();
    let archive = Archive::open_read_only(&archive_path(archive)?)?;
    let sources = match &job {
        Some(job) => of_rooms(job, &args.room, &archive, &mut notes)?,
        None => of_loggers(&args.logger, &archive)?,
    };
    if sources.is_empty() {
        return fail(format!("there is no log to export{}", joined("; ", &notes)));
    }
    let logs: Vec<Log<'_>> =
        sources.iter().map(|source| Log::new(source.blocks.iter().map(Vec::as_slice))).collect();
    let span = span(args, &logs, time_zone.as_ref())?;
    let local = time_zone.as_ref().filter(|_| args.local_time);
    let about = About {
        site: job.as_ref().map(|job| job.site.name.clone()),
        logs: sources.iter().map(Source::about).collect(),
    };

    let columns = samples::columns(local.is_some(), job.is_some());
    let mut counts = Counts::default();
    into(output, piped, talk, |out| {
        let mut sink = crate::export::sink(format, &columns, &about, out)?;
        for (source, log) in sources.iter().zip(&logs) {
            let room = job.as_ref().zip(source.zone.as_ref());
            let ask = Ask { room, local, span, dated_only: args.dated_only };
            counts.add(samples::write(log, &source.origin, &ask, sink.as_mut())?);
        }
        sink.finish()
    })?;
    let mut event_table = None;
    if let Some((path, format)) = event_file {
        let columns = events::columns(local.is_some(), job.is_some());
        let mut rows = 0;
        into(path, false, talk, |out| {
            let mut sink = crate::export::sink(format, &columns, &about, out)?;
            for (Source { origin, damaged, .. }, log) in sources.iter().zip(&logs) {
                rows += events::write(log, damaged, origin, local, span, sink.as_mut())?;
            }
            sink.finish()
        })?;
        event_table = Some(Table::new(path, rows, &columns));
    }
    notes.extend(sources.iter().filter_map(|source| source.damage_note(args.events.is_some())));
    notes.extend(counts_notes(counts));
    let samples = Table::new(output, counts.rows, &columns);
    let report = Report {
        schema: REPORT_SCHEMA,
        table_schema: SCHEMA,
        samples,
        events: event_table,
        undated: counts.undated,
        undated_left_out: counts.undated_left_out,
        outside: counts.outside,
        notes,
    };
    tell(&report, piped, talk)?;
    Ok(Answer::Yes)
}

/// Says what was written: on standard output, unless that holds the table.
fn tell(report: &Report, piped: bool, talk: &mut Talk<'_>) -> Result<(), Failure> {
    if talk.json {
        return print_json(talk, report);
    }
    for note in &report.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let mut said = Vec::new();
    if !piped {
        said.push(format!("{}: {} samples", report.samples.file, report.samples.rows));
    }
    said.extend(report.events.iter().map(|table| format!("{}: {} events", table.file, table.rows)));
    let to: &mut dyn Write = if piped { &mut *talk.err } else { &mut *talk.out };
    for line in said {
        writeln!(to, "{line}")?;
    }
    Ok(())
}

/// What the user has to know about the rows.
fn counts_notes(counts: Counts) -> Vec<String> {
    let mut notes = Vec::new();
    if counts.undated > 0 {
        notes.push(format!(
            "{} samples have no time, because no clock sync dates their boot: time_utc is empty there \
             (--dated-only leaves them out)",
            counts.undated
        ));
    }
    if counts.undated_left_out > 0 {
        notes.push(format!("{} samples without a time are left out", counts.undated_left_out));
    }
    if counts.rows == 0 {
        let outside = counts.outside;
        notes.push(format!("no sample is in the table; {outside} lie outside the time asked for"));
    }
    notes
}

/// The format of the table of samples.
fn format(args: &Args, output: &Path, piped: bool) -> Result<Format, Failure> {
    let said = args.format.map(Format::from);
    if piped {
        return match said {
            Some(format) => Ok(format),
            None => fail("--output - needs --format: csv, jsonl or parquet"),
        };
    }
    let format = of_file(output)?;
    match said {
        Some(said) if said != format => fail(format!(
            "{}: its ending says another format than --format {}",
            output.display(),
            said.ending()
        )),
        _ => Ok(format),
    }
}

/// The format that a file name asks for.
fn of_file(path: &Path) -> Result<Format, Failure> {
    match path.extension().and_then(|e| e.to_str()).and_then(Format::of_ending) {
        Some(format) => Ok(format),
        None => fail(format!("{}: must end in .csv, .jsonl or .parquet", path.display())),
    }
}

/// The clock on which times are typed and local times are written.
fn time_zone(args: &Args, job: Option<&Job>) -> Result<Option<TimeZone>, Failure> {
    if let Some(job) = job {
        return Ok(Some(job.site.time_zone.clone()));
    }
    if let Some(name) = &args.zone {
        return Ok(Some(name.parse::<intake::Zone>()?.time_zone().clone()));
    }
    if args.local_time {
        return fail("--local-time without a job needs --zone, such as America/Denver");
    }
    Ok(None)
}

/// The time asked for.
fn span(args: &Args, logs: &[Log<'_>], zone: Option<&TimeZone>) -> Result<Span, Failure> {
    let time = |text: &String| match zone {
        Some(zone) => parse_time(text, zone),
        None => match text.parse::<jiff::Timestamp>() {
            Ok(time) => Ok(time.as_second()),
            Err(_) => fail(format!(
                "`{text}` is no time in UTC: write 2026-03-18T14:00Z, or say with --zone whose clock \
                 it is on"
            )),
        },
    };
    let to_s = args.to.as_ref().map(time).transpose()?;
    let mut from_s = args.from.as_ref().map(time).transpose()?;
    if let Some(last) = &args.last {
        let length_s = parse_span_s(last)?;
        match to_s.or_else(|| logs.iter().filter_map(Log::last_s).max()) {
            Some(end_s) => from_s = Some(end_s.saturating_sub(length_s)),
            None => return fail("--last: no sample of the log has a time"),
        }
    }
    if from_s.zip(to_s).is_some_and(|(from_s, to_s)| from_s > to_s) {
        return fail("the time asked for would end before it begins: see --from and --to");
    }
    Ok(Span { from_s, to_s })
}

/// The logs of the rooms of a job.
fn of_rooms(
    job: &Job,
    names: &[String],
    archive: &Archive,
    notes: &mut Vec<String>,
) -> Result<Vec<Source>, Failure> {
    let mut sources = Vec::new();
    for zone in record::rooms(job, names)? {
        let text = match &zone.logger {
            Some(LoggerRef::Id(id)) => LoggerId(*id).to_string(),
            Some(LoggerRef::Name(name)) => name.clone(),
            None => {
                notes.push(format!("room {} names no logger in the job file", zone.name));
                continue;
            }
        };
        match archive.find_logger(&text) {
            Ok(logger) => sources.push(Source::open(archive, logger, Some(zone))?),
            Err(error) => return fail(format!("room {}: {error}", zone.name)),
        }
    }
    Ok(sources)
}

/// The logs of loggers by name or id.
fn of_loggers(names: &[String], archive: &Archive) -> Result<Vec<Source>, Failure> {
    let mut sources: Vec<Source> = Vec::new();
    for name in names {
        let source = Source::open(archive, archive.find_logger(name)?, None)?;
        if !sources.iter().any(|other| other.origin.logger == source.origin.logger) {
            sources.push(source);
        }
    }
    Ok(sources)
}

impl Source {
    fn open(archive: &Archive, logger: StoredLogger, zone: Option<Zone>) -> Result<Self, Failure> {
        let blocks = archive.blocks(logger.id)?.into_iter().map(|block| block.bytes);
        let blocks: Vec<Vec<u8>> = blocks.collect();
        let damaged = history::build(blocks.iter().map(Vec::as_slice)).damaged;
        let room = zone.as_ref().map(|zone| zone.name.clone());
        let origin = Origin { logger: logger.id.to_string(), name: logger.name, room };
        Ok(Self { origin, zone, blocks, damaged })
    }

    /// The room of the job.
    fn room(&self) -> Option<&str> {
        self.origin.room.as_deref()
    }

    fn about(&self) -> (String, Option<String>, Option<String>) {
        let Origin { logger, name, room } = &self.origin;
        (logger.clone(), name.clone(), room.clone())
    }

    fn damage_note(&self, told: bool) -> Option<String> {
        let places = self.damaged.len();
        let name = self.origin.name.as_ref().unwrap_or(&self.origin.logger);
        let told = if told { "they are among the events" } else { "--events FILE lists them" };
        (places > 0).then(|| format!("{name}: {places} places of the log cannot be read; {told}"))
    }
}

impl Table {
    fn new(file: &Path, rows: u64, columns: &[Column]) -> Self {
        let columns = columns.iter().map(|column| ColumnReport {
            name: column.name,
            unit: column.unit,
            what: column.what,
        });
        Self { file: file.display().to_string(), rows, columns: columns.collect() }
    }
}

/// Writes to standard output, or to a file that appears only when it is whole.
fn into(
    path: &Path,
    piped: bool,
    talk: &mut Talk<'_>,
    write: impl FnOnce(&mut dyn Write) -> Result<(), ExportError>,
) -> Result<(), Failure> {
    if piped {
        let mut out = BufWriter::new(&mut *talk.out);
        return write(&mut out).map_err(|error| match error {
            // Whoever reads the pipe may have had enough of it.
            ExportError::Write(error) => Box::new(error) as Failure,
            error => Box::new(error),
        });
    }
    into_file(path, write)
}

/// Writes a file that appears only when it is whole.
fn into_file(
    path: &Path,
    write: impl FnOnce(&mut dyn Write) -> Result<(), ExportError>,
) -> Result<(), Failure> {
    store::fill(path, |part| {
        write(part).map_err(|error| -> Failure {
            match error {
                ExportError::Write(error) => Box::new(store::explain(path, &error)),
                error => format!("{}: {error}", path.display()).into(),
            }
        })
    })
}

fn joined(before: &str, notes: &[String]) -> String {
    notes.iter().flat_map(|note| [before, note]).collect()
}
