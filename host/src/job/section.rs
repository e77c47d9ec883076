//! One table of a job file, read key by key.

use std::cell::RefCell;
use std::ops::Range;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::diagnose::{Sink, suggest};
use super::time::{Complaint, read_date, read_time, shown};
use crate::quantity::{Quantity, QuantityError};

/// A value and the byte offset at which it stands.
#[derive(Clone, Debug)]
pub(super) struct Placed<T> {
    pub(super) value: T,
    pub(super) at: usize,
}

/// The value without its place.
pub(super) fn bare<T: Clone>(placed: &Option<Placed<T>>) -> Option<T> {
    placed.as_ref().map(|placed| placed.value.clone())
}

/// A table that remembers which keys were asked for, so that the rest can be reported.
pub(super) struct Section<'a> {
    pub(super) sink: &'a Sink<'a>,
    /// "[site]", for messages.
    title: String,
    table: &'a DeTable<'a>,
    at: usize,
    known: RefCell<Vec<&'static str>>,
}

impl<'a> Section<'a> {
    /// The whole document.
    pub(super) fn root(sink: &'a Sink<'a>, table: &'a DeTable<'a>) -> Self {
        Self { sink, title: "the file".to_owned(), table, at: 0, known: RefCell::default() }
    }

    /// Reports every key that nobody asked for.
    pub(super) fn close(self) {
        let known = self.known.into_inner();
        for (key, _) in self.table {
            let name: &str = key.get_ref();
            if !known.contains(&name) {
                let problem = format!("unknown key `{name}` in {}", self.title);
                self.sink.report(key.span().start, problem, suggest(name, &known));
            }
        }
    }

    /// A text that is not empty.
    pub(super) fn text(&self, key: &'static str) -> Option<Placed<String>> {
        self.read(key, |value| match value.as_str().map(str::trim) {
            Some("") => {
                Err((format!("`{key}` is empty"), "fill it in, or remove the line".to_owned()))
            }
            Some(text) => Ok(text.to_owned()),
            None => Err((
                format!("`{key}` is {}, not a text", shown(value)),
                "write it in double quotes".to_owned(),
            )),
        })
    }

    /// A quantity with its unit.
    pub(super) fn quantity<Q: Quantity>(&self, key: &'static str) -> Option<Placed<Q>> {
        self.read(key, |value| read_quantity(key, value))
    }

    /// One or several quantities with their units.
    pub(super) fn quantities<Q: Quantity>(&self, key: &'static str) -> Vec<Q> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let items = match value.get_ref() {
            DeValue::Array(items) => items.as_ref(),
            _ => std::slice::from_ref(value),
        };
        items
            .iter()
            .filter_map(|item| self.note(item.span(), read_quantity(key, item.get_ref())))
            .map(|placed| placed.value)
            .collect()
    }

    /// One of some words.
    pub(super) fn choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&'static str, T)],
    ) -> Option<Placed<T>> {
        self.read(key, |value| {
            let word = value.as_str().map(|text| text.trim().to_lowercase());
            if let Some((_, choice)) =
                choices.iter().find(|(name, _)| Some(*name) == word.as_deref())
            {
                return Ok(*choice);
            }
            let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
            let fix = suggest(word.as_deref().unwrap_or_default(), &names);
            Err((format!("{} is not a `{key}`", shown(value)), fix))
        })
    }

    /// "on" or "off".
    pub(super) fn on_off(&self, key: &'static str) -> Option<bool> {
        bare(&self.choice(key, &[("on", true), ("off", false)]))
    }

    /// A calendar date.
    pub(super) fn date(&self, key: &'static str) -> Option<Placed<Date>> {
        self.read(key, read_date)
    }

    /// A time on the clock of the zone.
    pub(super) fn time(&self, key: &'static str, zone: &TimeZone) -> Option<Placed<Timestamp>> {
        self.read(key, |value| read_time(value, zone))
    }

    /// What `read` makes of the value of a key; its complaint is reported at the value.
    pub(super) fn read<T>(
        &self,
        key: &'static str,
        read: impl FnOnce(&DeValue<'_>) -> Result<T, Complaint>,
    ) -> Option<Placed<T>> {
        let value = self.value(key)?;
        self.note(value.span(), read(value.get_ref()))
    }

    /// Passes on what is there, and reports a key that must be there and is not.
    pub(super) fn require<T>(
        &self,
        key: &'static str,
        example: &str,
        found: Option<T>,
    ) -> Option<T> {
        // Something that is there but wrong has been reported already.
        if found.is_none() && !self.table.contains_key(key) && !self.sink.is_broken() {
            self.sink.report(
                self.at,
                format!("`{key}` is missing in {}", self.title),
                format!("add a line such as {key} = {example}"),
            );
        }
        found
    }

    /// The one table of a key.
    pub(super) fn table(&self, key: &'static str) -> Option<Section<'a>> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::Table(table) => Some(self.inner(format!("[{key}]"), table, value.span())),
            _ => {
                let fix =
                    format!("write the heading [{key}] once, with its keys on lines below it");
                self.sink.report(value.span().start, format!("`{key}` is not one section"), fix);
                None
            }
        }
    }

    /// Every table of a list of tables.
    pub(super) fn tables(&self, key: &'static str) -> Vec<Section<'a>> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let wrong = |at: usize| {
            let fix = format!("write the heading [[{key}]] with two brackets, once for each");
            self.sink.report(at, format!("`{key}` is not a list of sections"), fix);
        };
        let DeValue::Array(items) = value.get_ref() else {
            wrong(value.span().start);
            return Vec::new();
        };
        let section = |item: &'a Spanned<DeValue<'a>>| match item.get_ref() {
            DeValue::Table(table) => Some(self.inner(format!("[[{key}]]"), table, item.span())),
            _ => {
                wrong(item.span().start);
                None
            }
        };
        items.iter().filter_map(section).collect()
    }

    fn inner(&self, title: String, table: &'a DeTable<'a>, span: Range<usize>) -> Section<'a> {
        Section { sink: self.sink, title, table, at: span.start, known: RefCell::default() }
    }

    fn value(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.known.borrow_mut().push(key);
        self.table.get(key)
    }

    fn note<T>(&self, span: Range<usize>, result: Result<T, Complaint>) -> Option<Placed<T>> {
        match result {
            Ok(value) => Some(Placed { value, at: span.start }),
            Err((problem, fix)) => {
                self.sink.report(span.start, problem, fix);
                None
            }
        }
    }
}

fn read_quantity<Q: Quantity>(key: &str, value: &DeValue<'_>) -> Result<Q, Complaint> {
    let result = match value {
        DeValue::String(text) => Q::parse(text),
        DeValue::Integer(number) => Err(QuantityError::bare_number::<Q>(number.as_str())),
        DeValue::Float(number) => Err(QuantityError::bare_number::<Q>(number.as_str())),
        other => {
            let [first, second] = Q::EXAMPLES;
            return Err((
                format!("`{key}` is {}, not a {}", shown(other), Q::NAME),
                format!("write it like \"{first}\" or \"{second}\""),
            ));
        }
    };
    result.map_err(|error| (format!("`{key}`: {}", error.problem()), error.fix()))
}
