//! Files back to evidence.

use super::{JOB, MANIFEST};
use crate::archive::StoredAttestation;
use crate::assess::Step;
use crate::record::evidence::{CopyOfBlock, Evidence, Log, Original};
use crate::record::manifest::{LogEntry, Manifest, SCHEMA, SignatureEntry};
use glueday_types::wire::Attestation;
use glueday_types::{BLOCK_LEN, LoggerId};
use std::collections::BTreeMap;

/// Why the files are not read as a record.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// A file that every record has, or that the manifest speaks of, is not there.
    #[error("the record has no file {name}")]
    Missing {
        /// Its name.
        name: String,
    },
    /// The manifest was made by a newer program.
    #[error("{MANIFEST} has schema {schema}; this program reads up to {SCHEMA}: use a newer one")]
    Newer {
        /// Its schema.
        schema: u32,
    },
    /// A file is not what it should be.
    #[error("{name}: {problem}")]
    Content {
        /// Its name.
        name: String,
        /// What is wrong, and where.
        problem: String,
    },
}

/// The manifest and the evidence that files hold. Digests are not compared here: that is for whoever
/// wants to know each one that differs.
///
/// # Errors
/// See [`Unreadable`].
pub fn read(files: &BTreeMap<String, Vec<u8>>) -> Result<(Manifest, Evidence), Unreadable> {
    let manifest = read_manifest(files)?;
    let evidence = read_evidence(&manifest, files)?;
    Ok((manifest, evidence))
}

/// The manifest alone.
///
/// # Errors
/// See [`Unreadable`].
pub fn read_manifest(files: &BTreeMap<String, Vec<u8>>) -> Result<Manifest, Unreadable> {
    manifest(get(files, MANIFEST)?)
}

/// The evidence that a manifest speaks of.
///
/// # Errors
/// See [`Unreadable`].
pub fn read_evidence(
    manifest: &Manifest,
    files: &BTreeMap<String, Vec<u8>>,
) -> Result<Evidence, Unreadable> {
    let bad = |problem: String| Unreadable::Content { name: MANIFEST.to_owned(), problem };
    let step = Step::from_name(&manifest.step)
        .ok_or_else(|| bad(format!("`{}` is no step of the work", manifest.step)))?;
    let at_s = time(&manifest.at).map_err(&bad)?;
    let job_text = String::from_utf8(get(files, JOB)?.to_vec()).map_err(|error| {
        let problem = format!("byte {} is not UTF-8", error.utf8_error().valid_up_to());
        Unreadable::Content { name: JOB.to_owned(), problem }
    })?;
    let logs = manifest.logs.iter().map(|entry| log(entry, files)).collect::<Result<_, _>>()?;
    Ok(Evidence {
        program: manifest.program.clone(),
        job_text,
        step,
        at_s,
        rooms: manifest.rooms.clone(),
        logs,
    })
}

fn get<'a>(files: &'a BTreeMap<String, Vec<u8>>, name: &str) -> Result<&'a [u8], Unreadable> {
    let found = files.get(name).map(Vec::as_slice);
    found.ok_or_else(|| Unreadable::Missing { name: name.to_owned() })
}

fn manifest(bytes: &[u8]) -> Result<Manifest, Unreadable> {
    #[derive(serde::Deserialize)]
    struct Version {
        schema: u32,
    }
    let bad = |error: serde_json::Error| Unreadable::Content {
        name: MANIFEST.to_owned(),
        problem: error.to_string(),
    };
    let version: Version = serde_json::from_slice(bytes).map_err(bad)?;
    if version.schema > SCHEMA {
        return Err(Unreadable::Newer { schema: version.schema });
    }
    serde_json::from_slice(bytes).map_err(bad)
}

fn log(entry: &LogEntry, files: &BTreeMap<String, Vec<u8>>) -> Result<Log, Unreadable> {
    let bad = |problem: String| Unreadable::Content { name: MANIFEST.to_owned(), problem };
    let logger: LoggerId =
        entry.logger.parse().map_err(|error| bad(format!("`{}`: {error}", entry.logger)))?;
    let public_key = match &entry.public_key {
        Some(text) => Some(unhex::<32>(text).map_err(&bad)?),
        None => None,
    };
    let blocks = get(files, &entry.blocks)?.chunks(BLOCK_LEN).map(<[u8]>::to_vec).collect();
    let attestations = match &entry.signatures {
        Some(name) => signatures(logger, name, get(files, name)?)?,
        None => Vec::new(),
    };
    let original = match &entry.original {
        Some(original) => Some(Original {
            file_name: original.file_name.clone(),
            bytes: get(files, &original.file)?.to_vec(),
            mapping: original.mapping.to_string(),
        }),
        None => None,
    };
    let other_copies = entry
        .other_copies
        .iter()
        .map(|copy| {
            Ok(CopyOfBlock {
                number: copy.block,
                bytes: get(files, &copy.file)?.to_vec(),
                seen_s: time(&copy.seen).map_err(&bad)?,
            })
        })
        .collect::<Result<_, Unreadable>>()?;
    let name = entry.name.clone();
    Ok(Log { logger, name, public_key, blocks, attestations, original, other_copies })
}

fn signatures(
    logger: LoggerId,
    name: &str,
    bytes: &[u8],
) -> Result<Vec<StoredAttestation>, Unreadable> {
    let bad = |problem: String| Unreadable::Content { name: name.to_owned(), problem };
    let entries: Vec<SignatureEntry> =
        serde_json::from_slice(bytes).map_err(|error| bad(error.to_string()))?;
    let stored = |entry: &SignatureEntry| -> Result<StoredAttestation, String> {
        let signature = unhex::<64>(&entry.signature)?;
        let (r, s) = signature.split_at(32);
        Ok(StoredAttestation {
            logger,
            taken_s: time(&entry.taken)?,
            nonce: unhex(&entry.nonce)?,
            attestation: Attestation {
                open_block: entry.open_block,
                open_len: entry.open_len,
                boot: entry.boot,
                uptime_s: entry.uptime_s,
                digest: unhex(&entry.digest)?,
                signature_r: r.first_chunk().copied().unwrap_or([0; 32]),
                signature_s: s.first_chunk().copied().unwrap_or([0; 32]),
            },
        })
    };
    entries.iter().map(|entry| stored(entry).map_err(&bad)).collect()
}

/// RFC 3339 in UTC, to the second.
fn time(text: &str) -> Result<i64, String> {
    let time = text.parse::<jiff::Timestamp>();
    time.map(|time| time.as_second()).map_err(|error| format!("`{text}` is no time: {error}"))
}

/// Bytes from hexadecimal digits.
fn unhex<const N: usize>(text: &str) -> Result<[u8; N], String> {
    let problem = || format!("`{text}` is not {} hexadecimal digits", 2 * N);
    if text.len() != 2 * N || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return Err(problem());
    }
    let mut bytes = [0; N];
    for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
        let pair = std::str::from_utf8(pair).map_err(|_| problem())?;
        *byte = u8::from_str_radix(pair, 16).map_err(|_| problem())?;
    }
    Ok(bytes)
}
