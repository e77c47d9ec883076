//! What `record` and `verify` take.

use super::{Question, help};
use clap::Args;
use std::path::PathBuf;

/// `record`
#[derive(Debug, Args)]
#[command(after_long_help = help::RECORD)]
pub struct Record {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// The record: a file that ends in .pdf, or in .html for the page alone.
    #[arg(long, short, value_name = "FILE")]
    pub output: PathBuf,
    /// Make the web page for phones and screens as well, beside the PDF. It says the same.
    #[arg(long)]
    pub html: bool,
}

/// `verify`
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  glueday verify hall-record.pdf\n  \
    glueday verify hall-record.pdf --key 6668-7aad-f862-bd77-6c8f\n  \
    pdfdetach -saveall -o hall hall-record.pdf; glueday verify hall\n\n\
    It makes everything anew that the record claims: digests, the chain of the log, signatures, the\n\
    verdict, the pages. Without --key or --archive, the keys are those that the record itself names.\n\n\
    Exit codes: 0 nothing is contradicted, 1 something does not hold, 2 it cannot be read as a record.")]
pub struct Verify {
    /// The PDF of the record, its web page, or a folder with the files taken out of it.
    pub record: PathBuf,
    /// Key of a logger, as noted when it was adopted: its fingerprint, or all 64 hexadecimal digits.
    /// Can be given more than once. With --archive, the keys that are pinned there count as well.
    #[arg(long, value_name = "KEY")]
    pub key: Vec<String>,
}
