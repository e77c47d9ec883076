//! `record`

use super::args::Record as Args;
use super::check::answer;
use super::question::Site;
use super::{Answer, Failure, Talk, fail, print_json, store};
use crate::record::files::sha256;
use crate::record::{Evidence, html, pdf};
use crate::view::utc_time;
use serde::Serialize;
use std::path::{Path, PathBuf};

#[derive(Serialize)]
struct Document {
    schema: u32,
    #[serde(flatten)]
    record: Written,
    /// The page beside it.
    page: Option<Written>,
    verdict: &'static str,
    step: &'static str,
    at: String,
}

/// A file that was written.
#[derive(Serialize)]
struct Written {
    file: String,
    bytes: usize,
    sha256: String,
}

pub(super) fn run(
    args: &Args,
    archive: Option<&Path>,
    talk: &mut Talk<'_>,
) -> Result<Answer, Failure> {
    let ends_in = |wanted: &str| {
        args.output.extension().is_some_and(|ending| ending.eq_ignore_ascii_case(wanted))
    };
    let (is_pdf, is_page) = (ends_in("pdf"), ends_in("html"));
    if !is_pdf && !is_page {
        return fail(format!("{}: must end in .pdf or .html", args.output.display()));
    }
    let site = Site::open_whole(&args.question, archive)?;
    for note in &site.notes {
        writeln!(talk.err, "note: {note}")?;
    }
    let answer = answer(&site.assess());
    let verdict = match answer {
        Answer::Yes => "go",
        Answer::Wait => "wait",
    };
    let mut written = Vec::new();
    if is_pdf {
        let (bytes, sha256) = write(&args.output, &site.evidence)?;
        written.push(Written { file: args.output.display().to_string(), bytes, sha256 });
    }
    if is_page || args.html {
        let path: PathBuf =
            if is_page { args.output.clone() } else { args.output.with_extension("html") };
        let page = html::draw(&site.evidence)?.into_bytes();
        store::write(&path, &page)?;
        let (bytes, sha256) = (page.len(), sha256(&page));
        written.push(Written { file: path.display().to_string(), bytes, sha256 });
    }
    for Written { file, bytes, sha256 } in &written {
        writeln!(talk.err, "{file}: {bytes} bytes, verdict {verdict}")?;
        writeln!(talk.err, "SHA-256 {sha256}")?;
    }
    let mut written = written.into_iter();
    if let Some(record) = written.next().filter(|_| talk.json) {
        let document = Document {
            schema: 1,
            record,
            page: written.next(),
            verdict,
            step: site.step.as_str(),
            at: utc_time(site.at_s),
        };
        print_json(talk, &document)?;
    }
    Ok(answer)
}

/// Writes the record of evidence; returns its length and SHA-256.
pub(super) fn write(path: &Path, evidence: &Evidence) -> Result<(usize, String), Failure> {
    let bytes = pdf::draw(evidence)?;
    store::write(path, &bytes)?;
    Ok((bytes.len(), sha256(&bytes)))
}
