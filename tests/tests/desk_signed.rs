//! Keys and signatures with the desk logger over a real pty and the real programs: what a user sees when
//! all is well, and what when the key is gone, another, or the flash was put back.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday::archive::{Archive, StoredAttestation};
use glueday::attest::{compare, fingerprint, verify};
use glueday_tests::programs::{Said, glueday, program};
use glueday_types::LoggerId;
use std::io::{BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

const LOGGER: LoggerId = LoggerId(*b"deskSign");

/// A folder with a flash image, its key, and an archive.
struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn image(&self) -> PathBuf {
        self.path("slab.img")
    }

    fn key(&self) -> PathBuf {
        self.path("slab.img.key")
    }

    /// Boots the logger after so many days, and has it talk to the program once.
    fn run(&self, days: u32, more: &[&str], command: &[&str]) -> Said {
        let logger = Logger::start(self, days, more);
        let port = ["--port", logger.port.as_str()];
        glueday(&self.path("archive.sqlite"), &[command, &port].concat())
    }

    fn adopt(&self) -> Said {
        self.run(1, &[], &["adopt", "--name", "hall"])
    }

    fn pull(&self) -> Said {
        self.run(2, &[], &["pull"])
    }

    fn archive(&self) -> Archive {
        Archive::open_read_only(&self.path("archive.sqlite")).unwrap()
    }

    fn kept(&self) -> Vec<StoredAttestation> {
        self.archive().attestations(LOGGER).unwrap()
    }

    fn pinned(&self) -> [u8; 32] {
        self.archive().loggers().unwrap()[0].public_key.unwrap()
    }
}

struct Logger {
    process: Child,
    port: String,
}

impl Logger {
    fn start(place: &Place, days: u32, more: &[&str]) -> Self {
        let mut process = Command::new(program("glueday-desk"))
            .arg("--image")
            .arg(place.image())
            .args(["--slots", "16", "--logger", &LOGGER.to_string()])
            .args(["--uptime", &format!("{days}d")])
            .args(more)
            .stdout(Stdio::piped())
            .stderr(std::fs::File::create(place.path("said")).unwrap())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let port = line.trim().strip_prefix("pty:").expect("a pty").to_owned();
        Self { process, port }
    }
}

impl Drop for Logger {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn json(said: &Said) -> serde_json::Value {
    serde_json::from_str(&said.out).unwrap_or_else(|error| panic!("{error}: {said:?}"))
}

#[test]
fn a_pull_ends_with_a_true_signature_and_the_key_is_kept() {
    let place = Place::new();
    let adopted = place.adopt();
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    let shown = fingerprint(&place.pinned());
    assert!(adopted.out.contains(&format!("key {shown}, pinned")), "{adopted:?}");
    for (pulls, said) in (2..).zip([place.pull(), place.pull()]) {
        assert_eq!(said.code, Some(0), "{said:?}");
        assert!(said.out.contains(&format!("by key {shown}")), "{said:?}");
        assert!(!said.err.contains("ALARM") && !said.err.contains("warning"), "{said:?}");
        assert!(place.kept().len() >= pulls);
    }
    let (archive, key) = (place.archive(), place.pinned());
    let blocks = archive.blocks(LOGGER).unwrap();
    let kept = place.kept();
    for (i, one) in kept.iter().enumerate() {
        assert_eq!(verify(&key, LOGGER, &one.nonce, &one.attestation), Ok(()));
        assert!(kept[..i].iter().all(|before| before.nonce != one.nonce), "a nonce came twice");
        let block = blocks.iter().find(|block| block.number == one.attestation.open_block).unwrap();
        assert_eq!(compare(&one.attestation, &block.bytes), Ok(()));
    }
    let signed = &json(&place.run(3, &[], &["--json", "pull"]))["signed"];
    assert_eq!(signed["state"], "yes");
    assert_eq!(signed["fingerprint"], shown);
    assert!(signed["open_len"].as_u64().unwrap() > 64 && signed["why"].is_null(), "{signed}");
    let said = json(&place.run(3, &[], &["--json", "adopt", "--name", "hall"]));
    assert_eq!(said["signed"]["state"], "yes", "{said}");
}

#[test]
fn two_loggers_have_two_keys() {
    let (a, b) = (Place::new(), Place::new());
    a.adopt();
    b.adopt();
    assert!(a.pinned() != b.pinned());
}

#[test]
fn a_logger_that_was_told_to_have_no_key_is_pulled_with_a_note() {
    let place = Place::new();
    let keyless: &[&str] = &["--keyless"];
    let adopted = place.run(1, keyless, &["adopt", "--name", "hall"]);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    assert!(adopted.err.contains("no key") && !adopted.out.contains("key"), "{adopted:?}");
    let pulled = place.run(1, keyless, &["--json", "pull"]);
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    assert_eq!(json(&pulled)["signed"]["state"], "no_key");
    assert!(json(&pulled)["signed"]["fingerprint"].is_null());
    assert!(!place.key().exists() && place.kept().is_empty());
    // Its log is begun: it never gets one.
    let later = place.pull();
    assert!(later.err.contains("note: this logger has no key"), "{later:?}");
    let said = std::fs::read_to_string(place.path("said")).unwrap();
    assert!(said.contains("no whole key"), "{said}");
}

/// After a first pull, something is done to the files, and the next pull has to say so.
fn after(what: impl FnOnce(&Place)) -> (Place, Said) {
    let place = Place::new();
    place.adopt();
    let pulled = place.pull();
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    let kept = place.kept();
    what(&place);
    let said = place.pull();
    assert_eq!(place.kept(), kept, "an alarm was kept as good: {said:?}");
    assert_eq!(said.code, Some(0), "the log is pulled all the same: {said:?}");
    assert!(said.err.contains("ALARM"), "{said:?}");
    assert!(!said.out.contains("signed up to"), "{said:?}");
    (place, said)
}

#[test]
fn a_key_that_was_lost_or_damaged_is_an_alarm_and_is_not_replaced() {
    let (place, said) = after(|place| std::fs::remove_file(place.key()).unwrap());
    let shown = fingerprint(&place.pinned());
    assert!(said.err.contains(&format!("had the key {shown} and shows none")), "{said:?}");
    assert!(std::fs::read(place.key()).unwrap().iter().all(|byte| *byte == 0xFF));

    let (place, said) = after(|place| {
        let mut bytes = std::fs::read(place.key()).unwrap();
        bytes[30] ^= 0x10;
        std::fs::write(place.key(), bytes).unwrap();
    });
    assert!(said.err.contains("shows none any more"), "{said:?}");
    let document = json(&place.run(2, &[], &["--json", "pull"]));
    assert_eq!(document["signed"]["state"], "alarm", "{document}");
    assert!(document["signed"]["why"].as_str().unwrap().contains("shows none"), "{document}");
}

/// The same flash in another logger.
#[test]
fn another_key_is_an_alarm_and_cannot_be_adopted() {
    let other = Place::new();
    other.adopt();
    let (place, said) = after(|place| {
        std::fs::copy(other.key(), place.key()).unwrap();
    });
    assert!(said.err.contains("signed by another key than the pinned one"), "{said:?}");
    let pinned = place.pinned();
    let adopted = place.adopt();
    assert_eq!(adopted.code, Some(2), "{adopted:?}");
    assert!(adopted.err.contains("signed by another key"), "{adopted:?}");
    assert_eq!(place.pinned(), pinned);
}

/// Somebody puts the whole logger back to what it was before, key and all, and lets it log on.
#[test]
fn a_flash_that_was_put_back_is_an_alarm() {
    let place = Place::new();
    place.adopt();
    std::fs::copy(place.image(), place.path("old")).unwrap();
    place.pull();
    let kept = place.kept();
    std::fs::copy(place.path("old"), place.image()).unwrap();
    let said = place.run(0, &[], &["pull"]);
    assert!(said.err.contains("put back to an earlier state"), "{said:?}");
    assert_eq!(place.kept(), kept);
}
