//! `export --data-set`: a job into the folders of many.
//!
//! Each file is written whole or left as it was. What an earlier export of the same job made and this
//! one does not, such as the files of a room that is gone, is taken away at the end; files of other jobs
//! are never touched.

use super::super::args::Export as Args;
use super::super::question::read_text;
use super::super::{Answer, Failure, Talk, fail, print_json, store};
use super::{Source, of_rooms};
use crate::archive::Archive;
use crate::cli::question::archive_path;
use crate::export::data_set::{Part, Table, months, of_job, place, write_blocks};
use crate::export::samples::{self, Ask, Counts};
use crate::export::{
    self, About, Cell, ExportError, Format, HAS_PARQUET, Log, SCHEMA, Sink, Span, events,
};
use crate::job::Job;
use serde::Serialize;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Version of the document that `--json` prints.
const REPORT_SCHEMA: u32 = 1;
/// Says in the folder of a job whose it is. Readers of data sets pass over names that begin like this.
const WHOSE: &str = "_site";

#[derive(Serialize)]
struct Report {
    schema: u32,
    table_schema: u32,
    data_set: String,
    job: String,
    samples: u64,
    undated: u64,
    events: u64,
    blocks: u64,
    files: Vec<FileReport>,
    notes: Vec<String>,
}

#[derive(Serialize)]
struct FileReport {
    file: String,
    rows: u64,
}

/// The data set while a job is written into it.
struct Writer<'a> {
    folder: &'a Path,
    key: &'a str,
    about: About,
    files: Vec<FileReport>,
    written: BTreeSet<PathBuf>,
}

pub(super) fn run(
    args: &Args,
    folder: &Path,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    if !HAS_PARQUET {
        return Err(Box::new(ExportError::NoParquet));
    }
    let Some(job_path) = &args.job else {
        return fail("--data-set is made of jobs: name a job file");
    };
    let key = key(job_path)?;
    let job_text = read_text(job_path)?;
    let job = Job::parse(&job_text, &job_path.display().to_string())?;
    let mut notes = Vec::new();
    let archive = Archive::open_read_only(&archive_path(archive)?)?;
    let sources = of_rooms(&job, &[], &archive, &mut notes)?;
    claim(folder, key, &job)?;

    let site = Some(job.site.name.clone());
    let about = About { site, logs: sources.iter().map(Source::about).collect() };
    let mut writer = Writer { folder, key, about, files: Vec::new(), written: BTreeSet::new() };
    let mut counts = Counts::default();
    let (mut event_rows, mut blocks) = (0, 0);
    for source in &sources {
        let log = Log::new(source.blocks.iter().map(Vec::as_slice));
        counts.add(writer.samples(source, &log, &job)?);
        event_rows += writer.events(source, &log)?;
        blocks += writer.blocks(source)?;
    }
    writer.job(&job, &job_text, blocks)?;
    writer.sweep()?;

    notes.extend(sources.iter().filter_map(|source| source.damage_note(true)));
    let report = Report {
        schema: REPORT_SCHEMA,
        table_schema: SCHEMA,
        data_set: folder.display().to_string(),
        job: key.to_owned(),
        samples: counts.rows,
        undated: counts.undated,
        events: event_rows,
        blocks,
        files: writer.files,
        notes,
    };
    if talk.json {
        print_json(talk, &report)?;
        return Ok(Answer::Yes);
    }
    for note in &report.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    writeln!(
        talk.out,
        "{}: job {key}: {} samples, {} events and {} blocks in {} files",
        report.data_set,
        report.samples,
        report.events,
        report.blocks,
        report.files.len()
    )?;
    Ok(Answer::Yes)
}

/// What the job is called in the data set.
fn key(job: &Path) -> Result<&str, Failure> {
    match job.file_stem().and_then(|stem| stem.to_str()).filter(|stem| !stem.is_empty()) {
        Some(stem) => Ok(stem),
        None => fail(format!("{}: its name is not UTF-8: rename it", job.display())),
    }
}

/// Makes sure that the place of the job is not that of another job whose file has the same name.
fn claim(folder: &Path, key: &str, job: &Job) -> Result<(), Failure> {
    let place = folder.join(of_job(Table::Jobs, key));
    let whose = place.join(WHOSE);
    match std::fs::read_to_string(&whose) {
        Ok(site) if site == job.site.name => return Ok(()),
        Ok(site) => {
            return fail(format!(
                "job {key} of the data set {} is one of another site, \"{site}\": rename the job file, \
                 or take away {} if the site has a new name",
                folder.display(),
                whose.display()
            ));
        }
        Err(_) => make(&place)?,
    }
    Ok(store::write(&whose, job.site.name.as_bytes())?)
}

fn make(folder: &Path) -> Result<(), Failure> {
    std::fs::create_dir_all(folder).or_else(|error| fail(unusable(folder, &error)))
}

/// Why a folder of the data set is of no use, and what to do.
fn unusable(folder: &Path, error: &std::io::Error) -> String {
    let folder = folder.display();
    format!(
        "the folder {folder} cannot be used ({error}): name another --data-set, or see to its rights"
    )
}

impl Writer<'_> {
    /// One file; `write` gets the sink and tells how many rows it wrote.
    fn file<T>(
        &mut self,
        table: Table,
        room: Option<&str>,
        month: Option<&str>,
        write: impl FnOnce(&mut dyn Sink) -> Result<(u64, T), ExportError>,
    ) -> Result<T, Failure> {
        let within = place(table, self.key, room, month);
        let path = self.folder.join(&within);
        if let Some(parent) = path.parent() {
            make(parent)?;
        }
        let columns = table.columns();
        let mut done = None;
        super::into_file(&path, |out| {
            let mut sink = export::sink(Format::Parquet, &columns, &self.about, out)?;
            done = Some(write(sink.as_mut())?);
            sink.finish()
        })?;
        let Some((rows, value)) = done else {
            return fail(format!("{}: nothing was written", path.display()));
        };
        self.files.push(FileReport { file: within.display().to_string(), rows });
        self.written.insert(path);
        Ok(value)
    }

    fn samples(&mut self, source: &Source, log: &Log<'_>, job: &Job) -> Result<Counts, Failure> {
        let all = samples::columns(false, true);
        let room = source.zone.as_ref().map(|zone| (job, zone));
        let ask = Ask { room, local: None, span: Span::default(), dated_only: false };
        let mut counts = Counts::default();
        for month in months(log) {
            // All of the log each time, so that a row is the same as in a single table.
            let of_log = self.file(Table::Samples, source.room(), Some(&month), |sink| {
                let mut part = Part::of(sink, &all, Some(&month));
                let counts = samples::write(log, &source.origin, &ask, &mut part)?;
                Ok((part.rows(), counts))
            })?;
            counts = of_log;
        }
        Ok(counts)
    }

    fn events(&mut self, source: &Source, log: &Log<'_>) -> Result<u64, Failure> {
        let all = events::columns(false, true);
        self.file(Table::Events, source.room(), None, |sink| {
            let mut part = Part::of(sink, &all, None);
            let (damaged, origin) = (&source.damaged, &source.origin);
            let rows = events::write(log, damaged, origin, None, Span::default(), &mut part)?;
            Ok((rows, rows))
        })
    }

    fn blocks(&mut self, source: &Source) -> Result<u64, Failure> {
        self.file(Table::Blocks, source.room(), None, |sink| {
            write_blocks(&source.blocks, &source.origin, sink)?;
            let rows = source.blocks.len() as u64;
            Ok((rows, rows))
        })
    }

    fn job(&mut self, job: &Job, text: &str, blocks: u64) -> Result<(), Failure> {
        let zone = job.site.time_zone.iana_name().map(str::to_owned);
        let count = i64::try_from(blocks)?;
        self.file(Table::Jobs, None, None, |sink| {
            sink.row(&[
                Cell::Text(job.site.name.as_str().into()),
                zone.map_or(Cell::Absent, |zone| Cell::Text(zone.into())),
                Cell::Text(text.into()),
                Cell::Whole(count),
            ])?;
            Ok((1, ()))
        })
    }

    /// Takes away what earlier exports of this job made and this one did not.
    fn sweep(&self) -> Result<(), Failure> {
        for table in Table::ALL {
            self.sweep_folder(&self.folder.join(of_job(table, self.key)), table.file())?;
        }
        Ok(())
    }

    fn sweep_folder(&self, folder: &Path, name: &str) -> Result<(), Failure> {
        let told = |error| fail(unusable(folder, &error));
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return told(error),
        };
        for entry in entries.flatten() {
            let path = entry.path();
            if path.is_dir() {
                self.sweep_folder(&path, name)?;
                // Where something else is in it, it stays.
                let _ = std::fs::remove_dir(&path);
            } else if entry.file_name() == name && !self.written.contains(&path) {
                std::fs::remove_file(&path).or_else(told)?;
            }
        }
        Ok(())
    }
}
