//! Keys that are trusted for reasons outside the record.

use crate::site::{self, HALL, PLAN, Plan, hall, hall_of, write};
use glueday::attest::fingerprint;
use glueday::record::Evidence;
use glueday::record::verify::{Fault, KeyGiven, Open, Pinned, Proof, Trust, Who};

/// The record of a forger: readings changed, chained and signed anew by a key of his own.
fn signed_anew() -> Evidence {
    let mut evidence = site::rich();
    *hall_of(&mut evidence) = hall(&Plan { seed: [8; 32], warmer: 50, ..PLAN });
    evidence
}

fn true_key() -> [u8; 32] {
    hall(&PLAN).public_key.unwrap()
}

fn given(key: &str) -> Trust {
    Trust { keys: vec![key.parse().unwrap()], archive: None }
}

fn pinned(key: [u8; 32]) -> Trust {
    Trust { keys: Vec::new(), archive: Some(vec![Pinned { logger: HALL, key }]) }
}

fn hex(key: [u8; 32]) -> String {
    key.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_chain_that_is_signed_anew_is_found_by_the_key_only() {
    let files = write(&signed_anew());
    let (found, expected) = {
        let forged = hall(&Plan { seed: [8; 32], ..PLAN }).public_key.unwrap();
        (fingerprint(&forged), fingerprint(&true_key()))
    };
    // Without a key from elsewhere nothing is contradicted, and the report says what to compare.
    let report = site::report(&files, &Trust::default());
    assert_eq!(site::faults(&report), [""; 0]);
    let log = "hall logger (68616c6c2d6c6f67)".to_owned();
    let asks = Open::KeyFromRecord { log: log.clone(), fingerprint: found.clone() };
    assert!(asks.to_string().contains(&format!("{found}, or give that one with --key")));
    assert!(report.open.contains(&asks), "{:#?}", report.open);
    for (trust, who) in [
        (given(&expected), Who::Verifier),
        (given(&hex(true_key())), Who::Verifier),
        (pinned(true_key()), Who::Archive),
    ] {
        let report = site::report(&files, &trust);
        let (log, found, expected) = (log.clone(), found.clone(), expected.clone());
        let fault = Fault::OtherKey { log, found, expected, who };
        assert!(report.contradicted.contains(&fault), "{:#?}", report.contradicted);
        assert!(!report.open.contains(&asks));
        // Signed it is, but not by the logger: that is not among what is proven.
        assert!(!report.proven.iter().any(|proof| matches!(proof, Proof::Signed { .. })));
    }
}

#[test]
fn the_true_key_is_proven_by_whoever_gave_it() {
    let files = write(&site::rich());
    let print = fingerprint(&true_key());
    for (trust, expected) in [
        (Trust::default(), Who::Record),
        (given(&print), Who::Verifier),
        (given(&print.replace('-', "").to_uppercase()), Who::Verifier),
        (given(&hex(true_key())), Who::Verifier),
        (pinned(true_key()), Who::Archive),
    ] {
        let report = site::report(&files, &trust);
        assert!(report.holds(), "{:#?}", report.contradicted);
        let signed = |proof: &Proof| match proof {
            Proof::Signed { who, .. } => Some(*who),
            _ => None,
        };
        assert_eq!(report.proven.iter().find_map(signed), Some(expected));
        let asks = |open: &Open| matches!(open, Open::KeyFromRecord { .. });
        assert_eq!(report.open.iter().any(asks), expected == Who::Record);
    }
}

#[test]
fn signatures_that_were_taken_out_are_missed_by_who_knows_the_key() {
    let mut evidence = site::rich();
    hall_of(&mut evidence).attestations.clear();
    let with_key = write(&evidence);
    hall_of(&mut evidence).public_key = None;
    let without_key = write(&evidence);
    let print = fingerprint(&true_key());
    for files in [&with_key, &without_key] {
        assert!(site::report(files, &Trust::default()).holds());
        let faults = site::faults(&site::report(files, &given(&print)));
        let words = format!("no log of the record is signed by the key {print} that you gave");
        assert!(faults.iter().any(|fault| fault.contains(&words)), "{faults:#?}");
        let faults = site::faults(&site::report(files, &pinned(true_key())));
        let words =
            format!("the key {print} is pinned in the archive for it, and it bears no signature");
        assert!(faults.iter().any(|fault| fault.contains(&words)), "{faults:#?}");
    }
}

#[test]
fn an_archive_that_does_not_know_the_logger_leaves_it_open() {
    let trust = Trust { keys: Vec::new(), archive: Some(Vec::new()) };
    let report = site::report(&write(&site::rich()), &trust);
    assert!(report.holds());
    let open = Open::KeyNotInArchive { log: "hall logger (68616c6c2d6c6f67)".to_owned() };
    assert!(report.open.contains(&open), "{:#?}", report.open);
}

#[test]
fn what_is_no_key_is_refused() {
    for text in
        ["", "6668", "6668-7aad-f862-bd77-6c8g", "zz", &"0".repeat(63), "66687aadf862bd776c8é"]
    {
        let error = text.parse::<KeyGiven>().unwrap_err().to_string();
        assert!(error.contains("is no key: give the fingerprint"), "{error}");
    }
}

/// The record shows the key as `adopt` and `verify` show it, so that they can be compared by eye.
#[test]
fn the_record_shows_the_fingerprint() {
    let page = glueday::record::html::draw(&site::rich()).unwrap();
    assert!(page.contains(&fingerprint(&true_key())));
    assert!(page.contains(&hex(true_key())));
}
