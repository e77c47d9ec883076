//! The assessment that a record bears beside the one that its evidence gives, figure by figure.

use super::{Fault, Given, Report};
use crate::record::files::{ASSESSMENT, File, Unreadable};
use serde_json::Value;

/// What of a requirement is compared. The rest is words, which change with the version.
const FIGURES: [&str; 8] =
    ["outcome", "observed", "limit", "margin", "guard", "unit", "limit_id", "clears_at"];

/// Compares the assessments, and says how many requirements that were.
pub(super) fn compare(
    given: &Given<'_>,
    written: &[File],
    version: &str,
    report: &mut Report,
) -> Option<usize> {
    let made = &written.iter().find(|file| file.name == ASSESSMENT)?.bytes;
    let found: Value = serde_json::from_slice(made).ok()?;
    let held = given.files.get(ASSESSMENT)?;
    match serde_json::from_slice::<Value>(held) {
        Ok(said) => {
            let mut comparison = Comparison { version, faults: Vec::new(), requirements: 0 };
            comparison.documents(&said, &found);
            report.contradicted.extend(comparison.faults);
            Some(comparison.requirements)
        }
        Err(error) => {
            let (name, problem) = (ASSESSMENT.to_owned(), error.to_string());
            let error = Unreadable::Content { name, problem };
            report.contradicted.push(Fault::Unreadable { error });
            None
        }
    }
}

/// What the record says beside what is found.
struct Comparison<'a> {
    /// About other versions, or nothing.
    version: &'a str,
    faults: Vec<Fault>,
    requirements: usize,
}

impl Comparison<'_> {
    fn documents(&mut self, said: &Value, found: &Value) {
        if of(said, "verdict") != of(found, "verdict") {
            self.faults.push(Fault::Verdict {
                file: ASSESSMENT,
                said: plain(of(said, "verdict")),
                found: plain(of(found, "verdict")),
                version: self.version.to_owned(),
            });
        }
        for key in ["schema", "step", "at", "earliest_go"] {
            self.other(key, of(said, key), of(found, key));
        }
        let (said, found) = (list(said, "zones"), list(found, "zones"));
        self.other("rooms", &each(said, "name"), &each(found, "name"));
        for (said, found) in said.iter().zip(found) {
            self.rooms(said, found);
        }
    }

    fn rooms(&mut self, said: &Value, found: &Value) {
        let room = plain(of(found, "name"));
        for key in ["verdict", "earliest_go"] {
            self.other(&format!("room {room}, {key}"), of(said, key), of(found, key));
        }
        let (said, found) = (list(said, "requirements"), list(found, "requirements"));
        self.other(&format!("room {room}, requirements"), &each(said, "id"), &each(found, "id"));
        self.requirements += found.len();
        for (said, found) in said.iter().zip(found) {
            let differs = FIGURES.iter().any(|key| of(said, key) != of(found, key));
            if of(said, "id") == of(found, "id") && differs {
                self.faults.push(Fault::Requirement {
                    room: room.clone(),
                    requirement: plain(of(found, "id")),
                    said: words(said),
                    found: words(found),
                    version: self.version.to_owned(),
                });
            }
        }
    }

    fn other(&mut self, place: &str, said: &Value, found: &Value) {
        if said != found {
            self.faults.push(Fault::Assessment {
                place: format!("{ASSESSMENT}, {place}"),
                said: plain(said),
                found: plain(found),
                version: self.version.to_owned(),
            });
        }
    }
}

/// A field; null when there is none.
fn of<'a>(value: &'a Value, key: &str) -> &'a Value {
    value.get(key).unwrap_or(&Value::Null)
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    of(value, key).as_array().map_or(&[], Vec::as_slice)
}

/// One field of each.
fn each(items: &[Value], key: &str) -> Value {
    items.iter().map(|item| of(item, key).clone()).collect()
}

/// A value without quotation marks.
fn plain(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// Outcome and figures of a requirement in words.
fn words(requirement: &Value) -> String {
    let mut text = plain(of(requirement, "outcome"));
    let unit = match of(requirement, "unit").as_str() {
        Some("degC") => " °C".to_owned(),
        Some(unit) => format!(" {unit}"),
        None => String::new(),
    };
    for key in ["observed", "limit", "margin", "guard"] {
        if !of(requirement, key).is_null() {
            text.push_str(&format!(", {key} {}{unit}", plain(of(requirement, key))));
        }
    }
    if !of(requirement, "clears_at").is_null() {
        text.push_str(&format!(", clears at {}", plain(of(requirement, "clears_at"))));
    }
    text
}
