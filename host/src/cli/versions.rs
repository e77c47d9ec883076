//! What `--version` tells: the program, and each format that it reads or writes.

use crate::{archive, export, job, record, view};
use glueday_types::header::FORMAT_VERSION;
use glueday_types::wire::{WIRE_VERSION, WIRE_VERSION_MIN};
use std::fmt::Write as _;

/// Behind the name of the program.
pub(super) fn text() -> String {
    let mut text = env!("CARGO_PKG_VERSION").to_owned();
    let formats = [
        ("log", span(1, FORMAT_VERSION.into()), "blocks on flash, in archives and in records"),
        ("wire", span(WIRE_VERSION_MIN.into(), WIRE_VERSION.into()), "between host and logger"),
        ("archive", span(1, archive::SCHEMA), "older ones are brought up when written to"),
        ("job", job::SCHEMA.to_string(), "schema of a job as JSON"),
        ("report", view::json::SCHEMA.to_string(), "schema of `check --json`"),
        ("record", record::manifest::SCHEMA.to_string(), "schema of record.json"),
        ("export", export::SCHEMA.to_string(), "columns of tables"),
    ];
    for (name, version, what) in formats {
        let _ = write!(text, "\n{name:<8} {version:<7} {what}");
    }
    text
}

/// All versions that are known.
fn span(from: u32, to: u32) -> String {
    if from == to { to.to_string() } else { format!("{from} to {to}") }
}
