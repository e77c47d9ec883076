//! The web page of a record is verified as the PDF is.

use crate::command::{Place, assert_error, assert_said, verify};
use crate::site::{self, Files};
use glueday::record::verify::{Fault, Form, Given, Pages, Trust};
use glueday::record::{Evidence, PROGRAM, html};

fn page(evidence: &Evidence) -> String {
    html::draw(evidence).unwrap()
}

#[test]
fn a_sound_page_is_proven_as_the_pdf_is() {
    let place = Place::new();
    let text = page(&site::rich());
    for (name, bytes) in [
        ("hall.html", text.clone()),
        // What it is called does not matter, only how it begins.
        ("hall.txt", text.clone()),
    ] {
        let said = verify(&place.write(name, bytes.as_bytes()), &[]);
        assert_said(
            &said,
            0,
            &[
                "Nothing in this record is contradicted.",
                "says wait for glue-down at 2026-03-04T06:00:00Z",
                "Proven - the 6 files inside",
                "blocks 0 to 3, 98 entries",
                &format!("the web page is the same in all {} bytes", text.len()),
            ],
        );
    }
}

#[test]
fn each_change_of_a_page_has_its_message() {
    let place = Place::new();
    let text = page(&site::rich());
    let verdict = text.find("wait").unwrap() + 4;
    let files = text.find("<a download=").unwrap();
    let link = files + text[files..].find("base64,").unwrap() + 7;
    let end = text[link..].find('"').unwrap() + link;
    let job = text.find("<a download=\"job.toml\"").unwrap();
    let twice = &text[job..job + text[job..].find("</a>").unwrap() + 4];
    let (before, behind) = text.split_at(verdict);
    let cases: &[(&str, String, &str)] = &[
        (
            "looks",
            format!("{before} (not really){behind}"),
            "the pages or the structure of the web page were changed: from byte ",
        ),
        ("appended", format!("{text}<p>all is well</p>"), "is not what this program draws"),
        (
            "file swapped",
            format!("{}{}{}", &text[..link], "QUJD", &text[end..]),
            "this is no record, or it was changed beyond reading",
        ),
        (
            "file cut",
            format!("{}{}", &text[..link + 5], &text[end..]),
            "in the page cannot be read: it was changed or cut off",
        ),
        (
            "file twice",
            text.replace(twice, &format!("{twice}{twice}")),
            "two files in the page have one name",
        ),
        ("other page", "<!DOCTYPE html><p>Dear sirs".to_owned(), "the page holds no files"),
    ];
    for (what, changed, words) in cases {
        assert_ne!(*changed, text, "{what}");
        let said = verify(&place.write("changed.html", changed.as_bytes()), &[]);
        match said.code {
            Some(1) => assert_said(&said, 1, &[words]),
            _ => assert_error(&said, &[words]),
        }
    }
    let said = verify(&place.write("bytes.html", b"<html>\xFF"), &[]);
    assert_error(&said, &["bytes.html: byte 6 of the page is not UTF-8"]);
}

/// As for a PDF (see `bytes`): what comes out is nothing, other files that contradict each other, or
/// the same files, from which another page is drawn. Each 31st byte: the reader has no more to it than
/// the links of the files.
#[test]
fn a_change_of_a_byte_of_a_page_is_found() {
    let evidence = site::tiny();
    let text = page(&evidence);
    let sound = html::read(&text).unwrap();
    assert_eq!(sound, site::write(&evidence));
    let draw = |drawn: &Evidence| match *drawn == evidence {
        true => Ok(text.clone().into_bytes()),
        false => Err("not drawn in this test".to_owned()),
    };
    let report = |bytes: &[u8], files: &Files| {
        let pages = Some(Pages { form: Form::Html, bytes, draw: &draw });
        let trust = Trust::default();
        glueday::record::verify::verify(&Given { files, pages, program: PROGRAM, trust: &trust })
    };
    assert!(report(text.as_bytes(), &sound).unwrap().holds());
    let mut changed = text.clone().into_bytes();
    let (mut unreadable, mut other, mut same) = (0, 0, 0);
    for at in (0..text.len()).step_by(31) {
        // The lowest three bits in turn keep letters what they are: text, mostly of the same kind.
        changed[at] ^= 1 << (at % 3);
        match std::str::from_utf8(&changed).ok().map(html::read) {
            None | Some(Err(_)) => unreadable += 1,
            Some(Ok(files)) if files == sound => {
                same += 1;
                let (form, len) = (Form::Html, text.len());
                let fault = Fault::Pages { form, byte: at, found: len, drawn: len };
                assert_eq!(report(&changed, &files).unwrap().contradicted, [fault]);
            }
            Some(Ok(files)) => {
                other += 1;
                if let Ok(report) = report(&changed, &files) {
                    let by_files = |fault: &Fault| {
                        !matches!(fault, Fault::Pages { .. } | Fault::NotDrawn { .. })
                    };
                    assert!(report.contradicted.iter().any(by_files), "byte {at}: {report:#?}");
                }
            }
        }
        changed[at] = text.as_bytes()[at];
    }
    eprintln!("{} bytes: {unreadable} unreadable, {other} other files, {same} same", text.len());
    assert!(unreadable > 0 && other > 100 && same > 100);
}
