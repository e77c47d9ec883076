//! Adds to a job file without touching anything else in it: every other byte stays as it is.
//!
//! The file is not written anew from what was understood of it. The place for the new lines is looked
//! up in the parsed document, and they are put in there; comments, order, spaces and line ends stay
//! by construction.

use super::JobErrors;
use super::model::{Channel, CheckMethod, Job, Probe};
use jiff::civil::Date;
use toml_edit::{ArrayOfTables, Document, Item, Table, Value};

/// A check to add.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewCheck {
    /// The day, in the site's time zone.
    pub date: Date,
    /// What the probe was checked against.
    pub method: CheckMethod,
    /// The known value with its unit.
    pub reference: String,
    /// What the probe read, with its unit.
    pub reading: String,
    /// Temperature of the jar, with its unit.
    pub temperature: Option<String>,
}

/// A job file with something added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edited {
    /// All of it.
    pub text: String,
    /// What was added, without the empty lines around it.
    pub added: String,
}

/// Why nothing can be added.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// The file has errors.
    #[error(transparent)]
    File(#[from] JobErrors),
    /// The probes or checks stand on one line.
    #[error(
        "{file}: `{key}` is written as a list in square brackets, to which nothing can be added without \
         rewriting it: write it as [[{heading}]] sections"
    )]
    OneLine {
        /// The file.
        file: String,
        /// The key.
        key: &'static str,
        /// How it should be written.
        heading: &'static str,
    },
    /// The file with the addition does not say what was meant.
    #[error("{file}: the check cannot be put in without changing what the rest of the file says")]
    Misread {
        /// The file.
        file: String,
    },
}

/// Adds a check to the probe of a channel in a room, `None` for a job without rooms. The probe's
/// section is made when there is none. `file` is only used in messages.
///
/// In a job of one room at most, a probe section without a room is that room's. In others it speaks of
/// several probes and cannot have a check of one of them: the room gets a section of its own, and its
/// `uncertainty` goes along, because the own section takes the place of the general one.
///
/// # Errors
/// [`EditError`]; the text that is handed out has been read again, and differs from the old in the
/// check alone.
pub fn add_check(
    text: &str,
    file: &str,
    room: Option<&str>,
    channel: Channel,
    check: &NewCheck,
) -> Result<Edited, EditError> {
    let job = Job::parse(text, file)?;
    let one_line = |key, heading| EditError::OneLine { file: file.to_owned(), key, heading };
    let document = Document::parse(text);
    // What the job reader took, this reader takes as well.
    let root = document.as_ref().ok().map(|document| document.as_table());
    let sections = match root.and_then(|root| root.get("probe")) {
        None => None,
        Some(Item::ArrayOfTables(sections)) => Some(sections),
        Some(_) => return Err(one_line("probe", "probe")),
    };
    let own = own_probe(&job, room, channel);
    let section = own.and_then(|index| sections?.get(index));
    if section
        .is_some_and(|section| !matches!(section.get("check"), None | Some(Item::ArrayOfTables(_))))
    {
        return Err(one_line("check", "probe.check"));
    }
    let after = section.map(end_of_table).or_else(|| sections.map(end_of_tables));
    let mut added = String::new();
    if section.is_none() {
        let general = job.probes.iter().position(|p| p.channel == channel && p.room.is_none());
        let uncertainty =
            general.and_then(|index| text.get(sections?.get(index)?.get("uncertainty")?.span()?));
        added.push_str("[[probe]]\n");
        if let Some(room) = room {
            added.push_str(&line("room", room));
        }
        added.push_str(&line("channel", channel_name(channel)));
        if let Some(uncertainty) = uncertainty {
            added.push_str(&format!("uncertainty = {uncertainty}\n"));
        }
        added.push('\n');
    }
    added.push_str(&check.to_toml());
    let edited = insert(text, after, added);
    let read = Job::parse(&edited.text, file)?;
    if says_only_more(&job, &read, room, channel, check) {
        Ok(edited)
    } else {
        Err(EditError::Misread { file: file.to_owned() })
    }
}

/// Which of the probes is the one of a channel in a room.
fn own_probe(job: &Job, room: Option<&str>, channel: Channel) -> Option<usize> {
    let of_channel = |probe: &&Probe| probe.channel == channel;
    let place = |of: Option<&str>| {
        job.probes.iter().position(|p| of_channel(&p) && p.room.as_deref() == of)
    };
    match place(room) {
        None if job.zones.len() <= 1 => place(None),
        found => found,
    }
}

impl NewCheck {
    /// The check as a section of a job file.
    #[must_use]
    pub fn to_toml(&self) -> String {
        let mut lines = format!("[[probe.check]]\ndate = {}\n", self.date);
        lines.push_str(&line("method", method_name(self.method)));
        lines.push_str(&line("reference", &self.reference));
        lines.push_str(&line("reading", &self.reading));
        if let Some(temperature) = &self.temperature {
            lines.push_str(&line("temperature", temperature));
        }
        lines
    }
}

/// One key with a text, quoted as TOML wants it.
fn line(key: &str, text: &str) -> String {
    format!("{key} = {}\n", Value::from(text))
}

/// A channel as the file names it.
pub(crate) const fn channel_name(channel: Channel) -> &'static str {
    match channel {
        Channel::Slab => "slab",
        Channel::Air => "air",
        Channel::Rh => "rh",
        Channel::Supply => "supply",
    }
}

/// A method as the file names it.
pub(crate) const fn method_name(method: CheckMethod) -> &'static str {
    match method {
        CheckMethod::Ice => "ice",
        CheckMethod::Salt => "salt",
        CheckMethod::Comparison => "comparison",
        CheckMethod::Certificate => "certificate",
    }
}

/// The end of the last thing that stands in a section or below it, its headings included.
fn end_of_table(table: &Table) -> usize {
    let own = table.span().map_or(0, |span| span.end);
    table.iter().map(|(_, item)| end_of_item(item)).fold(own, usize::max)
}

fn end_of_tables(tables: &ArrayOfTables) -> usize {
    tables.iter().map(end_of_table).fold(0, usize::max)
}

fn end_of_item(item: &Item) -> usize {
    match item {
        Item::None => 0,
        Item::Value(value) => value.span().map_or(0, |span| span.end),
        Item::Table(table) => end_of_table(table),
        Item::ArrayOfTables(tables) => end_of_tables(tables),
    }
}

/// Puts lines behind the line in which byte `after` stands, or at the end of the text, with an empty
/// line before and behind them.
fn insert(text: &str, after: Option<usize>, added: String) -> Edited {
    let rest_at = after
        .and_then(|after| Some(after + text.get(after..)?.find('\n')? + 1))
        .unwrap_or(text.len());
    let (before, rest) = text.split_at_checked(rest_at).unwrap_or((text, ""));
    let line_end = match text.find('\n').and_then(|at| text.get(..at)) {
        Some(first) if first.ends_with('\r') => "\r\n",
        _ => "\n",
    };
    let mut whole = before.to_owned();
    if !before.is_empty() && !before.ends_with('\n') {
        whole.push_str(line_end);
    }
    let blank = before.lines().next_back().is_none_or(|last| last.trim().is_empty());
    if !blank {
        whole.push_str(line_end);
    }
    whole.push_str(&added.replace('\n', line_end));
    if rest.lines().next().is_some_and(|next| !next.trim().is_empty()) {
        whole.push_str(line_end);
    }
    whole.push_str(rest);
    Edited { text: whole, added }
}

/// Whether two readings of a file differ by the check alone.
fn says_only_more(
    old: &Job,
    new: &Job,
    room: Option<&str>,
    channel: Channel,
    check: &NewCheck,
) -> bool {
    let mut probes = new.probes.clone();
    let Some(index) = own_probe(new, room, channel) else { return false };
    let made = old.probes.len() < new.probes.len();
    let Some(probe) = probes.get_mut(index) else { return false };
    let added = probe.checks.pop();
    let right = added.is_some_and(|added| added.date == check.date && added.method == check.method);
    if made {
        let empty = probe.checks.is_empty();
        probes.remove(index);
        return right && empty && probes == old.probes;
    }
    right && probes == old.probes
}

#[cfg(test)]
mod tests;
