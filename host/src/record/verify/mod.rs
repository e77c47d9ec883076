//! Whether a record holds: each thing that it claims is made anew or proved, and told apart as proven,
//! not proven or contradicted.
//!
//! Pure. What is needed beside the files (the document as a whole, the program that draws it, keys that
//! are trusted) is given.

mod fault;
mod figures;
mod file_list;
mod findings;
mod log;
mod original;
mod pages;
mod signatures;
mod trust;
mod verdict;

pub use fault::Fault;
pub use findings::{Form, Open, Proof, Who};
pub use trust::{BadKey, KeyGiven, Pinned, Trust};

use super::case::Case;
use super::evidence::Evidence;
use super::files::{self, JOB, Unreadable};
use super::manifest::Manifest;
use crate::assess::Assessment;
use std::collections::BTreeMap;

/// What there is to verify.
pub struct Given<'a> {
    /// The files of the record by their names.
    pub files: &'a BTreeMap<String, Vec<u8>>,
    /// The document that they come from, with the way to draw it; none when only the files are there.
    pub pages: Option<Pages<'a>>,
    /// Name and version of this program.
    pub program: &'a str,
    /// The keys that the verifier trusts for reasons outside the record.
    pub trust: &'a Trust,
}

/// A document that shows a record, and how it is drawn.
#[derive(Clone, Copy)]
pub struct Pages<'a> {
    /// What it is.
    pub form: Form,
    /// The document.
    pub bytes: &'a [u8],
    /// Draws the document that evidence gives, or says why it cannot.
    pub draw: &'a dyn Fn(&Evidence) -> Result<Vec<u8>, String>,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// What the record says it is.
    pub manifest: Manifest,
    /// What is proven.
    pub proven: Vec<Proof>,
    /// What is not.
    pub open: Vec<Open>,
    /// What does not hold.
    pub contradicted: Vec<Fault>,
}

/// What no record can show, in plain sentences.
pub const LIMITS_OF_TRUST: [&str; 3] = [
    "The check shows that the log was not changed after the logger signed it, and that the verdict \
     follows from it. It does not show that the probes lay where they should, nor that what the job \
     file says was done.",
    "Whoever made the record chose the time asked about, the job file and the logs. A key that is \
     compared only with the record that names it proves nothing about who made it.",
    "The record does not replace the data sheets, the local codes or the judgement of a qualified \
     person on the site.",
];

impl Report {
    /// The same, ordered by what it means. Equals stay as they were found.
    fn in_order(mut self) -> Self {
        self.proven.sort_by_key(Proof::rank);
        self.open.sort_by_key(Open::rank);
        self
    }

    /// Whether nothing is contradicted.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.contradicted.is_empty()
    }
}

/// Verifies a record.
///
/// # Errors
/// [`Unreadable`] when there is no manifest, or none that this program reads. Whatever else is missing
/// or wrong is in the report.
pub fn verify(given: &Given<'_>) -> Result<Report, Unreadable> {
    let manifest = files::read_manifest(given.files)?;
    let mut report =
        Report { manifest, proven: Vec::new(), open: Vec::new(), contradicted: Vec::new() };
    let listed = file_list::check(given.files, &report.manifest.clone(), &mut report);
    let evidence = match files::read_evidence(&report.manifest, given.files) {
        Ok(evidence) => evidence,
        Err(error) => {
            // A file that is missing has been told already.
            if !listed.tells(&error) {
                report.contradicted.push(Fault::Unreadable { error });
            }
            report.open.push(Open::NotChecked);
            return Ok(report.in_order());
        }
    };
    let same_program = evidence.program == given.program;
    for log in &evidence.logs {
        let walk = log::check(log, &mut report);
        signatures::check(log, &walk, given.trust, &mut report);
        original::check(log, &mut report);
    }
    given.trust.unused(&evidence, &mut report);
    if let Some((case, assessment)) = judge(&evidence, &mut report) {
        log::rooms(&evidence, &case, &mut report);
        verdict::check(given, &evidence, &assessment, &mut report);
    }
    pages::check(given, &evidence, same_program, &mut report);
    Ok(report.in_order())
}

/// The verdict that the evidence gives by this program.
fn judge(evidence: &Evidence, report: &mut Report) -> Option<(Case, Assessment)> {
    match Case::of(evidence, JOB) {
        Ok(case) => {
            let assessment = case.assess();
            Some((case, assessment))
        }
        Err(error) => {
            report.contradicted.push(Fault::NoCase { problem: error.to_string() });
            None
        }
    }
}
