//! `import`

use super::args::Import as Args;
use super::question::open_archive_to_write;
use super::{Answer, Failure, Talk, fail, now_s, print_json, read_file};
use crate::archive::{ImportedFile, Kept, NewImport, StoredLogger, import_file};
use crate::intake::Mapping;
use crate::view::utc_time;
use serde::Serialize;
use std::path::Path;

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    file: String,
    name: &'a str,
    logger: String,
    rows: usize,
    from: String,
    to: String,
    blocks: usize,
    already_held: bool,
    notes: Vec<String>,
    options: Vec<(&'static str, String)>,
}

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let mapping = mapping(args)?;
    let original = read_file(&args.file)?;
    let file = args.file.display().to_string();
    let ImportedFile { intake, mapping: mapping_text, log } =
        import_file(&original, &file, &mapping)?;
    let logger = log.logger;
    let options = intake.mapping_used.to_options();
    let rows = intake.rows.len();
    let [first, last] =
        [intake.rows.first(), intake.rows.last()].map(|row| row.map_or(0, |row| row.utc_s));
    let notes: Vec<String> = intake.notes.iter().map(ToString::to_string).collect();
    // A year of rows is as large as half its file, of which the archive needs copies.
    drop(intake);

    let mut archive = open_archive_to_write(archive)?;
    let file_name =
        args.file.file_name().map_or_else(|| file.clone(), |n| n.to_string_lossy().into());
    let new = NewImport {
        name: &args.name,
        file_name: &file_name,
        original: &original,
        mapping: &mapping_text,
        blocks: &log.blocks,
        logger,
    };
    // The archive would not take it either, but does not know what an import is called by.
    let taken = |other: &StoredLogger| other.name.as_ref() == Some(&args.name);
    if archive.loggers()?.iter().any(|other| taken(other) && other.id != logger) {
        return fail(format!(
            "the archive has a log named \"{}\" already, of other data: choose another --name",
            args.name
        ));
    }
    let kept = archive.add_import(&new, now_s())?;

    if talk.json {
        let document = Document {
            schema: 1,
            file,
            name: &args.name,
            logger: logger.to_string(),
            rows,
            from: utc_time(first),
            to: utc_time(last),
            blocks: log.blocks.len(),
            already_held: kept == Kept::Already,
            notes,
            options,
        };
        print_json(talk, &document)?;
        return Ok(Answer::Yes);
    }
    for note in &notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let again = if kept == Kept::Already { ", which the archive held already" } else { "" };
    writeln!(talk.out, "{}: {rows} rows from {}{again}", args.name, args.file.display())?;
    writeln!(talk.out, "from {} to {}", utc_time(first), utc_time(last))?;
    writeln!(talk.err, "name it in a job file: logger = \"{}\"", args.name)?;
    Ok(Answer::Yes)
}

fn mapping(args: &Args) -> Result<Mapping, Failure> {
    let mut mapping = Mapping { missing: args.missing.clone(), ..Mapping::default() };
    for column in &args.column {
        mapping.assign(column)?;
    }
    mapping.zone = args.zone.as_deref().map(str::parse).transpose()?;
    mapping.delimiter = args.delimiter.as_deref().map(str::parse).transpose()?;
    mapping.decimal = args.decimal.as_deref().map(str::parse).transpose()?;
    mapping.time_format = args.time_format.as_deref().map(str::parse).transpose()?;
    mapping.first_row = args.first_row;
    Ok(mapping)
}
