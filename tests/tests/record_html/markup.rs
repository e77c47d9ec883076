//! The page as a file: what it may do, what it holds, and that it is the same each time.

use crate::scenes::{go, wait};
use glueday::record::{Case, files, html};
use std::collections::BTreeMap;

#[test]
fn the_page_refers_to_nothing_outside_and_forbids_it() {
    for evidence in [go(), wait()] {
        let page = html::draw(&evidence).unwrap();
        let policy = "content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:; \
                      font-src data:; base-uri 'none'; form-action 'none'\"";
        assert_eq!(page.matches("http-equiv=\"Content-Security-Policy\"").count(), 1);
        assert!(page.contains(policy));
        // Before anything that it could forbid.
        assert!(page.find(policy).unwrap() < page.find("<style").unwrap());
        for begin in ["<script", "<img", "<link", "<iframe", "<object", "@import", "src=\""] {
            assert_eq!(page.matches(begin).count(), 0, "{begin}");
        }
        for address in page.split(" href=\"").skip(1) {
            assert!(address.starts_with('#') || address.starts_with("data:"), "{}", &address[..40]);
        }
        for address in page.split("url(").skip(1) {
            assert!(address.starts_with("data:font/woff2;base64,"), "{}", &address[..40]);
        }
        assert_eq!(page.matches("url(").count(), 2, "the font once, regular and bold");
        assert!(!page.contains("http://") && !page.contains("https://"));
    }
}

/// HTML, "The id attribute": its value must be unique in the document; links within lead to one.
#[test]
fn ids_are_unique_and_links_lead_to_them() {
    let page = html::draw(&wait()).unwrap();
    let mut ids: Vec<&str> =
        page.split(" id=\"").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all);
    for link in page.split(" href=\"#").skip(1) {
        let id = link.split('"').next().unwrap();
        assert!(ids.contains(&id), "{id}");
    }
    assert_eq!(page.matches("role=\"img\"").count(), 4, "two layouts of a chart for each room");
}

#[test]
fn the_same_evidence_gives_the_same_bytes() {
    for evidence in [go(), wait()] {
        let page = html::draw(&evidence).unwrap();
        assert!(page == html::draw(&evidence).unwrap());
    }
}

/// Which is all that it takes to judge and draw it anew, and compare.
#[test]
fn the_evidence_comes_out_as_it_went_in() {
    for evidence in [go(), wait()] {
        let page = html::draw(&evidence).unwrap();
        let found = html::read(&page).unwrap();
        let case = Case::of(&evidence, files::JOB).unwrap();
        let expected = files::write(&evidence, &case.assess()).unwrap();
        let expected: BTreeMap<_, _> = expected.into_iter().map(|f| (f.name, f.bytes)).collect();
        assert_eq!(found, expected);
        let (_, read) = files::read(&found).unwrap();
        assert_eq!(read, evidence);
        assert!(html::draw(&read).unwrap() == page);
    }
}
