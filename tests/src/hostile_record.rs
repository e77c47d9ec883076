//! What is fed with any bytes: the reader of records, as a PDF and as a folder.

use crate::small_record::{Files, draw, tiny, write};
use glueday::record::PROGRAM;
use glueday::record::pdf_files::{FILES_LEN_MAX, FILES_MAX, extract};
use glueday::record::verify::{Form, Given, Pages, Trust, verify};
use std::sync::OnceLock;

/// Takes the bytes for a PDF, or for changes of a sound record's files: the first byte says which.
///
/// # Panics
/// When a bound is not kept, or a changed record holds.
pub fn record(bytes: &[u8]) {
    match bytes.split_first() {
        Some((0, pdf)) => any_pdf(pdf),
        Some((_, changes)) => changed_files(changes),
        None => {}
    }
}

/// Whatever comes out of the bytes is within bounds, and is judged.
fn any_pdf(pdf: &[u8]) {
    let Ok(files) = extract(pdf) else { return };
    assert!(!files.is_empty() && files.len() <= FILES_MAX, "{} files", files.len());
    let len: usize = files.values().map(Vec::len).sum();
    assert!(len <= FILES_LEN_MAX, "{len} bytes");
    let pages = Some(Pages { form: Form::Pdf, bytes: pdf, draw: &draw });
    let trust = Trust::default();
    if let Ok(report) = verify(&Given { files: &files, pages, program: PROGRAM, trust: &trust }) {
        assert!(!report.holds() || files == *sound(), "another record holds");
    }
}

/// Four bytes each: which file, where (two), and what is put there.
fn changed_files(changes: &[u8]) {
    let mut files = sound().clone();
    for change in changes.chunks_exact(4) {
        let [file, high, low, byte] = change else { continue };
        let count = files.len();
        let Some(bytes) = files.values_mut().nth(usize::from(*file) % count) else { continue };
        let place = usize::from(u16::from_be_bytes([*high, *low]));
        match bytes.get_mut(place) {
            Some(old) => *old = *byte,
            None => bytes.push(*byte),
        }
    }
    let given = Given { files: &files, pages: None, program: PROGRAM, trust: &Trust::default() };
    if let Ok(report) = verify(&given) {
        assert_eq!(report.holds(), files == *sound(), "{report:#?}");
    }
}

fn sound() -> &'static Files {
    static SOUND: OnceLock<Files> = OnceLock::new();
    SOUND.get_or_init(|| write(&tiny()))
}
