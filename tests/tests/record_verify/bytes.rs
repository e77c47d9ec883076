//! A change of any single byte is found, without an exception.
//!
//! Why that is so for a PDF. Let `P` be a record that this version drew from its files `F`, and `Q` the
//! same with one byte changed. What comes out of `Q` is
//!
//! 1. nothing: `Q` cannot be read, and the command ends with exit code 2 and says so;
//! 2. other files than `F`: they contradict each other, because every file stands in the manifest with
//!    its SHA-256 and the manifest with its own, and no single byte makes two of these fit again;
//! 3. the files `F`: then they give the same evidence, the same evidence is drawn as `P`, and the check
//!    compares all of `P` with all of `Q`, which differ.
//!
//! Which of the three it is depends on the reader of PDFs, so that is tried for every byte. That no
//! change of kind 2 holds is tried for each one that comes up. Kind 3 is the same comparison of two
//! lists of bytes wherever they differ; it is tried at some hundred places, the first and the last byte
//! among them.
//!
//! A record of another version is not drawn, and the report says so. There a change of kind 3 is harmless
//! to what is proven, which is about the files alone: the report is the same, word for word.

use crate::site::{self, Files};
use glueday::record::pdf_files::extract;
use glueday::record::verify::{Fault, Form, Given, Open, Pages, Report, Trust, verify};
use glueday::record::{Evidence, PROGRAM};

/// A program that did not make the record.
const OTHER: &str = "glueday 0.0.9";

/// One change is made of each byte (one of its bits, another for the next byte), and of each sixteenth a
/// second one: all its bits off, or all of them on.
fn changes(at: usize, byte: u8) -> impl Iterator<Item = u8> {
    let flat = if byte == 0xFF || at.is_multiple_of(32) && byte != 0 { 0 } else { 0xFF };
    [Some(byte ^ 1 << (at % 8)), at.is_multiple_of(16).then_some(flat)].into_iter().flatten()
}

/// What came out of changed records.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Count {
    changes: usize,
    /// Kind 1.
    unreadable: usize,
    /// Kind 2.
    other_files: usize,
    /// Kind 3.
    same_files: usize,
}

/// A record with what it was made from.
struct Sound {
    evidence: Evidence,
    pdf: Vec<u8>,
    files: Files,
}

impl Sound {
    fn new() -> Self {
        let evidence = site::tiny();
        let pdf = site::draw(&evidence).unwrap();
        let files = extract(&pdf).unwrap();
        Self { evidence, pdf, files }
    }

    /// A report of `program`. The pages are drawn once only: the same evidence is drawn the same, which
    /// the tests of the pages see to, and other evidence has to be told by the files.
    fn report(&self, pdf: &[u8], files: &Files, program: &str) -> Option<Report> {
        let draw = |evidence: &Evidence| match *evidence == self.evidence {
            true => Ok(self.pdf.clone()),
            false => Err("not drawn in this test".to_owned()),
        };
        let pages = Some(Pages { form: Form::Pdf, bytes: pdf, draw: &draw });
        verify(&Given { files, pages, program, trust: &Trust::default() }).ok()
    }

    /// Changes every byte.
    fn change(&self) -> Count {
        let mut count = Count::default();
        let mut changed = self.pdf.clone();
        for at in 0..self.pdf.len() {
            for byte in changes(at, self.pdf[at]) {
                assert_ne!(byte, self.pdf[at]);
                changed[at] = byte;
                count.changes += 1;
                match extract(&changed) {
                    Err(_) => count.unreadable += 1,
                    Ok(files) if files == self.files => count.same_files += 1,
                    Ok(files) => {
                        count.other_files += 1;
                        self.assert_told(at, &changed, &files);
                    }
                }
            }
            changed[at] = self.pdf[at];
        }
        count
    }

    /// Files that came out otherwise are contradicted as such, pages or no pages.
    fn assert_told(&self, at: usize, changed: &[u8], files: &Files) {
        let by_files =
            |fault: &Fault| !matches!(fault, Fault::Pages { .. } | Fault::NotDrawn { .. });
        for program in [PROGRAM, OTHER] {
            if let Some(report) = self.report(changed, files, program) {
                let told = report.contradicted.iter().any(by_files);
                assert!(told, "byte {at}, {program}: {report:#?}");
            }
        }
    }
}

#[test]
fn a_change_of_any_byte_of_a_record_is_found() {
    let sound = Sound::new();
    // Trying them all takes half a millisecond each.
    assert!(sound.pdf.len() < 100_000, "{} bytes are too many", sound.pdf.len());
    let count = sound.change();
    eprintln!("{} bytes: {count:?}", sound.pdf.len());
    assert_eq!(count.changes, sound.pdf.len() + sound.pdf.len().div_ceil(16));
    // All of the three happen, so that each of the reasons above is needed.
    assert!(count.unreadable > 1000 && count.same_files > 1000 && count.other_files > 0);
}

/// Kind 3: whatever leaves the files as they are is told by the pages, at the byte that was changed.
#[test]
fn where_the_files_come_out_the_same_the_pages_tell() {
    let sound = Sound::new();
    let len = sound.pdf.len();
    let untouched = sound.report(&sound.pdf, &sound.files, OTHER).unwrap();
    assert!(untouched.holds() && untouched.proven.len() == 4, "{untouched:#?}");
    let not_compared = |open: &Open| matches!(open, Open::OtherVersion { .. });
    assert!(untouched.open.iter().any(not_compared));
    let mut changed = sound.pdf.clone();
    for at in (0..len).step_by(397).chain([len - 1]) {
        changed[at] ^= 1 << (at % 8);
        let report = sound.report(&changed, &sound.files, PROGRAM).unwrap();
        let pages = Fault::Pages { form: Form::Pdf, byte: at, found: len, drawn: len };
        assert_eq!(report.contradicted, [pages]);
        assert_eq!(sound.report(&changed, &sound.files, OTHER).unwrap(), untouched);
        changed[at] = sound.pdf[at];
    }
    for (other, byte) in [(&sound.pdf[..len - 1], len - 1), (&[&sound.pdf[..], b" "].concat(), len)]
    {
        let report = sound.report(other, &sound.files, PROGRAM).unwrap();
        assert_eq!(
            report.contradicted,
            [Fault::Pages { form: Form::Pdf, byte, found: other.len(), drawn: len }]
        );
    }
}

/// One change of each byte of each file. A record of another version is compared in another way where
/// what this version writes may differ, which is tried for each fourth byte of these two files.
#[test]
fn a_change_of_any_byte_of_a_file_is_found() {
    for program in [PROGRAM, OTHER] {
        let mut files = site::write(&Evidence { program: program.to_owned(), ..site::tiny() });
        let trust = Trust::default();
        assert!(site::report(&files, &trust).holds());
        let (mut unreadable, mut told) = (0, 0);
        let of_version = ["assessment.json", "record.json"];
        let is_tried = |name: &&String| program == PROGRAM || of_version.contains(&name.as_str());
        let names: Vec<String> = files.keys().filter(is_tried).cloned().collect();
        let step = if program == PROGRAM { 1 } else { 4 };
        for name in names {
            for at in (0..files[&name].len()).step_by(step) {
                let byte = files[&name][at];
                files.get_mut(&name).unwrap()[at] = changes(at, byte).last().unwrap();
                match verify(&Given { files: &files, pages: None, program: PROGRAM, trust: &trust })
                {
                    Err(_) => unreadable += 1,
                    Ok(report) if report.holds() => panic!("{name}, byte {at}: {report:#?}"),
                    Ok(_) => told += 1,
                }
                files.get_mut(&name).unwrap()[at] = byte;
            }
        }
        eprintln!("{program}: {unreadable} unreadable, {told} contradicted");
    }
}
