//! The signature at the end of a pull: what is kept, what is an alarm, and each alarm by its own words.
//! Over the virtual line of the other pull tests, with a logger that signs, lies, and is swapped.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use glueday::archive::Archive;
use glueday::attest::{Mismatch, Untrue, verify};
use glueday::pull::{Finding, Link, LinkError, NoProgress, Proof, PullError, PullReport};
use glueday_firmware::Key;
use glueday_tests::faulty_link::{Faults, FaultyLink, ToyLogger};
use glueday_types::BootReason;
use glueday_types::wire::Attestation;

const NOW_S: i64 = 1_790_000_000;
const ID: [u8; 8] = *b"proveToy";

/// A logger with a key, and half a block of samples.
fn toy() -> ToyLogger {
    let mut toy = ToyLogger::new(ID, 8, 4);
    toy.sign_with(1);
    toy.sample(150, 1);
    toy
}

/// Pulls, and proves with this nonce. The second finding of an alarm is the one in the report.
fn pull(
    archive: &mut Archive,
    line: FaultyLink,
    nonce: u8,
) -> (PullReport, Result<Proof, PullError>, FaultyLink) {
    let mut link = Link::new(line, 7);
    let mut report = link.pull(archive, NOW_S, &mut NoProgress).unwrap();
    let now_s = NOW_S + i64::from(nonce);
    let proof = link.prove(archive, &mut report, now_s, [nonce; 16], &mut NoProgress);
    if let Ok(Proof::Alarm(finding)) = &proof {
        assert_eq!(report.findings.last(), Some(finding));
    }
    (report, proof, link.into_port())
}

/// The alarm that a second pull gives, after a first that was well; `between` is done to the logger.
fn alarm(between: impl FnOnce(&mut ToyLogger)) -> Untrue {
    let mut archive = Archive::in_memory().unwrap();
    let (_, proof, mut line) = pull(&mut archive, FaultyLink::new(toy()), 1);
    assert!(matches!(proof, Ok(Proof::True(_))), "{proof:?}");
    between(&mut line.logger);
    let kept = archive.attestations(line.logger.id).unwrap();
    let (_, proof, line) = pull(&mut archive, line, 2);
    assert_eq!(archive.attestations(line.logger.id).unwrap(), kept, "an alarm was kept as good");
    match proof {
        Ok(Proof::Alarm(Finding::Untrue { why, .. })) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_true_signature_is_kept_with_what_it_is_over() {
    let mut archive = Archive::in_memory().unwrap();
    let (report, proof, line) = pull(&mut archive, FaultyLink::new(toy()), 1);
    let Ok(Proof::True(kept)) = proof else { panic!("{proof:?}") };
    assert_eq!(report.findings, []);
    assert_eq!(archive.attestations(line.logger.id).unwrap(), [*kept]);
    let public = line.logger.public_key.unwrap();
    assert_eq!(verify(&public, line.logger.id, &[1; 16], &kept.attestation), Ok(()));
    assert_eq!(archive.loggers().unwrap()[0].public_key, Some(public), "pinned at first sight");
    // The log goes on; the next pull has the next signature.
    let mut line = line;
    line.logger.restart(BootReason::BrownOut);
    line.logger.sample(600, 1);
    let (report, proof, line) = pull(&mut archive, line, 2);
    assert!(matches!(proof, Ok(Proof::True(_))), "{proof:?}");
    assert_eq!(report.findings, []);
    assert_eq!(archive.attestations(line.logger.id).unwrap().len(), 2);
}

/// The logger samples between status and signature, also over the end of a block: the rest is pulled.
#[test]
fn what_was_logged_meanwhile_is_pulled_too() {
    for late_samples in [1, 40, 700] {
        let mut archive = Archive::in_memory().unwrap();
        let mut toy = toy();
        toy.late_samples = late_samples;
        let (report, proof, line) = pull(&mut archive, FaultyLink::new(toy), 1);
        let Ok(Proof::True(kept)) = proof else { panic!("{proof:?}") };
        assert_eq!(report.findings, []);
        let signed = kept.attestation;
        let place = (signed.open_block, signed.open_len);
        assert!(place > (report.status.open_block, report.status.open_len), "{late_samples}");
        let held = archive.blocks(line.logger.id).unwrap();
        assert_eq!(held.len(), line.logger.blocks.len());
        for block in held {
            assert_eq!(block.bytes, line.logger.blocks[&block.number]);
        }
    }
}

#[test]
fn a_logger_without_key_is_pulled_as_ever() {
    let mut archive = Archive::in_memory().unwrap();
    let mut toy = toy();
    (toy.key, toy.public_key) = (None, None);
    let (report, proof, line) = pull(&mut archive, FaultyLink::new(toy), 1);
    assert_eq!(proof.unwrap(), Proof::NoKey);
    assert_eq!(report.findings, []);
    assert_eq!(archive.blocks(line.logger.id).unwrap().len(), 1);
}

#[test]
fn a_key_that_is_gone_is_an_alarm() {
    type Loss = fn(&mut ToyLogger);
    let losses: [Loss; 2] = [
        |toy| (toy.key, toy.public_key) = (None, None),
        // It shows the key and cannot sign.
        |toy| toy.key = None,
    ];
    for loss in losses {
        let mut archive = Archive::in_memory().unwrap();
        let (_, _, mut line) = pull(&mut archive, FaultyLink::new(toy()), 1);
        loss(&mut line.logger);
        let (report, proof, _) = pull(&mut archive, line, 2);
        let gone = Finding::KeyGone {
            logger: glueday_types::LoggerId(ID),
            fingerprint: "3475-0f98-bd59-fcfc-946d".to_owned(),
        };
        // SHA-256 of the public key of the seed 01...01, by another program.
        assert_eq!(proof.unwrap(), Proof::Alarm(gone.clone()));
        assert_eq!(report.findings, [gone]);
    }
}

#[test]
fn every_lie_has_its_own_words() {
    let other_key = alarm(|toy| toy.sign_with(2));
    assert_eq!(other_key, Untrue::OtherKey);
    // Signs with another key, and shows the old one.
    let wrong = alarm(|toy| toy.key = Key::from_seed(&[2; 32]));
    assert_eq!(wrong, Untrue::WrongSignature { besides: None });
    // The answer to the first pull again.
    let replayed = alarm(|toy| {
        static OLD: std::sync::Mutex<Option<Attestation>> = std::sync::Mutex::new(None);
        *OLD.lock().unwrap() = toy.attest([1; 16]);
        toy.alter = Some(|answer| *answer = OLD.lock().unwrap().unwrap());
    });
    assert_eq!(replayed, Untrue::Replayed { ago_s: 1 });
    // The log was put back to an earlier state, with its key.
    let back = alarm(|toy| {
        let mut earlier = ToyLogger::new(ID, 8, 4);
        earlier.sign_with(1);
        earlier.sample(100, 1);
        *toy = earlier;
    });
    assert!(
        matches!(back, Untrue::NotThisLog { mismatch: Mismatch::BehindEarlier { .. } }),
        "{back:?}"
    );
    // The logger signs another log than it sends: of the same length, with another digest.
    let other_log = alarm(|toy| {
        let mut twin = toy.clone();
        let (number, block) = twin.blocks.pop_last().unwrap();
        let mut bytes = block;
        let last = bytes.len() - 1;
        bytes[last] ^= 1;
        twin.blocks.insert(number, bytes);
        static LIE: std::sync::Mutex<Option<ToyLogger>> = std::sync::Mutex::new(None);
        *LIE.lock().unwrap() = Some(twin);
        toy.alter = Some(|answer| {
            *answer = LIE.lock().unwrap().as_mut().unwrap().attest([2; 16]).unwrap();
        });
    });
    assert!(
        matches!(other_log, Untrue::NotThisLog { mismatch: Mismatch::Digest { .. } }),
        "{other_log:?}"
    );
}

/// One bit of each field on the way: never taken for true, and each says what does not fit.
#[test]
fn a_changed_field_is_found_by_what_does_not_fit() {
    let wrong = |besides| Untrue::WrongSignature { besides };
    let besides = |alter: fn(&mut Attestation)| match alarm(|toy| toy.alter = Some(alter)) {
        Untrue::WrongSignature { besides } => besides,
        other => panic!("{other:?}"),
    };
    let at_block = besides(|answer| answer.open_block ^= 1);
    assert!(
        matches!(at_block, Some(Mismatch::NotHeld { block: 1, held_len: 0, .. })),
        "{at_block:?}"
    );
    let at_len = besides(|answer| answer.open_len ^= 1);
    assert!(
        matches!(at_len, Some(Mismatch::Digest { .. } | Mismatch::NotHeld { .. })),
        "{at_len:?}"
    );
    let at_boot = besides(|answer| answer.boot ^= 2);
    assert_eq!(at_boot, Some(Mismatch::Boot { said: 3, found: 1 }));
    let at_uptime = besides(|answer| answer.uptime_s &= 0xFF);
    assert!(matches!(at_uptime, Some(Mismatch::Uptime { .. })), "{at_uptime:?}");
    assert!(matches!(besides(|answer| answer.digest[31] ^= 1), Some(Mismatch::Digest { .. })));
    for alter in [
        (|answer| answer.signature_r[0] ^= 1) as fn(&mut Attestation),
        |answer| answer.signature_s[0] ^= 1,
        |answer| answer.signature_s[31] ^= 0x80,
        |answer| answer.uptime_s += 1,
    ] {
        assert_eq!(wrong(besides(alter)), wrong(None));
    }
}

/// A nonce that was used before would let an old answer pass.
#[test]
fn a_nonce_is_used_once() {
    let mut archive = Archive::in_memory().unwrap();
    let (_, proof, line) = pull(&mut archive, FaultyLink::new(toy()), 1);
    assert!(matches!(proof, Ok(Proof::True(_))));
    let (_, proof, _) = pull(&mut archive, line, 1);
    let Ok(Proof::Alarm(Finding::Untrue { why, .. })) = proof else { panic!("{proof:?}") };
    assert_eq!(why, Untrue::NonceUsed);
}

/// The archive was altered between two pulls: the attestation that was kept tells.
#[test]
fn an_earlier_attestation_guards_what_is_held() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("archive.sqlite");
    let mut archive = Archive::create(&path).unwrap();
    let mut logger = toy();
    logger.sample(600, 1);
    let (_, proof, mut line) = pull(&mut archive, FaultyLink::new(logger), 1);
    let Ok(Proof::True(kept)) = proof else { panic!("{proof:?}") };
    // Somebody changes the attestation's boot in the file, and the log has gone on.
    drop(archive);
    let db = rusqlite::Connection::open(&path).unwrap();
    assert_eq!(db.execute("UPDATE attestations SET digest = zeroblob(32)", []).unwrap(), 1);
    drop(db);
    let mut archive = Archive::open(&path).unwrap();
    line.logger.sample(10, 1);
    let (_, proof, _) = pull(&mut archive, line, 2);
    let Ok(Proof::Alarm(Finding::Untrue { why, .. })) = proof else { panic!("{proof:?}") };
    let Attestation { open_block: block, open_len: len, .. } = kept.attestation;
    let mismatch = Mismatch::Digest { block, len };
    assert_eq!(why, Untrue::EarlierDiffers { ago_s: 1, mismatch });
}

/// Whatever befalls the frames, the signature comes through; when it does not, the pulled log stays.
#[test]
fn a_line_with_faults_costs_repetitions_and_nothing_else() {
    let faults = Faults { dropped: 60, doubled: 30, flipped: 30, cut: 30, noisy: 30, late: 10 };
    let (mut hit, mut taken) = (0, 0);
    for seed in 0..200 {
        let mut archive = Archive::in_memory().unwrap();
        let mut link = Link::new(FaultyLink::with_faults(toy(), Faults::default(), seed), 7);
        let mut report = link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap();
        let mut line = link.into_port();
        line.faults = faults;
        line.logger.late_samples = 3;
        let mut link = Link::new(line, 9);
        let proof = link.prove(&mut archive, &mut report, NOW_S, [1; 16], &mut NoProgress);
        let line = link.into_port();
        match proof {
            Ok(Proof::True(kept)) => {
                assert_eq!(archive.attestations(line.logger.id).unwrap(), [*kept]);
                taken += 1;
            }
            Err(PullError::Link(LinkError::NoReply { .. } | LinkError::Log { .. })) => {
                assert_eq!(archive.attestations(line.logger.id).unwrap(), []);
            }
            // The line was so bad that the pull gave the rest up, and says so.
            Ok(Proof::Unfinished(Mismatch::NotHeld { .. })) => {
                assert!(matches!(report.findings[..], [Finding::BadBlock { .. }]), "seed {seed}");
                assert_eq!(archive.attestations(line.logger.id).unwrap(), []);
                report.findings.clear();
            }
            other => panic!("seed {seed}: {other:?}"),
        }
        let held = archive.blocks(line.logger.id).unwrap();
        assert!(line.logger.blocks[&0].starts_with(&held[0].bytes), "seed {seed}");
        assert_eq!(report.findings, [], "seed {seed}");
        hit += line.hit;
    }
    assert!(hit > 200 && taken >= 198, "{hit} faults, {taken} of 200 signed");
}

#[test]
fn a_logger_that_falls_silent_leaves_the_pulled_log() {
    let mut archive = Archive::in_memory().unwrap();
    let mut link = Link::new(FaultyLink::new(toy()), 7);
    let mut report = link.pull(&mut archive, NOW_S, &mut NoProgress).unwrap();
    let mut line = link.into_port();
    line.faults.dropped = 1000;
    let mut link = Link::new(line, 9);
    let proof = link.prove(&mut archive, &mut report, NOW_S, [1; 16], &mut NoProgress);
    assert!(matches!(proof, Err(PullError::Link(LinkError::NoReply { .. }))), "{proof:?}");
    assert_eq!(archive.attestations(report.identity.logger).unwrap(), []);
    assert_eq!(archive.blocks(report.identity.logger).unwrap().len(), 1);
    assert_eq!(report.findings, []);
}
