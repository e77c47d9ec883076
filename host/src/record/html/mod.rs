//! A record as one web page for a phone or a screen: what the PDF says, in the same order.
//!
//! One file that needs nothing else and asks for nothing: no script, no reference to anything outside,
//! and a policy (CSP) by which a browser would refuse both. The [files](crate::record::files) of the
//! record are in it as links that save them. The same evidence and the same version of the program give
//! the same bytes.

mod chart;
mod files;
mod markup;
mod page;
mod table;

pub use files::{BadFile, read};

use super::content::Content;
use super::{Case, Evidence, NoCase, files as record_files};

/// Why no page could be made.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The evidence cannot be judged.
    #[error("{0}")]
    Case(#[from] NoCase),
    /// The mapping of an imported file is no JSON.
    #[error("the record's files cannot be written: {0}")]
    Files(#[from] serde_json::Error),
    /// A chart cannot be drawn.
    #[error("{0}")]
    Chart(#[from] crate::plot::PlotError),
}

/// The page of a record.
///
/// # Errors
/// See [`PageError`].
pub fn draw(evidence: &Evidence) -> Result<String, PageError> {
    let case = Case::of(evidence, record_files::JOB)?;
    let assessment = case.assess();
    let files = record_files::write(evidence, &assessment)?;
    let content = Content::of(&case, &assessment, evidence, &files);
    page::draw(&case, &assessment, &content, &files)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::Step;
    use std::collections::BTreeMap;

    fn evidence(name: &str) -> Evidence {
        Evidence {
            program: "test 1".to_owned(),
            job_text: format!("[site]\nname = '''{name}'''\ntime-zone = \"America/Denver\"\n"),
            step: Step::GlueDown,
            at_s: 1_790_000_000,
            rooms: Vec::new(),
            logs: Vec::new(),
        }
    }

    #[test]
    fn the_same_evidence_gives_the_same_page() {
        let page = draw(&evidence("Site")).unwrap();
        assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"));
        assert_eq!(page, draw(&evidence("Site")).unwrap());
    }

    #[test]
    fn the_files_come_out_of_the_page_as_they_went_in() {
        let evidence = evidence("Site");
        let page = draw(&evidence).unwrap();
        let files = read(&page).unwrap();
        let case = Case::of(&evidence, "job.toml").unwrap();
        let expected = record_files::write(&evidence, &case.assess()).unwrap();
        let expected: BTreeMap<_, _> = expected.into_iter().map(|f| (f.name, f.bytes)).collect();
        assert_eq!(files, expected);
        // Which is all that it takes to draw it once more.
        let (_, back) = record_files::read(&files).unwrap();
        assert_eq!(draw(&back).unwrap(), page);
    }

    #[test]
    fn names_are_text_whatever_is_in_them() {
        let name = "\"><script>alert(1)</script> & <a download=\"x\" href=\"data:text/plain;base64,QQ==\">";
        let page = draw(&evidence(name)).unwrap();
        assert!(!page.contains("<script"));
        assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &lt;a download="));
        assert!(!read(&page).unwrap().contains_key("x"));
    }
}
