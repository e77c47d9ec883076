//! What somebody could change in the files of a record, each with its own message. A forger who is
//! said to repair the manifest makes all its digests right again.

use crate::site::{
    self, Files, HALL, PLAN, Plan, attestation, bath, bath_of, blocks, ends, hall, hall_of, repair,
    seal, write,
};
use glueday::record::verify::{Open, Trust};
use glueday::record::{Evidence, Manifest, files};

/// Text of a file.
fn text(files: &Files, name: &str) -> String {
    String::from_utf8(files[name].clone()).unwrap()
}

/// Replaces the one place where `from` stands.
fn replace(files: &mut Files, name: &str, from: &str, to: &str) {
    let old = text(files, name);
    assert!(old.contains(from), "{name} has no {from}");
    files.insert(name.to_owned(), old.replacen(from, to, 1).into_bytes());
}

fn hall_name() -> String {
    format!("log-{HALL}.bin")
}

fn manifest(files: &Files) -> Manifest {
    serde_json::from_slice(&files[files::MANIFEST]).unwrap()
}

type Edit = fn(&mut Files);

/// Edit, whether the manifest is repaired behind it, and what must be told.
const FILE_EDITS: &[(&str, bool, Edit, &[&str])] = &[
    (
        "an attachment removed",
        false,
        |f| {
            f.remove(&hall_name());
        },
        &["log-68616c6c2d6c6f67.bin: the file is listed in record.json and is not there"],
    ),
    (
        "an attachment removed, repaired",
        true,
        |f| {
            f.remove(&hall_name());
        },
        &["the record has no file log-68616c6c2d6c6f67.bin"],
    ),
    (
        "an attachment added",
        false,
        |f| {
            f.insert("note.txt".to_owned(), b"all is well".to_vec());
        },
        &["note.txt: the file is not listed in record.json; it was added"],
    ),
    (
        "an attachment added, repaired",
        true,
        |f| {
            f.insert("note.txt".to_owned(), b"all is well".to_vec());
        },
        &["record.json: from byte "],
    ),
    (
        "an attachment renamed",
        false,
        |f| {
            let bytes = f.remove("job.toml").unwrap();
            f.insert("job2.toml".to_owned(), bytes);
        },
        &["job.toml: the file is listed", "job2.toml: the file is not listed"],
    ),
    (
        "a file truncated",
        false,
        |f| {
            f.get_mut(&hall_name()).unwrap().truncate(9000);
        },
        &["log-68616c6c2d6c6f67.bin: the file has 9000 bytes, and record.json says "],
    ),
    (
        "a byte changed",
        false,
        |f| {
            f.get_mut(&hall_name()).unwrap()[5000] ^= 1;
        },
        &["log-68616c6c2d6c6f67.bin: the file was changed: its SHA-256"],
    ),
    (
        "the verdict changed",
        false,
        |f| {
            replace(f, "record.json", "\"verdict\": \"wait\"", "\"verdict\": \"go\"");
        },
        &["record.json: it was changed: its SHA-256 is not the one that it bears"],
    ),
    (
        "the verdict changed, repaired",
        true,
        |f| {
            replace(f, "record.json", "\"verdict\": \"wait\"", "\"verdict\": \"go\"");
        },
        &["record.json says \"go\", and the job and the logs give \"wait\""],
    ),
    (
        "the verdict of the assessment changed, repaired",
        true,
        |f| {
            replace(f, "assessment.json", "\"verdict\": \"wait\"", "\"verdict\": \"go\"");
        },
        &["assessment.json says \"go\", and the job and the logs give \"wait\""],
    ),
    (
        "a requirement changed, repaired",
        true,
        |f| {
            replace(f, "assessment.json", "\"outcome\": \"no-evidence\"", "\"outcome\": \"met\"");
        },
        &["room Hall, requirement concrete-age: the record says met", "give no-evidence"],
    ),
    (
        "a requirement left out, repaired",
        true,
        |f| {
            let mut all: serde_json::Value = serde_json::from_slice(&f["assessment.json"]).unwrap();
            all["zones"][0]["requirements"].as_array_mut().unwrap().remove(0);
            let text = serde_json::to_string_pretty(&all).unwrap() + "\n";
            f.insert("assessment.json".to_owned(), text.into_bytes());
        },
        &["assessment.json, room Hall, requirements: the record says ["],
    ),
    (
        "words of the assessment changed, repaired",
        true,
        |f| {
            replace(f, "assessment.json", "\"because\": \"", "\"because\": \"not really: ");
        },
        &["assessment.json: from byte "],
    ),
    (
        "the assessment is no JSON, repaired",
        true,
        |f| {
            f.insert("assessment.json".to_owned(), b"{".to_vec());
        },
        &["assessment.json: EOF while parsing"],
    ),
    (
        "a limit changed in the job",
        false,
        |f| {
            f.get_mut("job.toml").unwrap().extend_from_slice(LIMIT);
        },
        &["job.toml: the file has "],
    ),
    (
        "a limit changed in the job, repaired",
        true,
        |f| {
            f.get_mut("job.toml").unwrap().extend_from_slice(LIMIT);
        },
        &[
            "requirement supply-max: the record says met, observed 32.",
            ", and the job and the logs give not-met, observed 32.",
            "limit 29.5 °C",
        ],
    ),
    (
        "the job of another record, repaired",
        true,
        |f| {
            let job = text(f, "job.toml").replace("Bath", "Kitchen");
            f.insert("job.toml".to_owned(), job.into_bytes());
        },
        &[
            "assessment.json, rooms: the record says [\"Hall\",\"Bath\"], and the job and the logs give [\"Hall\",\"Kitchen\"]",
        ],
    ),
    (
        "a job with errors, repaired",
        true,
        |f| {
            f.insert("job.toml".to_owned(), b"[site]\nnam = 1\n".to_vec());
        },
        &["no verdict follows from the job: job.toml"],
    ),
    (
        "a room that the job lacks, repaired",
        true,
        |f| {
            replace(f, "record.json", "\"rooms\": []", "\"rooms\": [\"Attic\"]");
        },
        &["no verdict follows from the job: the job has no room \"Attic\""],
    ),
    (
        "the time asked about changed, repaired",
        true,
        |f| {
            replace(f, "record.json", "\"at\": \"2026-03-04", "\"at\": \"2026-03-05");
        },
        &[
            "assessment.json, at: the record says 2026-03-04T06:00:00Z, and the job and the logs give 2026-03-05",
        ],
    ),
    (
        "the step changed, repaired",
        true,
        |f| {
            replace(f, "record.json", "\"step\": \"glue-down\"", "\"step\": \"traffic\"");
        },
        &[
            "assessment.json, step: the record says glue-down, and the job and the logs give traffic",
        ],
    ),
    (
        "two logs exchanged, repaired",
        true,
        |f| {
            let names: Vec<String> = f.keys().filter(|n| n.starts_with("log-")).cloned().collect();
            let (one, other) = (f[&names[0]].clone(), f[&names[1]].clone());
            f.insert(names[0].clone(), other);
            f.insert(names[1].clone(), one);
        },
        &[
            "log of hall logger (68616c6c2d6c6f67): what stands as its 1. block was written by logger ",
            "log of bath file (",
        ],
    ),
    (
        "a block taken out of the middle, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap().drain(4096..8192);
        },
        &["log of hall logger (68616c6c2d6c6f67): block 1 is missing; it was taken out"],
    ),
    (
        "two blocks taken out of the middle, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap().drain(4096..3 * 4096);
        },
        &["blocks 1 to 2 are missing; they were taken out"],
    ),
    (
        "the last block taken out, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap().truncate(3 * 4096);
        },
        &[
            "signature 2 of hall logger (68616c6c2d6c6f67) is true, and not over this log: it goes up to block 3, byte ",
            "the end of the log was taken out",
        ],
    ),
    (
        "the end of the last block cut off, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap().truncate(3 * 4096 + 100);
        },
        &["of which 100 bytes are held; the end of the log was taken out"],
    ),
    (
        "blocks exchanged, repaired",
        true,
        |f| {
            let log = f.get_mut(&hall_name()).unwrap();
            let second: Vec<u8> = log.drain(4096..8192).collect();
            log.splice(8192..8192, second);
        },
        &["block 1 stands behind block 2; blocks were exchanged or repeated"],
    ),
    (
        "a part of a block cut out, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap().drain(5000..5010);
        },
        &["what stands as its 3. block has no header that can be read (these bytes are no block)"],
    ),
    (
        "a header changed, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap()[4096 + 6] ^= 1;
        },
        &["what stands as its 2. block has no header that can be read (its CRC-32 does not fit)"],
    ),
    (
        "erased bytes of a sealed block written, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap()[8191] = 0;
        },
        &["block 1 was changed after it was sealed: block 2 names another SHA-256 for it"],
    ),
    (
        "a signed byte of the open block changed, repaired",
        true,
        |f| {
            f.get_mut(&hall_name()).unwrap()[3 * 4096 + 80] ^= 4;
        },
        &[
            "signature 2 of hall logger (68616c6c2d6c6f67) is true, and not over this log: the first ",
            "the log was changed after it was signed",
        ],
    ),
    (
        "a signature changed, repaired",
        true,
        |f| {
            let name = format!("signatures-{HALL}.json");
            let place = text(f, &name).find("\"signature\": \"").unwrap() + 20;
            let digit = &mut f.get_mut(&name).unwrap()[place];
            *digit = if *digit == b'0' { b'1' } else { b'0' };
        },
        &[
            "signature 1 of hall logger (68616c6c2d6c6f67) is not valid under the key that the record itself names",
        ],
    ),
    (
        "the bytes that were signed made fewer, repaired",
        true,
        |f| {
            replace(
                f,
                &format!("signatures-{HALL}.json"),
                "\"open_block\": 3",
                "\"open_block\": 2",
            );
        },
        &[
            "signature 2 of hall logger (68616c6c2d6c6f67) is not valid under the key that the record itself names",
        ],
    ),
    (
        "signatures written in another way, repaired",
        true,
        |f| {
            replace(f, &format!("signatures-{HALL}.json"), "\"boot\": 1", "\"boot\":  1");
        },
        &["signatures-68616c6c2d6c6f67.json: from byte "],
    ),
    (
        "signatures that are no JSON, repaired",
        true,
        |f| {
            f.insert(format!("signatures-{HALL}.json"), b"[{]".to_vec());
        },
        &["signatures-68616c6c2d6c6f67.json: key must be a string"],
    ),
    (
        "the key taken out, repaired",
        true,
        |f| {
            let mut manifest = manifest(f);
            for log in &mut manifest.logs {
                log.public_key = None;
            }
            seal(f, manifest);
        },
        &["log of hall logger (68616c6c2d6c6f67): it has signatures and names no key for them"],
    ),
    (
        "the manifest written in another way",
        false,
        |f| {
            replace(f, "record.json", "\"schema\": 1", "\"schema\":  1");
        },
        &["record.json: from byte 14 on it is not as glueday "],
    ),
];

/// A limit under what was observed.
const LIMIT: &[u8] =
    b"[[limit]]\nid = \"supply-max\"\nvalue = \"30 C\"\nreason = \"a wood that wants it\"\n";

#[test]
fn each_edit_of_files_has_its_message() {
    let original = write(&site::rich());
    let trust = Trust::default();
    let sound = site::report(&original, &trust);
    assert_eq!(site::faults(&sound), [""; 0]);
    for (what, repaired, edit, expected) in FILE_EDITS {
        let mut files = original.clone();
        edit(&mut files);
        assert_ne!(files, original, "{what}");
        if *repaired {
            repair(&mut files);
        }
        let report = site::report(&files, &trust);
        let faults = site::faults(&report);
        for words in *expected {
            assert!(faults.iter().any(|fault| fault.contains(words)), "{what}: {faults:#?}");
        }
        // Somebody who repairs the manifest is not told that it was changed.
        let digests = ["its SHA-256 is not the one", "record.json says 1"];
        let told = |fault: &&String| digests.iter().any(|words| fault.contains(words));
        assert!(!(*repaired && faults.iter().any(|fault| told(&fault))), "{what}: {faults:#?}");
    }
}

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
