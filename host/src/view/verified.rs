//! What a check of a record came to, for people and for programs.

use super::page::Page;
use crate::record::verify::{Fault, LIMITS_OF_TRUST, Open, Proof, Report, Who};
use serde::Serialize;
use std::fmt::Display;

/// Version of the JSON document; raised when a field changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

/// The report as text of so many columns. `name` is what was verified.
#[must_use]
pub fn text(report: &Report, name: &str, width: usize) -> String {
    let mut page = Page::new(width);
    let count = report.contradicted.len();
    page.heading(&match count {
        0 => "Nothing in this record is contradicted.".to_owned(),
        1 => "This record does not hold: one thing is contradicted.".to_owned(),
        _ => format!("This record does not hold: {count} things are contradicted."),
    });
    page.text(0, bottom_line(report));
    page.gap();
    let manifest = &report.manifest;
    let rooms =
        if manifest.rooms.is_empty() { "all".to_owned() } else { manifest.rooms.join(", ") };
    page.pairs(
        0,
        &[
            ("record", name.to_owned()),
            ("says", format!("{} for {} at {}", manifest.verdict, manifest.step, manifest.at)),
            ("rooms", rooms),
            ("made by", manifest.program.clone()),
        ],
    );
    list(&mut page, "Contradicted", &report.contradicted);
    list(&mut page, "Not proven", &report.open);
    list(&mut page, "Proven", &report.proven);
    list(&mut page, "What this check cannot show", &LIMITS_OF_TRUST);
    page.out
}

/// What it comes to for somebody who reads no further.
fn bottom_line(report: &Report) -> &'static str {
    if !report.holds() {
        return "Do not rely on it. Ask whoever made it for the record as it was made, and for the \
                logger.";
    }
    let is_open = |asked: fn(&Open) -> bool| report.open.iter().any(asked);
    let is_signed = |proof: &Proof| matches!(proof, Proof::Signed { .. });
    let by_record = |proof: &Proof| matches!(proof, Proof::Signed { who: Who::Record, .. });
    if !report.proven.iter().any(is_signed) {
        "That does not show who made it: no logger signed any of it, so that all of it could have \
         been written by hand."
    } else if report.proven.iter().any(by_record) {
        "That alone does not show who made it: compare the key with the one that was noted when the \
         logger was adopted. Until then somebody could have made all of it."
    } else if is_open(|open| matches!(open, Open::Unsigned { .. } | Open::ImportOrigin { .. })) {
        "What was signed is from a logger whose key you know; not all logs are signed."
    } else {
        "What was signed is from a logger whose key you know."
    }
}

fn list(page: &mut Page, title: &str, items: &[impl Display]) {
    if items.is_empty() {
        return;
    }
    page.gap();
    page.heading(title);
    for item in items {
        page.labelled("- ", 2, &item.to_string());
    }
}

#[derive(Serialize)]
struct Document<'a> {
    schema: u32,
    record: &'a str,
    holds: bool,
    verdict: &'a str,
    step: &'a str,
    at: &'a str,
    rooms: &'a [String],
    program: &'a str,
    contradicted: Vec<Item>,
    not_proven: Vec<Item>,
    proven: Vec<Item>,
    limits_of_trust: [&'static str; LIMITS_OF_TRUST.len()],
}

#[derive(Serialize)]
struct Item {
    /// What kind of finding it is.
    id: &'static str,
    /// The finding in words.
    text: String,
}

/// The report as a JSON document, indented, without a newline at the end.
///
/// # Errors
/// Only what the JSON writer reports; it has no cause to with these types.
pub fn json(report: &Report, name: &str) -> Result<String, serde_json::Error> {
    let manifest = &report.manifest;
    let item = |id, text: String| Item { id, text };
    serde_json::to_string_pretty(&Document {
        schema: SCHEMA,
        record: name,
        holds: report.holds(),
        verdict: &manifest.verdict,
        step: &manifest.step,
        at: &manifest.at,
        rooms: &manifest.rooms,
        program: &manifest.program,
        contradicted: report.contradicted.iter().map(|f| item(fault(f), f.to_string())).collect(),
        not_proven: report.open.iter().map(|o| item(open(o), o.to_string())).collect(),
        proven: report.proven.iter().map(|p| item(proof(p), p.to_string())).collect(),
        limits_of_trust: LIMITS_OF_TRUST,
    })
}

fn proof(proof: &Proof) -> &'static str {
    match proof {
        Proof::Files { .. } => "files",
        Proof::Chain { .. } => "chain",
        Proof::Signed { .. } => "signed",
        Proof::Imported { .. } => "imported",
        Proof::Verdict { .. } => "verdict",
        Proof::Pages { .. } => "pages",
    }
}

fn open(open: &Open) -> &'static str {
    match open {
        Open::KeyFromRecord { .. } => "key-from-record",
        Open::KeyNotInArchive { .. } => "key-not-in-archive",
        Open::Unsigned { .. } => "unsigned",
        Open::BehindSignature { .. } => "behind-signature",
        Open::SignatureTime { .. } => "signature-time",
        Open::ImportOrigin { .. } => "import-origin",
        Open::BlocksBefore { .. } => "blocks-before",
        Open::Damaged { .. } => "damaged",
        Open::UnknownEntries { .. } => "unknown-entries",
        Open::Undated { .. } => "undated",
        Open::OtherCopy { .. } => "other-copy",
        Open::NoLog { .. } => "no-log",
        Open::LogUnused { .. } => "log-unused",
        Open::OtherVersion { .. } => "other-version",
        Open::NoPages => "no-pages",
        Open::NotChecked => "not-checked",
    }
}

fn fault(fault: &Fault) -> &'static str {
    match fault {
        Fault::FileMissing { .. } => "file-missing",
        Fault::FileAdded { .. } => "file-added",
        Fault::Length { .. } => "length",
        Fault::Digest { .. } => "digest",
        Fault::Seal => "seal",
        Fault::NotAsWritten { .. } => "not-as-written",
        Fault::Unreadable { .. } => "unreadable",
        Fault::Header { .. } => "header",
        Fault::OtherLogger { .. } => "other-logger",
        Fault::BlocksMissing { .. } => "blocks-missing",
        Fault::Order { .. } => "order",
        Fault::Chain { .. } => "chain",
        Fault::Before { .. } => "before",
        Fault::EntryNumber { .. } => "entry-number",
        Fault::Signature { .. } => "signature",
        Fault::SignedOther { .. } => "signed-other",
        Fault::Replayed { .. } => "replayed",
        Fault::NoKey { .. } => "no-key",
        Fault::OtherKey { .. } => "other-key",
        Fault::KeyTakenOut { .. } => "key-taken-out",
        Fault::KeyUnused { .. } => "key-unused",
        Fault::Import { .. } => "import",
        Fault::ImportId { .. } => "import-id",
        Fault::ImportUnreadable { .. } => "import-unreadable",
        Fault::NoCase { .. } => "no-case",
        Fault::Verdict { .. } => "verdict",
        Fault::Requirement { .. } => "requirement",
        Fault::Assessment { .. } => "assessment",
        Fault::Pages { .. } => "pages",
        Fault::NotDrawn { .. } => "not-drawn",
    }
}
