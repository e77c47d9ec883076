//! `record --html` as a user runs it.

use crate::assess_world::{D0, World};
use glueday::archive::Archive;
use glueday_tests::programs::{Said, glueday};
use glueday_types::{BLOCK_LEN, LoggerId};
use serde_json::Value;
use std::path::PathBuf;

const LOGGER: LoggerId = LoggerId(*b"worldlog");

struct Site {
    folder: tempfile::TempDir,
    at: String,
}

impl Site {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut world = World::ready();
        let mut archive = Archive::create(&folder.path().join("archive.sqlite")).unwrap();
        archive.adopt(LOGGER, "hall logger", None, D0).unwrap();
        for block in &world.blocks() {
            if block.len() == BLOCK_LEN {
                archive.put_block(LOGGER, block, "test", D0).unwrap();
            } else {
                archive.extend_open_block(LOGGER, block, "test", D0).unwrap();
            }
        }
        world.edit("name = \"Hall\"", "name = \"Hall\"\nlogger = \"hall logger\"");
        std::fs::write(folder.path().join("job.toml"), &world.job).unwrap();
        Self { folder, at: glueday::view::utc_time(world.at_s) }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn record(&self, output: &str, more: &[&str]) -> Said {
        let (job, output) = (self.path("job.toml"), self.path(output));
        let args =
            ["record", job.to_str().unwrap(), "--at", &self.at, "-o", output.to_str().unwrap()];
        glueday(&self.path("archive.sqlite"), &[&args, more].concat())
    }
}

#[test]
fn the_page_stands_alone_or_beside_the_pdf() {
    let site = Site::new();
    let said = site.record("alone.html", &[]);
    assert_eq!(said.code, Some(0), "{said:?}");
    let alone = std::fs::read(site.path("alone.html")).unwrap();
    assert!(alone.starts_with(b"<!doctype html>"));
    assert!(!site.path("alone.pdf").exists());
    site.record("switch.html", &["--html"]);
    assert!(alone == std::fs::read(site.path("switch.html")).unwrap());

    let said = site.record("both.pdf", &["--html", "--json"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(std::fs::read(site.path("both.pdf")).unwrap().starts_with(b"%PDF-"));
    assert!(alone == std::fs::read(site.path("both.html")).unwrap());
    let document: Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!(document["page"]["bytes"], alone.len());
    let digest = <sha2::Sha256 as sha2::Digest>::digest(&alone);
    let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(document["page"]["sha256"], hex.as_str());
    assert!(said.err.contains("both.html"), "{said:?}");
    assert!(document["file"].as_str().unwrap().ends_with("both.pdf"));

    let said = site.record("hall.txt", &["--html"]);
    assert_eq!(said.code, Some(2));
    assert!(said.err.contains("must end in .pdf or .html"), "{}", said.err);
}
