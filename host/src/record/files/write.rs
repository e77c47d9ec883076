//! Evidence to files.

use super::{ASSESSMENT, File, JOB, MANIFEST, blocks_name, hex, original_name, sha256};
use crate::archive::StoredAttestation;
use crate::assess::Assessment;
use crate::record::evidence::{Evidence, Log};
use crate::record::manifest::{
    CopyEntry, FileEntry, LogEntry, Manifest, OriginalEntry, SCHEMA, SignatureEntry,
};
use crate::view;
use crate::view::utc_time;

/// The files of a record, the manifest first. `assessment` is the one that the evidence gives.
///
/// # Errors
/// Only what the JSON reader and writer report: the mapping of an imported file is no JSON.
pub fn write(evidence: &Evidence, assessment: &Assessment) -> Result<Vec<File>, serde_json::Error> {
    let mut files = vec![
        file(JOB, "application/toml", "the job file", evidence.job_text.clone().into_bytes()),
        json(ASSESSMENT, "the verdict and each requirement", view::json::check(assessment)? + "\n"),
    ];
    let logs = evidence
        .logs
        .iter()
        .map(|log| log_files(log, &mut files))
        .collect::<Result<Vec<_>, _>>()?;
    let mut manifest = Manifest {
        schema: SCHEMA,
        program: evidence.program.clone(),
        step: evidence.step.as_str().to_owned(),
        at: utc_time(evidence.at_s),
        rooms: evidence.rooms.clone(),
        verdict: if assessment.is_go() { "go" } else { "wait" }.to_owned(),
        logs,
        files: files.iter().map(entry).collect(),
        sha256: String::new(),
    };
    manifest.sha256 = manifest.seal()?;
    files.insert(0, json(MANIFEST, "what this record holds, with digests", manifest.to_text()?));
    Ok(files)
}

fn log_files(log: &Log, files: &mut Vec<File>) -> Result<LogEntry, serde_json::Error> {
    let label = log.label();
    let blocks = blocks_name(log);
    files.push(file(
        &blocks,
        "application/octet-stream",
        format!("the log of {label}, as it was written"),
        log.blocks.concat(),
    ));
    let signatures = if log.attestations.is_empty() {
        None
    } else {
        let name = super::signatures_name(log);
        let entries: Vec<_> = log.attestations.iter().map(signature).collect();
        let text = serde_json::to_string_pretty(&entries)? + "\n";
        files.push(json(&name, format!("signatures of {label}"), text));
        Some(name)
    };
    let original = match &log.original {
        None => None,
        Some(original) => {
            let name = original_name(log);
            let what = format!("the imported file {}", original.file_name);
            files.push(file(&name, "text/csv", what, original.bytes.clone()));
            Some(OriginalEntry {
                file_name: original.file_name.clone(),
                file: name,
                mapping: serde_json::from_str(&original.mapping)?,
            })
        }
    };
    let mut other_copies = Vec::new();
    for (index, copy) in log.other_copies.iter().enumerate() {
        let name = format!("copy-{}-{}-{index}.bin", log.logger, copy.number);
        let what = format!("another copy of block {} of {label}", copy.number);
        files.push(file(&name, "application/octet-stream", what, copy.bytes.clone()));
        let seen = utc_time(copy.seen_s);
        other_copies.push(CopyEntry { block: copy.number, seen, file: name });
    }
    Ok(LogEntry {
        logger: log.logger.to_string(),
        name: log.name.clone(),
        public_key: log.public_key.map(|key| hex(&key)),
        blocks,
        signatures,
        original,
        other_copies,
    })
}

fn signature(stored: &StoredAttestation) -> SignatureEntry {
    let it = &stored.attestation;
    SignatureEntry {
        taken: utc_time(stored.taken_s),
        nonce: hex(&stored.nonce),
        open_block: it.open_block,
        open_len: it.open_len,
        boot: it.boot,
        uptime_s: it.uptime_s,
        digest: hex(&it.digest),
        signature: hex(&it.signature_r) + &hex(&it.signature_s),
    }
}

fn file(name: &str, media_type: &'static str, what: impl Into<String>, bytes: Vec<u8>) -> File {
    File { name: name.to_owned(), media_type, what: what.into(), bytes }
}

fn json(name: &str, what: impl Into<String>, text: String) -> File {
    file(name, "application/json", what, text.into_bytes())
}

fn entry(file: &File) -> FileEntry {
    let bytes = u64::try_from(file.bytes.len()).unwrap_or(u64::MAX);
    FileEntry { name: file.name.clone(), bytes, sha256: sha256(&file.bytes) }
}
