//! What the tests do with the small record.

pub(crate) use glueday_tests::small_record::*;

use glueday::record::verify::{Fault, Form, Given, Pages, Report, Trust, verify};
use glueday::record::{Manifest, PROGRAM, files};

/// Makes every digest of the manifest right again, as somebody would who means harm.
pub(crate) fn repair(held: &mut Files) {
    let mut manifest: Manifest = serde_json::from_slice(&held[files::MANIFEST]).unwrap();
    let listed = manifest.files.clone();
    manifest.files.retain(|entry| held.contains_key(&entry.name));
    for entry in &mut manifest.files {
        let bytes = &held[&entry.name];
        entry.bytes = bytes.len() as u64;
        entry.sha256 = files::sha256(bytes);
    }
    for (name, bytes) in held.iter().filter(|(name, _)| *name != files::MANIFEST) {
        if !listed.iter().any(|entry| entry.name == *name) {
            let sha256 = files::sha256(bytes);
            let bytes = bytes.len() as u64;
            let name = name.clone();
            manifest.files.push(glueday::record::manifest::FileEntry { name, bytes, sha256 });
        }
    }
    seal(held, manifest);
}

/// Puts a manifest in its place, with its own digest right.
pub(crate) fn seal(held: &mut Files, mut manifest: Manifest) {
    manifest.sha256 = manifest.seal().unwrap();
    held.insert(files::MANIFEST.to_owned(), manifest.to_text().unwrap().into_bytes());
}

/// The report on files alone.
pub(crate) fn report(files: &Files, trust: &Trust) -> Report {
    verify(&Given { files, pages: None, program: PROGRAM, trust }).unwrap()
}

/// The report on a PDF with these files inside.
pub(crate) fn report_pdf(files: &Files, pdf: &[u8], program: &str) -> Report {
    let pages = Some(Pages { form: Form::Pdf, bytes: pdf, draw: &draw });
    verify(&Given { files, pages, program, trust: &Trust::default() }).unwrap()
}

/// Each contradiction in words.
pub(crate) fn faults(report: &Report) -> Vec<String> {
    report.contradicted.iter().map(Fault::to_string).collect()
}
