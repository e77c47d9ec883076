//! `glueday verify` as a user runs it.

use crate::site::{self, Files};
use glueday::archive::Archive;
use glueday::attest::fingerprint;
use glueday_tests::programs::{Said, program};
use std::path::{Path, PathBuf};
use std::process::Command;

pub(crate) struct Place {
    folder: tempfile::TempDir,
    pdf: Vec<u8>,
}

impl Place {
    pub(crate) fn new() -> Self {
        let pdf = site::draw(&site::rich()).unwrap();
        Self { folder: tempfile::tempdir().unwrap(), pdf }
    }

    pub(crate) fn write(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }

    pub(crate) fn folder(&self, name: &str, files: &Files) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::create_dir(&path).unwrap();
        for (name, bytes) in files {
            std::fs::write(path.join(name), bytes).unwrap();
        }
        path
    }
}

pub(crate) fn verify(record: &Path, more: &[&str]) -> Said {
    let output = Command::new(program("glueday"))
        .arg("verify")
        .arg(record)
        .args(more)
        .env_remove("GLUEDAY_ARCHIVE")
        .env("COLUMNS", "80")
        .output()
        .unwrap();
    Said::from(output)
}

/// An answer of the expected kind with all of these words on standard output.
#[track_caller]
pub(crate) fn assert_said(said: &Said, code: i32, words: &[&str]) {
    assert_eq!(said.code, Some(code), "{}{}", said.out, said.err);
    let text = said.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in words {
        assert!(text.contains(word), "no `{word}` in: {}", said.out);
    }
}

/// An error with all of these words on standard error and nothing on standard output.
#[track_caller]
pub(crate) fn assert_error(said: &Said, words: &[&str]) {
    assert_eq!((said.code, said.out.as_str()), (Some(2), ""), "{}", said.err);
    // Broken to the width of a screen.
    let text = said.err.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in words {
        assert!(text.contains(word), "no `{word}` in: {}", said.err);
    }
}

#[test]
fn a_sound_record_says_what_is_proven_and_what_is_not() {
    let place = Place::new();
    let record = place.write("hall.pdf", &place.pdf);
    let said = verify(&record, &[]);
    assert_said(
        &said,
        0,
        &[
            "Nothing in this record is contradicted.",
            "says wait for glue-down at 2026-03-04T06:00:00Z",
            "Not proven - whether the key is that of the logger hall logger",
            "Proven - the 6 files inside",
            "the PDF is the same in all",
            "What this check cannot show",
        ],
    );
    assert_eq!(said.err, "");
    for line in said.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let key = fingerprint(&site::hall(&site::PLAN).public_key.unwrap());
    let said = verify(&record, &["--key", &key]);
    assert_said(&said, 0, &["by the key that you gave"]);
    assert!(!said.out.contains("whether the key"), "{}", said.out);
}

#[test]
fn json_says_the_same() {
    let place = Place::new();
    let record = place.write("hall.pdf", &place.pdf);
    let said = verify(&record, &["--json"]);
    assert_eq!(said.code, Some(0), "{}", said.err);
    let all: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let ids = |key: &str| -> Vec<String> {
        all[key]
            .as_array()
            .unwrap()
            .iter()
            .map(|item| item["id"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!((&all["schema"], &all["holds"]), (&1.into(), &true.into()));
    assert_eq!(ids("contradicted"), [""; 0]);
    assert_eq!(ids("not_proven"), ["key-from-record", "behind-signature", "import-origin"]);
    let mut proven = ids("proven");
    proven.sort();
    assert_eq!(proven, ["chain", "chain", "files", "imported", "pages", "signed", "verdict"]);
}

#[test]
fn a_changed_record_is_exit_code_1() {
    let place = Place::new();
    let appended = [place.pdf.as_slice(), b"\n% a remark\n"].concat();
    let said = verify(&place.write("appended.pdf", &appended), &[]);
    let at = format!("from byte {} on", place.pdf.len());
    assert_said(
        &said,
        1,
        &[
            "This record does not hold: one thing is contradicted.",
            "the pages or the structure of the PDF were changed",
            &at,
        ],
    );
    // A new trailer that puts another index in force, as programs do that save what was changed.
    let text = String::from_utf8_lossy(&place.pdf).into_owned();
    let trailer = text.rfind("trailer").unwrap();
    let appended = [place.pdf.as_slice(), &text.as_bytes()[trailer..]].concat();
    assert_said(
        &verify(&place.write("trailer.pdf", &appended), &[]),
        1,
        &["the pages or the structure"],
    );
    // A log left out of the files, and the pages drawn for all of them.
    let mut files = site::write(&site::rich());
    files.retain(|name, _| !name.starts_with("log-68616c6c"));
    let said = verify(&place.folder("taken", &files), &[]);
    assert_said(
        &said,
        1,
        &[
            "log-68616c6c2d6c6f67.bin: the file is listed in record.json and is not there",
            "all the rest: chain, signatures, verdict and pages were not checked",
        ],
    );
    let all: serde_json::Value =
        serde_json::from_str(&verify(&place.folder.path().join("taken"), &["--json"]).out).unwrap();
    assert_eq!(all["contradicted"][0]["id"], "file-missing");
    assert_eq!(all["holds"], false);
}

#[test]
fn the_key_that_an_archive_has_pinned_counts() {
    let place = Place::new();
    let record = place.write("hall.pdf", &place.pdf);
    let true_key = site::hall(&site::PLAN).public_key.unwrap();
    for (name, key, code, words) in [
        ("true.sqlite", true_key, 0, "by the key that is pinned in the archive"),
        ("other.sqlite", [1; 32], 1, "the key that is pinned in the archive is "),
    ] {
        let path = place.folder.path().join(name);
        Archive::create(&path).unwrap().adopt(site::HALL, "hall logger", Some(key), 0).unwrap();
        let said = verify(&record, &["--archive", path.to_str().unwrap()]);
        assert_said(&said, code, &[words]);
    }
    let nowhere = place.folder.path().join("nowhere.sqlite");
    let said = verify(&record, &["--archive", nowhere.to_str().unwrap()]);
    assert_error(&said, &["there is no archive", "nowhere.sqlite"]);
}

#[test]
fn what_is_no_record_is_exit_code_2_with_the_next_step() {
    let place = Place::new();
    let cases: &[(&str, Vec<u8>, &[&str])] = &[
        (
            "letter.pdf",
            b"Dear sirs".to_vec(),
            &["letter.pdf: it is no PDF: give the PDF of a record"],
        ),
        (
            "cut.pdf",
            place.pdf[..place.pdf.len() / 3].to_vec(),
            &["cut.pdf: the PDF", "cut off or changed"],
        ),
        (
            "plain.pdf",
            plain_pdf(),
            &["plain.pdf: the PDF has no files attached", "ask for the record"],
        ),
    ];
    for (name, bytes, words) in cases {
        assert_error(&verify(&place.write(name, bytes), &[]), words);
    }
    assert_error(&verify(&place.folder.path().join("none.pdf"), &[]), &["none.pdf: "]);
    let empty = place.folder("empty", &Files::new());
    assert_error(&verify(&empty, &[]), &["there is no record.json in it", "taken out, or its PDF"]);
    let mut files = site::write(&site::rich());
    let newer = String::from_utf8(files["record.json"].clone()).unwrap().replacen(
        "\"schema\": 1",
        "\"schema\": 2",
        1,
    );
    files.insert("record.json".to_owned(), newer.into_bytes());
    let newer = place.folder("newer", &files);
    assert_error(
        &verify(&newer, &[]),
        &["record.json has schema 2; this program reads up to 1: use a newer one"],
    );
    files.insert("record.json".to_owned(), b"{}".to_vec());
    let broken = place.folder("broken", &files);
    assert_error(
        &verify(&broken, &[]),
        &["this is no record, or it was changed beyond reading", "missing field `schema`"],
    );
    let record = place.write("hall.pdf", &place.pdf);
    assert_error(&verify(&record, &["--key", "1234"]), &["`1234` is no key: give the fingerprint"]);
    assert_error(&verify(&record, &["--colour"]), &["unexpected argument"]);
}

/// A PDF of one page with nothing attached.
fn plain_pdf() -> Vec<u8> {
    b"%PDF-1.4\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\n\
      2 0 obj\n<< /Type /Pages /Kids [3 0 R] /Count 1 >>\nendobj\n\
      3 0 obj\n<< /Type /Page /Parent 2 0 R /MediaBox [0 0 99 99] >>\nendobj\n\
      trailer\n<< /Size 4 /Root 1 0 R >>\n"
        .to_vec()
}

/// By another program, in an order of its own.
#[test]
fn files_taken_out_by_pdfdetach_verify_as_a_folder() {
    let place = Place::new();
    let record = place.write("hall.pdf", &place.pdf);
    let folder = place.folder("out", &Files::new());
    let output = Command::new("pdfdetach")
        .args(["-saveall", "-o"])
        .args([&folder, &record])
        .output()
        .expect("pdfdetach of poppler-utils is there; tests/run installs it");
    assert!(output.status.success(), "{output:?}");
    let count = std::fs::read_dir(&folder).unwrap().count();
    assert_eq!(count, site::write(&site::rich()).len());
    let said = verify(&folder, &[]);
    assert_said(
        &said,
        0,
        &["Nothing in this record is contradicted.", "only the files were given, not the PDF"],
    );
}

/// FIPS 180-4, examples of SHA-256 as NIST publishes them with the standard: from memory.
#[test]
fn the_digests_are_sha_256() {
    use glueday::record::files::sha256;
    for (message, digest) in [
        (b"abc".to_vec(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq".to_vec(),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (Vec::new(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (vec![b'a'; 1_000_000], "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ] {
        assert_eq!(sha256(&message), digest, "{} bytes", message.len());
    }
}
