//! What a forger could change who makes a whole record anew, each with its own message.

use crate::site::{
    self, PLAN, Plan, attestation, bath, bath_of, blocks, ends, hall, hall_of, write,
};
use glueday::record::Evidence;
use glueday::record::verify::Open;

type Forgery = fn(&mut Evidence);

/// What a forger changes who then writes all the files anew, verdict and digests included.
const FORGERIES: &[(&str, Forgery, &[&str])] = &[
    (
        "readings changed in a log that is chained anew",
        |e| {
            let plan = Plan { warmer: 50, ..PLAN };
            hall_of(e).blocks = blocks(&plan);
        },
        &[
            "signature 1 of hall logger (68616c6c2d6c6f67) is true, and not over this log: the first ",
        ],
    ),
    (
        "a block 0 that follows something",
        |e| {
            *hall_of(e) = hall(&Plan { root: [9; 32], ..PLAN });
        },
        &["log of hall logger (68616c6c2d6c6f67): block 0 names a block before it"],
    ),
    (
        "entries taken out between blocks",
        |e| {
            *hall_of(e) = hall(&Plan { skipped: 5, ..PLAN });
        },
        &["block 2 begins with entry 55, and 50 would be next; entries were taken out or put in"],
    ),
    (
        "an older signature in the place of the newest, as if it were new",
        |e| {
            let log = hall_of(e);
            let taken_s = log.attestations[1].taken_s;
            log.attestations.remove(1);
            log.attestations[0].taken_s = taken_s;
        },
        &[
            "when signature 1 of hall logger (68616c6c2d6c6f67) was taken: the record says 2026-03-04T04:45:00Z, and by the clock of its own log the logger signed at 2026-03-03T12:15:00Z",
            "entries of hall logger (68616c6c2d6c6f67), since 2026-03-03T12:10:00Z: they were written after the last signature",
        ],
    ),
    (
        "an older signature shown again",
        |e| {
            let log = hall_of(e);
            let mut again = log.attestations[0];
            again.taken_s += 3 * 86_400;
            log.attestations.push(again);
        },
        &["signatures 1 and 3 of hall logger (68616c6c2d6c6f67) answer the same question"],
    ),
    (
        "signatures in another order",
        |e| hall_of(e).attestations.swap(0, 1),
        &[
            "signature 2 of hall logger (68616c6c2d6c6f67) is true, and not over this log: it goes up to block 2",
        ],
    ),
    (
        "all signatures taken out",
        |e| {
            hall_of(e).attestations.clear();
        },
        &[
            "that the log of hall logger (68616c6c2d6c6f67) is as a logger wrote it: it is not signed",
        ],
    ),
    (
        "signatures and key taken out",
        |e| {
            let log = hall_of(e);
            log.attestations.clear();
            log.public_key = None;
        },
        &[
            "that the log of hall logger (68616c6c2d6c6f67) is as a logger wrote it: it is not signed",
        ],
    ),
    (
        "a key that is none",
        |e| hall_of(e).public_key = Some([0; 32]),
        &[
            "is not valid under the key that the record itself names: these bytes are no Ed25519 public key",
        ],
    ),
    (
        "a signature of another logger's log",
        |e| {
            let other = Plan { logger: glueday_types::LoggerId(*b"otherlog"), ..PLAN };
            let blocks = blocks(&other);
            hall_of(e).attestations[1] = attestation(&other, &blocks, (3, 100), (2, 1));
        },
        &["signature 2 of hall logger (68616c6c2d6c6f67) is not valid under the key"],
    ),
    (
        "the imported file changed",
        |e| {
            let original = bath_of(e).original.as_mut().unwrap();
            let place = original.bytes.iter().rposition(|byte| *byte == b'5').unwrap();
            original.bytes[place] = b'6';
        },
        &[
            "log of bath file (",
            "its id is not that of the imported file bath.csv with its mapping",
        ],
    ),
    (
        "the mapping changed",
        |e| {
            let original = bath_of(e).original.as_mut().unwrap();
            original.mapping = original.mapping.replace("slab=3[C]", "slab=2[C]");
        },
        &["its imported file cannot be read again: "],
    ),
    (
        "the unit in the mapping changed",
        |e| {
            let original = bath_of(e).original.as_mut().unwrap();
            original.mapping = original.mapping.replace("air=2[C]", "air=2[F]");
        },
        &["its id is not that of the imported file bath.csv with its mapping, which is "],
    ),
    (
        "another log under the id of the imported file",
        |e| {
            let log = bath_of(e);
            let mut forged = bath(1).blocks.concat();
            let mut header = glueday_types::Header::from_bytes(&forged).unwrap();
            header.logger = log.logger;
            forged.splice(..64, header.to_bytes());
            log.blocks = vec![forged];
        },
        &["from block 0 on it is not what the imported file bath.csv gives"],
    ),
    (
        "the imported file taken out",
        |e| bath_of(e).original = None,
        &["that the log of bath file (", "is as a logger wrote it: it is not signed"],
    ),
    (
        "bytes of the open block behind the last signature changed",
        |e| {
            let block = hall_of(e).blocks.last_mut().unwrap();
            let place = block.len() - 5;
            block[place] ^= 4;
        },
        &[
            "what stood in bytes ",
            "of block 3 of hall logger (68616c6c2d6c6f67): they cannot be read",
        ],
    ),
    (
        "the beginning of a log left out",
        |e| {
            hall_of(e).blocks.remove(0);
        },
        &[
            "what was before block 1 of hall logger (68616c6c2d6c6f67): earlier blocks are not in the record",
        ],
    ),
    (
        "a log left out",
        |e| e.logs.retain(|log| log.original.is_none()),
        &["anything about the room Bath: no log of it is in the record"],
    ),
    (
        "a log that no room refers to",
        |e| bath_of(e).name = Some("attic".to_owned()),
        &["what the log of attic (", "is for: no room that was asked about refers to it"],
    ),
    (
        "another copy of a block",
        |e| {
            let log = hall_of(e);
            let bytes = log.blocks[1].clone();
            log.other_copies.push(glueday::record::CopyOfBlock { number: 1, bytes, seen_s: 0 });
        },
        &["which copy of block 1 of hall logger (68616c6c2d6c6f67) is the true one"],
    ),
    (
        "another version named",
        |e| e.program = "glueday 0.0.9".to_owned(),
        &[
            "that the pages show this: they were not compared, because the record says it was made by glueday 0.0.9",
        ],
    ),
];

#[test]
fn each_forgery_has_its_message() {
    for (what, forge, expected) in FORGERIES {
        let mut evidence = site::rich();
        let sound = evidence.clone();
        forge(&mut evidence);
        assert_ne!(evidence, sound, "{what}");
        let files = write(&evidence);
        // Pages are drawn anew as well, so that nothing but the forgery itself can tell.
        let pdf = site::draw(&evidence).unwrap();
        let report = site::report_pdf(&files, &pdf, glueday::record::PROGRAM);
        let told: Vec<String> =
            report.open.iter().map(Open::to_string).chain(site::faults(&report)).collect();
        for words in *expected {
            assert!(told.iter().any(|text| text.contains(words)), "{what}: {told:#?}");
        }
        let without: Vec<String> = site::report_pdf(
            &write(&sound),
            &site::draw(&sound).unwrap(),
            glueday::record::PROGRAM,
        )
        .open
        .iter()
        .map(Open::to_string)
        .collect();
        let is_new = |words: &&&str| !without.iter().any(|text| text.contains(**words));
        assert!(expected.iter().filter(is_new).count() > 0, "{what}: told of a sound record too");
    }
}

#[test]
fn a_sound_record_is_proven() {
    let evidence = site::rich();
    let files = write(&evidence);
    let report =
        site::report_pdf(&files, &site::draw(&evidence).unwrap(), glueday::record::PROGRAM);
    let proven: Vec<String> = report.proven.iter().map(ToString::to_string).collect();
    // Four blocks of 24 samples, a boot and a clock sync; the last three entries are not signed.
    for words in [
        "the 6 files inside are those that record.json lists",
        "blocks 0 to 3, 98 entries",
        "the logger hall logger (68616c6c2d6c6f67) signed it: 2 Ed25519 signatures",
        "covers 95 of 98 entries, up to block 3, byte ",
        "is what the imported file bath.csv gives, made from it anew: 40 rows",
        "the verdict \"wait\" follows from the job and the logs",
        "drawn anew, the PDF is the same in all ",
    ] {
        assert!(proven.iter().any(|proof| proof.contains(words)), "{words}: {proven:#?}");
    }
    let open: Vec<String> = report.open.iter().map(ToString::to_string).collect();
    assert_eq!(open.len(), 3, "{open:#?}");
    let last = "the last 3 entries of hall logger (68616c6c2d6c6f67), since 2026-03-04T04:40:00Z";
    assert!(open.iter().any(|text| text.starts_with(last)), "{open:#?}");
    assert!(report.holds());
}

#[test]
fn signed_bytes_end_where_entries_do() {
    let log = hall(&PLAN);
    let last = &log.attestations[1].attestation;
    assert!(ends(&log.blocks[3]).contains(&usize::from(last.open_len)));
}
