//! What can be wrong with a file, where, and what to do about it.

use std::fmt;

pub use super::problem::Problem;

/// How many errors are kept and shown.
pub const SHOWN_MAX: usize = 20;

/// A column as a message names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnAt {
    /// Counted from 1.
    pub number: usize,
    /// Its name in the header; empty if the file has none.
    pub name: String,
}

impl fmt::Display for ColumnAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.name.is_empty() {
            write!(f, "column {}", self.number)
        } else {
            write!(f, "column {} \"{}\"", self.number, Cut(&self.name))
        }
    }
}

/// Columns as a message lists them.
pub(super) fn list(columns: &[ColumnAt]) -> String {
    let shown: Vec<String> = columns
        .iter()
        .take(SHOWN_MAX)
        .map(|c| {
            if c.name.is_empty() {
                c.number.to_string()
            } else {
                format!("{} \"{}\"", c.number, Cut(&c.name))
            }
        })
        .collect();
    let more = columns.len().saturating_sub(SHOWN_MAX);
    let more = if more == 0 { String::new() } else { format!(" and {more} more") };
    format!("{}{more}", shown.join(", "))
}

/// Text from the file, shortened and made safe to print.
pub(super) struct Cut<'t>(pub(super) &'t str);

impl fmt::Display for Cut<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const MOST: usize = 40;
        for c in self.0.chars().take(MOST) {
            write!(f, "{}", if c.is_control() { ' ' } else { c })?;
        }
        if self.0.chars().nth(MOST).is_some() { f.write_str("...") } else { Ok(()) }
    }
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct IntakeError {
    /// Line of the file, counted from 1, if it is about one.
    pub line: Option<u64>,
    /// Column, if it is about one.
    pub column: Option<ColumnAt>,
    /// What is wrong.
    pub problem: Box<Problem>,
}

impl fmt::Display for IntakeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, &self.column) {
            (Some(line), Some(column)) => write!(f, "line {line}, {column}: ")?,
            (Some(line), None) => write!(f, "line {line}: ")?,
            (None, Some(column)) => write!(f, "{column}: ")?,
            (None, None) => {}
        }
        write!(f, "{}", self.problem)
    }
}

/// Everything that is wrong with a file: nothing of it is taken.
#[derive(Clone, Debug, PartialEq)]
pub struct IntakeErrors {
    /// The file's name as it was given.
    pub file: String,
    /// The first [`SHOWN_MAX`], in the order of the file.
    pub shown: Vec<IntakeError>,
    /// How many there are besides.
    pub more: u64,
}

impl std::error::Error for IntakeErrors {}

impl fmt::Display for IntakeErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, error) in self.shown.iter().enumerate() {
            let separator = if error.line.is_some() || error.column.is_some() { "," } else { ":" };
            let end = if i == 0 { "" } else { "\n" };
            write!(f, "{end}{}{separator} {error}", self.file)?;
        }
        match self.more {
            0 => Ok(()),
            1 => write!(f, "\n{}: and 1 more error", self.file),
            more => write!(f, "\n{}: and {more} more errors", self.file),
        }
    }
}

impl Problem {
    pub(super) fn in_file(self) -> IntakeError {
        IntakeError { line: None, column: None, problem: Box::new(self) }
    }

    pub(super) fn on_line(self, line: u64) -> IntakeError {
        IntakeError { line: Some(line), column: None, problem: Box::new(self) }
    }

    pub(super) fn at(self, line: Option<u64>, column: ColumnAt) -> IntakeError {
        IntakeError { line, column: Some(column), problem: Box::new(self) }
    }
}

/// Errors as they are found: the first ones kept, the rest counted.
#[derive(Debug, Default)]
pub(super) struct Faults {
    shown: Vec<IntakeError>,
    more: u64,
}

impl Faults {
    /// Builds the error only if it will be shown.
    pub(super) fn add(&mut self, error: impl FnOnce() -> IntakeError) {
        if self.shown.len() < SHOWN_MAX { self.shown.push(error()) } else { self.more += 1 }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.shown.is_empty()
    }

    pub(super) fn into_errors(mut self, file: &str) -> IntakeErrors {
        self.shown.sort_by_key(|e| e.line);
        IntakeErrors { file: file.to_owned(), shown: self.shown, more: self.more }
    }
}

impl From<IntakeError> for Faults {
    fn from(error: IntakeError) -> Self {
        Self { shown: vec![error], more: 0 }
    }
}

impl From<Vec<IntakeError>> for Faults {
    fn from(errors: Vec<IntakeError>) -> Self {
        let mut out = Self::default();
        errors.into_iter().for_each(|error| out.add(|| error));
        out
    }
}
