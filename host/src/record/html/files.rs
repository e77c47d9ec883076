//! The files of a record inside a page, and out of it.

use super::markup::{element, escape};
use crate::record::File;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeMap;

/// What each link begins with. Texts cannot: their angle brackets are escaped.
const BEGIN: &str = "<a download=\"";
const BEFORE_DATA: &str = ";base64,";

/// A file of a page that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the file {name} in the page cannot be read: it was changed or cut off")]
pub struct BadFile {
    /// Its name, as far as it can be read.
    pub name: String,
}

/// The section with the links that save the files.
pub(super) fn draw(out: &mut String, files: &[File]) {
    out.push_str(
        "<section class=\"files\">\n<h2 id=\"files\">Save the files of this record</h2>\n",
    );
    out.push_str(
        "<p>Each link saves one file of this page, as the fingerprints above list it. The PDF made of \
         the same evidence has the same files as attachments; that is what glueday verify reads.\
         </p>\n<ul>\n",
    );
    for file in files {
        out.push_str("<li>");
        // Names are letters, digits, points and dashes.
        let link = format!(
            "a download=\"{}\" href=\"data:{}{BEFORE_DATA}{}\"",
            escape(&file.name),
            file.media_type,
            STANDARD.encode(&file.bytes)
        );
        element(out, &link, &file.name);
        element(out, "span", &format!(" {}", file.what));
        out.push_str("</li>\n");
    }
    out.push_str("</ul>\n</section>\n");
}

/// The files that a page holds, by name.
///
/// # Errors
/// [`BadFile`] for one whose link was changed or cut off.
pub fn read(page: &str) -> Result<BTreeMap<String, Vec<u8>>, BadFile> {
    page.split(BEGIN).skip(1).map(file).collect()
}

fn file(link: &str) -> Result<(String, Vec<u8>), BadFile> {
    let (name, rest) = link.split_once('"').unwrap_or((link, ""));
    let name: String = name.chars().take(80).collect();
    let data = rest
        .strip_prefix(" href=\"data:")
        .and_then(|rest| rest.split_once('"'))
        .and_then(|(data, _)| data.split_once(BEFORE_DATA))
        .and_then(|(_, data)| STANDARD.decode(data).ok());
    match data {
        Some(bytes) => Ok((name, bytes)),
        None => Err(BadFile { name }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_that_was_cut_or_changed_is_told_by_name() {
        let whole = "<a download=\"job.toml\" href=\"data:text/plain;base64,QUJD\">job.toml</a>";
        assert_eq!(read(whole).unwrap()["job.toml"], b"ABC");
        for bad in [
            "<a download=\"job.toml\" href=\"data:text/plain;base64,QUJ\">",
            "<a download=\"job.toml\" href=\"data:text/plain;base64,QU",
            "<a download=\"job.toml\"",
        ] {
            assert_eq!(read(bad), Err(BadFile { name: "job.toml".to_owned() }), "{bad}");
        }
        assert_eq!(read("no link").unwrap().len(), 0);
    }
}
