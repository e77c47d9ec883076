//! Errors of a job file, each with its place and its cure.

use std::cell::RefCell;
use std::collections::BTreeSet;

use thiserror::Error;

use super::Job;

/// One error in a job file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{line}:{column}: {problem}\n    {fix}")]
pub struct JobError {
    /// Name of the file, as given to [`Job::parse`].
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub problem: String,
    /// What to do about it.
    pub fix: String,
}

/// Every error found in a job file, in the order of the file; at least one.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{}", self.joined())]
pub struct JobErrors {
    errors: Vec<JobError>,
}

impl JobErrors {
    /// The errors, in the order of the file.
    pub fn iter(&self) -> std::slice::Iter<'_, JobError> {
        self.errors.iter()
    }

    fn joined(&self) -> String {
        let lines: Vec<String> = self.errors.iter().map(ToString::to_string).collect();
        lines.join("\n")
    }
}

impl<'a> IntoIterator for &'a JobErrors {
    type Item = &'a JobError;
    type IntoIter = std::slice::Iter<'a, JobError>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

/// Collects errors while a file is read, so that one pass finds all of them.
pub(super) struct Sink<'t> {
    text: &'t str,
    file: &'t str,
    errors: RefCell<Vec<JobError>>,
    /// Lines that are not TOML: what the parser salvaged from them says nothing.
    broken_lines: RefCell<BTreeSet<usize>>,
}

impl<'t> Sink<'t> {
    pub(super) fn new(text: &'t str, file: &'t str) -> Self {
        Self { text, file, errors: RefCell::default(), broken_lines: RefCell::default() }
    }

    /// Notes an error at a byte offset.
    pub(super) fn report(&self, at: usize, problem: impl Into<String>, fix: impl Into<String>) {
        let (line, column) = self.place(at);
        if !self.broken_lines.borrow().contains(&line) {
            self.push(line, column, problem.into(), fix.into());
        }
    }

    /// Notes that the text is not TOML at a byte offset.
    pub(super) fn report_syntax(&self, at: usize, problem: &str) {
        let (line, column) = self.place(at);
        if self.broken_lines.borrow_mut().insert(line) {
            let fix = syntax_fix(problem).to_owned();
            self.push(line, column, format!("this line cannot be read ({problem})"), fix);
        }
    }

    /// Whether some line was not TOML, so that something missing may only be hidden.
    pub(super) fn is_broken(&self) -> bool {
        !self.broken_lines.borrow().is_empty()
    }

    /// `Ok(job)` when nothing was reported.
    pub(super) fn finish(self, job: Option<Job>) -> Result<Job, JobErrors> {
        let mut errors = self.errors.into_inner();
        match job {
            Some(job) if errors.is_empty() => Ok(job),
            _ => {
                errors.sort_by_key(|error| (error.line, error.column));
                // A room without milestones of its own shares those of the job, and their errors.
                errors.dedup();
                Err(JobErrors { errors })
            }
        }
    }

    fn push(&self, line: usize, column: usize, problem: String, fix: String) {
        let file = self.file.to_owned();
        self.errors.borrow_mut().push(JobError { file, line, column, problem, fix });
    }

    /// Line and column, from 1, of a byte offset; columns count characters.
    fn place(&self, at: usize) -> (usize, usize) {
        let before = self.text.get(..at).unwrap_or(self.text);
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        (line, column)
    }
}

/// What to do about a line that is not TOML; the parser's own words decide which advice fits.
fn syntax_fix(problem: &str) -> &'static str {
    if problem.contains("duplicate") {
        "keep one of the two; a heading in single brackets stands once in a file"
    } else if ["date", "time", "day", "month", "hour", "minute"].iter().any(|w| problem.contains(w))
    {
        "write dates like 2026-03-02 and times like 2026-03-02T08:30"
    } else {
        "write a key, an equals sign, and the value in double quotes, such as area = \"1200 ft2\""
    }
}

/// The one of `known` that `text` is most like, when it is much like it.
pub(super) fn nearest<'k>(text: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let text = text.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::jaro_winkler(&name.to_lowercase(), &text), name))
        .filter(|(likeness, _)| *likeness > 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// "did you mean `x`?" when something known is near, else the list of what is known.
pub(super) fn suggest(text: &str, known: &[&str]) -> String {
    match nearest(text, known.iter().copied()) {
        Some(name) => format!("did you mean `{name}`?"),
        None if known.is_empty() => "remove it".to_owned(),
        None => format!("known here: {}", known.join(", ")),
    }
}
