//! A record as one PDF file that people read and that carries its evidence inside.
//!
//! PDF/A-3, level A (ISO 19005-3): pages with tags that say what is a heading and what is a table,
//! fonts inside, and the [files] as attachments. The same evidence and the same
//! version of the program give the same bytes: dates come from the time asked about, ids from the
//! content, and nothing is read from the machine. (The ids are digests over native words: they are the
//! same on all 64-bit machines of the usual byte order.)

mod chart;
mod document;
mod flow;
mod font;
mod paint;
mod sheet;
mod table;
mod top;
mod wrap;

use super::{Case, Evidence, NoCase, files};
use krilla::error::KrillaError;

/// Why no file could be made.
#[derive(Debug, thiserror::Error)]
pub enum DrawError {
    /// The evidence cannot be judged.
    #[error("{0}")]
    Case(#[from] NoCase),
    /// The mapping of an imported file is no JSON.
    #[error("the record's files cannot be written: {0}")]
    Files(#[from] serde_json::Error),
    /// The font in the program is damaged.
    #[error("the font built into the program cannot be read: install the program again")]
    Font,
    /// A chart cannot be drawn.
    #[error("{0}")]
    Chart(#[from] crate::plot::PlotError),
    /// The PDF library refused.
    #[error("the PDF file cannot be made: {0}; please report this")]
    Pdf(String),
}

impl From<KrillaError> for DrawError {
    fn from(error: KrillaError) -> Self {
        // Its own words only count what was wrong.
        match error {
            KrillaError::Validation(found) => Self::Pdf(format!("{found:?}")),
            other => Self::Pdf(other.to_string()),
        }
    }
}

/// The PDF file of a record.
///
/// # Errors
/// See [`DrawError`].
pub fn draw(evidence: &Evidence) -> Result<Vec<u8>, DrawError> {
    let case = Case::of(evidence, files::JOB)?;
    let assessment = case.assess();
    let files = files::write(evidence, &assessment)?;
    document::draw(&case, &assessment, evidence, &files)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::Step;

    #[test]
    fn a_job_without_a_log_is_drawn_twice_the_same() {
        let job_text = "[site]\nname = \"Site\"\ntime-zone = \"America/Denver\"\n".to_owned();
        let evidence = Evidence {
            program: "test 1".to_owned(),
            job_text,
            step: Step::GlueDown,
            at_s: 1_790_000_000,
            rooms: Vec::new(),
            logs: Vec::new(),
        };
        let first = draw(&evidence).unwrap();
        assert!(first.starts_with(b"%PDF-1.7"));
        assert_eq!(first, draw(&evidence).unwrap());
    }
}
