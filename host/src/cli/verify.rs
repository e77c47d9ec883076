//! `verify`

use super::args::Verify as Args;
use super::{Answer, Failure, Plain, Talk, fail, read_file};
use crate::archive::Archive;
use crate::record::files::MANIFEST;
use crate::record::pdf_files::{FILES_LEN_MAX, FILES_MAX, PDF_LEN_MAX, extract};
use crate::record::verify::{Form, Given, Pages, Pinned, Trust, verify};
use crate::record::{self, Evidence, html};
use crate::view::verified;
use std::collections::BTreeMap;
use std::path::Path;

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let name = args.record.display().to_string();
    let trust = Trust {
        keys: args.key.iter().map(|key| key.parse()).collect::<Result<_, _>>()?,
        archive: archive.map(pinned).transpose()?,
    };
    let draw_pdf =
        |evidence: &Evidence| record::pdf::draw(evidence).map_err(|error| error.to_string());
    let draw_page = |evidence: &Evidence| {
        html::draw(evidence).map(String::into_bytes).map_err(|error| error.to_string())
    };
    let bytes;
    let (files, pages) = if args.record.is_dir() {
        (folder(&args.record)?, None)
    } else {
        bytes = read_document(&args.record)?;
        if is_web_page(&bytes) {
            let files = page_files(&bytes).or_else(|error| fail(format!("{name}: {error}")))?;
            (files, Some(Pages { form: Form::Html, bytes: &bytes, draw: &draw_page }))
        } else {
            let files = extract(&bytes).or_else(|error| fail(format!("{name}: {error}")))?;
            (files, Some(Pages { form: Form::Pdf, bytes: &bytes, draw: &draw_pdf }))
        }
    };
    let given = Given { files: &files, pages, program: record::PROGRAM, trust: &trust };
    let report = verify(&given).or_else(|error| {
        fail(format!("{name}: this is no record, or it was changed beyond reading: {error}"))
    })?;
    if talk.json {
        writeln!(talk.out, "{}", verified::json(&report, &name)?)?;
    } else {
        write!(talk.out, "{}", verified::text(&report, &name, talk.width))?;
    }
    Ok(if report.holds() { Answer::Yes } else { Answer::Wait })
}

/// Whether the bytes begin as a web page does, in whatever case and behind whatever space.
fn is_web_page(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes).trim_ascii_start();
    [&b"<!doctype html"[..], b"<html"]
        .iter()
        .any(|start| bytes.get(..start.len()).is_some_and(|it| it.eq_ignore_ascii_case(start)))
}

/// The files that a web page holds.
fn page_files(bytes: &[u8]) -> Result<BTreeMap<String, Vec<u8>>, String> {
    let page = std::str::from_utf8(bytes).map_err(|error| {
        let byte = error.valid_up_to();
        format!("byte {byte} of the page is not UTF-8: it was changed, or is no page of a record")
    })?;
    let files = html::read(page).map_err(|error| error.to_string())?;
    // Each file stands behind one link; of two with one name the reader takes the last.
    let links = page.matches("<a download=\"").count();
    match files.len() {
        0 => Err("the page holds no files, so that nothing in it can be verified: ask for the record \
                  as it was made; what a browser saves anew or prints is not enough"
            .to_owned()),
        found if found != links => Err(
            "two files in the page have one name: readers would differ in which one they take; the \
             page was changed"
                .to_owned(),
        ),
        found if found > FILES_MAX => {
            Err(format!("more than {FILES_MAX} files are in the page: this is no record"))
        }
        _ => Ok(files),
    }
}

/// Reads a file that is not beyond what is looked into.
fn read_document(path: &Path) -> Result<Vec<u8>, Failure> {
    let len = std::fs::metadata(path).map_or(0, |found| found.len());
    if usize::try_from(len).is_ok_and(|len| len <= PDF_LEN_MAX) {
        return read_file(path);
    }
    fail(format!(
        "{}: it has {len} bytes, and at most {PDF_LEN_MAX} are read: take the files out with \
         `pdfdetach -saveall` and verify their folder",
        path.display()
    ))
}

/// The files of a folder. What is no file is left to stand for what it is: an addition.
fn folder(path: &Path) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
    let named = |error: std::io::Error| Plain(format!("{}: {error}", path.display()));
    let mut files = BTreeMap::new();
    let mut len = 0_u64;
    for entry in std::fs::read_dir(path).map_err(named)? {
        let entry = entry.map_err(named)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let found = entry.metadata().map_err(named)?;
        len = len.saturating_add(found.len());
        if files.len() >= FILES_MAX || usize::try_from(len).is_ok_and(|len| len > FILES_LEN_MAX) {
            return fail(format!(
                "{}: more than {FILES_MAX} files, or more than {FILES_LEN_MAX} bytes: this is no \
                 folder of a record; give one that holds its files and nothing else",
                path.display()
            ));
        }
        let bytes = if found.is_dir() { Vec::new() } else { read_file(&entry.path())? };
        files.insert(name, bytes);
    }
    if !files.contains_key(MANIFEST) {
        return fail(format!(
            "{}: there is no {MANIFEST} in it: give the folder into which the files of a record were \
             taken out, or its PDF",
            path.display()
        ));
    }
    Ok(files)
}

/// The keys that an archive has pinned.
fn pinned(path: &Path) -> Result<Vec<Pinned>, Failure> {
    let loggers = Archive::open_read_only(path)?.loggers()?;
    let pin = |logger: &crate::archive::StoredLogger| {
        Some(Pinned { logger: logger.id, key: logger.public_key? })
    };
    Ok(loggers.iter().filter_map(pin).collect())
}
