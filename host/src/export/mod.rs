//! The log as a table for other programs: CSV (RFC 4180), JSON Lines, Apache Parquet.
//!
//! ```text
//! blocks -> Log (entries in the order in which they were written) -> rows -> Sink -> bytes
//! ```
//!
//! Two tables: one row for each sample ([`samples`]) and one for each other entry of the log
//! ([`events`]). Units stand in the names of the columns. A reading that is missing is an empty cell
//! with the reason in the column beside it, and a sample that no clock sync dates has no time; neither is
//! left out. Figures that are worked out are rounded once, before they are written, so that all formats
//! hold the same numbers.
//!
//! [`data_set`] puts the tables of many jobs, with the blocks themselves, into folders for other engines.
//!
//! Pure: the same blocks give the same bytes. Rows are written as they are decoded; what is held is the
//! blocks and, for Parquet, one row group.

pub mod data_set;
pub mod events;
mod log;
mod row;
pub mod samples;
mod table;
pub mod text;
mod words;

#[cfg(feature = "parquet")]
mod columnar;
#[cfg(not(feature = "parquet"))]
#[path = "columnar_absent.rs"]
mod columnar;

pub use log::{Log, Logged};
pub use row::{Origin, Span};
pub use table::{Cell, Column, Kind};

use std::io::Write;

/// Version of the tables; raised when a column changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

/// Whether this build can write Parquet.
pub const HAS_PARQUET: bool = cfg!(feature = "parquet");

/// Kind of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values (RFC 4180) in UTF-8 without a byte order mark.
    Csv,
    /// JSON Lines: one object a row, in UTF-8.
    JsonLines,
    /// Apache Parquet.
    Parquet,
}

impl Format {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Csv, Self::JsonLines, Self::Parquet];

    /// The ending of file names, without the point.
    #[must_use]
    pub const fn ending(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::JsonLines => "jsonl",
            Self::Parquet => "parquet",
        }
    }

    /// The format that a file name asks for by its ending, whatever the case.
    #[must_use]
    pub fn of_ending(ending: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.ending().eq_ignore_ascii_case(ending))
    }
}

/// Why a table could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The file or pipe took no more.
    #[error("{0}")]
    Write(#[from] std::io::Error),
    /// This build has no Parquet.
    #[error(
        "this build of glueday writes no Parquet: build it with `cargo build --release --features \
         parquet`, or choose CSV or JSON Lines"
    )]
    NoParquet,
    /// The Parquet library refused something.
    #[error("Parquet: {0}")]
    Parquet(String),
}

/// What is told of a table where its format has room for it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct About {
    /// Name of the site, when a job was exported.
    pub site: Option<String>,
    /// The logs in it: id, name, room.
    pub logs: Vec<(String, Option<String>, Option<String>)>,
}

/// Takes the rows of a table.
pub trait Sink {
    /// Takes one row, as many cells as there are columns.
    ///
    /// # Errors
    /// See [`ExportError`].
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError>;

    /// Writes what is still held. Nothing may follow.
    ///
    /// # Errors
    /// See [`ExportError`].
    fn finish(&mut self) -> Result<(), ExportError>;
}

/// Begins a table in a format.
///
/// # Errors
/// [`ExportError::NoParquet`] in a build without it, or when the beginning cannot be written.
pub fn sink<'a>(
    format: Format,
    columns: &'a [Column],
    about: &About,
    out: &'a mut dyn Write,
) -> Result<Box<dyn Sink + 'a>, ExportError> {
    Ok(match format {
        Format::Csv => Box::new(text::Csv::begin(columns, out)?),
        Format::JsonLines => Box::new(text::JsonLines::begin(columns, out)),
        Format::Parquet => columnar::begin(columns, about, out)?,
    })
}
