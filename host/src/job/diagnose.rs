//! Errors of a job file, each with its place and its cure.

use thiserror::Error;

/// One error in a job file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{file}:{line}:{column}: {problem}\n    {fix}")]
pub struct JobError {
    /// Name of the file, as given to [`Job::parse`](super::Job::parse).
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
pub struct JobErrors(pub Vec<JobError>);

impl JobErrors {
    fn joined(&self) -> String {
        let lines: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        lines.join("\n")
    }
}
