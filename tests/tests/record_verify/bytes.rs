//! A change of any single byte is found.

use crate::site::{self, Files};
use glueday::record::pdf_files::extract;
use glueday::record::verify::{Fault, Given, Pages, Trust, verify};
use glueday::record::{Evidence, PROGRAM};

/// The changes that are made of each byte: its lowest bit, its highest bit, all of it.
const CHANGES: [fn(usize, u8) -> u8; 3] =
    [|_, byte| byte ^ 1, |_, byte| byte ^ 0x80, |at, byte| byte.wrapping_add((at % 251) as u8 + 2)];

/// What was made of changed records.
#[derive(Debug, Default, PartialEq, Eq)]
struct Count {
    changes: usize,
    /// The PDF cannot be read any more, or bears no record.
    unreadable: usize,
    /// The files inside are the same, so that only pages or structure changed.
    pages: usize,
    /// Other files came out, and the check of the files told.
    files: usize,
}

/// Changes each byte of a record that `program` made, and verifies it with this program.
fn change_each_byte(evidence: &Evidence, changes: &[fn(usize, u8) -> u8]) -> Count {
    let pdf = site::draw(evidence).unwrap();
    let original = extract(&pdf).unwrap();
    assert!(pdf.len() < 40_000, "{} bytes are too many to change each of them", pdf.len());
    // Drawn once: the same evidence gives the same bytes, and other evidence is judged by its files.
    let draw = |drawn: &Evidence| match drawn == evidence {
        true => Ok(pdf.clone()),
        false => Err("not drawn in this test".to_owned()),
    };
    let mut count = Count::default();
    let mut changed = pdf.clone();
    // The pages of a sound record, for records whose files came out the same.
    let pages = |changed: &[u8], files: &Files| {
        let pages = Some(Pages { pdf: changed, draw: &draw });
        verify(&Given { files, pages, program: PROGRAM, trust: &Trust::default() })
    };
    for at in 0..pdf.len() {
        for change in changes {
            changed[at] = change(at, pdf[at]);
            assert_ne!(changed[at], pdf[at]);
            count.changes += 1;
            match extract(&changed) {
                Err(_) => count.unreadable += 1,
                Ok(files) if files == original => count.pages += 1,
                Ok(files) => match pages(&changed, &files) {
                    Err(_) => count.unreadable += 1,
                    Ok(report) => {
                        let by_files = |fault: &Fault| {
                            !matches!(fault, Fault::Pages { .. } | Fault::NotDrawn { .. })
                        };
                        assert!(report.contradicted.iter().any(by_files), "byte {at}: {report:#?}");
                        count.files += 1;
                    }
                },
            }
        }
        changed[at] = pdf[at];
    }
    // Whatever left the files as they are is told by the pages, at the byte that was changed.
    for at in (0..pdf.len()).step_by(pdf.len() / 40) {
        changed[at] ^= 1;
        let report = pages(&changed, &original).unwrap();
        match evidence.program == PROGRAM {
            true => {
                let (found, drawn) = (pdf.len(), pdf.len());
                assert_eq!(report.contradicted, [Fault::Pages { byte: at, found, drawn }]);
            }
            // The pages of another version are not compared, and the report says so.
            false => assert!(report.holds() && report.proven.len() == 4, "{report:#?}"),
        }
        changed[at] ^= 1;
    }
    count
}

#[test]
fn a_change_of_any_byte_of_a_record_is_found() {
    let count = change_each_byte(&site::tiny(), &CHANGES);
    eprintln!("{count:?}");
    assert_eq!(count.unreadable + count.pages + count.files, count.changes);
}

/// The record says that another version made it, so that its pages are not compared.
#[test]
fn where_pages_are_not_compared_a_change_of_any_byte_of_the_files_is_found() {
    let evidence = Evidence { program: "glueday 0.0.9".to_owned(), ..site::tiny() };
    let count = change_each_byte(&evidence, &CHANGES[..1]);
    eprintln!("{count:?}");
    assert_eq!(count.unreadable + count.pages + count.files, count.changes);
    assert!(count.pages > 0);
}

/// One change of each byte of each file, in a record of this version and in one of another.
#[test]
fn a_change_of_any_byte_of_a_file_is_found() {
    for program in [PROGRAM, "glueday 0.0.9"] {
        let mut files = site::write(&Evidence { program: program.to_owned(), ..site::tiny() });
        let trust = Trust::default();
        assert!(site::report(&files, &trust).holds());
        let (mut unreadable, mut told) = (0, 0);
        let names: Vec<String> = files.keys().cloned().collect();
        for name in names {
            for at in 0..files[&name].len() {
                let byte = files[&name][at];
                files.get_mut(&name).unwrap()[at] = CHANGES[at % 3](at, byte);
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
