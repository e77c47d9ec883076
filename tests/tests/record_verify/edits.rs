//! What somebody could change in the files of a record, each with its own message. A forger who is
//! said to repair the manifest makes all its digests right again.

use crate::site::{self, Files, HALL, repair, seal, write};
use glueday::record::verify::Trust;
use glueday::record::{Manifest, files};

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
