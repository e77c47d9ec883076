//! The verdict, recomputed, and the files written anew.

use super::pages::first_difference;
use super::{Fault, Given, Proof, Report, figures};
use crate::assess::Assessment;
use crate::record::evidence::Evidence;
use crate::record::files::{self, ASSESSMENT, File, MANIFEST};
use crate::record::manifest::Manifest;

/// Compares verdict and assessment with those that the evidence gives, and every file with how it is
/// written.
pub(super) fn check(
    given: &Given<'_>,
    evidence: &Evidence,
    assessment: &Assessment,
    report: &mut Report,
) {
    let written = match files::write(evidence, assessment) {
        Ok(written) => written,
        Err(error) => {
            report.contradicted.push(Fault::NoCase { problem: error.to_string() });
            return;
        }
    };
    let same_program = evidence.program == given.program;
    let version = if same_program {
        String::new()
    } else {
        format!(
            ". The record was made by {} and this is {}: rules may have changed between them; \
             verify it with that version",
            evidence.program, given.program
        )
    };
    let told = report.contradicted.len();
    let found = if assessment.is_go() { "go" } else { "wait" };
    if report.manifest.verdict != found {
        report.contradicted.push(Fault::Verdict {
            file: MANIFEST,
            said: report.manifest.verdict.clone(),
            found: found.to_owned(),
            version: version.clone(),
        });
    }
    let requirements = figures::compare(given, &written, &version, report);
    let differs = report.contradicted.len() > told;
    if !differs && let Some(requirements) = requirements {
        report.proven.push(Proof::Verdict { verdict: found.to_owned(), requirements });
    }
    for file in &written {
        let is_told = file.name == ASSESSMENT && (differs || !same_program);
        let bytes = if file.name == MANIFEST { manifest_text(report, file) } else { None };
        let expected = bytes.as_ref().unwrap_or(&file.bytes);
        let Some(held) = given.files.get(&file.name).filter(|_| !is_told) else { continue };
        if let Some(byte) = first_difference(held, expected) {
            let (name, program) = (file.name.clone(), evidence.program.clone());
            report.contradicted.push(Fault::NotAsWritten { name, byte, program });
        }
    }
}

/// The manifest as it is written, with what has been compared already taken from the one that is held.
fn manifest_text(report: &Report, written: &File) -> Option<Vec<u8>> {
    let mut made: Manifest = serde_json::from_slice(&written.bytes).ok()?;
    let held = &report.manifest;
    made.verdict.clone_from(&held.verdict);
    made.sha256.clone_from(&held.sha256);
    for entry in &mut made.files {
        if let Some(said) = held.files.iter().find(|said| said.name == entry.name) {
            entry.clone_from(said);
        }
    }
    Some(made.to_text().ok()?.into_bytes())
}
