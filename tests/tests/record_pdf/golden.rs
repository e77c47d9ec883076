//! The text of the demo's record, word for word, against `fixtures/text/record-demo.txt`.

use crate::tools::Pdf;
use glueday_tests::programs::{Said, program};
use std::path::Path;
use std::process::Command;

const REWRITE: &str = "GLUEDAY_REWRITE_TEXTS";

/// Digests change with every entry of the log, and each demo has a logger with a key of its own; that
/// they are right is tested elsewhere.
fn without_digests(text: &str) -> String {
    let is_hex = |word: &str| word.bytes().all(|b| b.is_ascii_hexdigit());
    let is_digest = |word: &str| word.len() == 64 && is_hex(word);
    let is_fingerprint = |word: &str| {
        let groups: Vec<&str> = word.split('-').collect();
        groups.len() == 5 && groups.iter().all(|group| group.len() == 4 && is_hex(group))
    };
    let line = |line: &str| {
        let words = line.split(' ').map(|word| match word {
            _ if is_digest(word) => "DIGEST",
            _ if is_fingerprint(word) => "FINGERPRINT",
            _ => word,
        });
        words.collect::<Vec<_>>().join(" ")
    };
    // How far columns stand apart in the text hangs on the widths of the digits in them.
    let near = |line: String| {
        let indent = line.len() - line.trim_start().len();
        let (indent, rest) = line.split_at(indent);
        let columns: Vec<&str> =
            rest.split("  ").map(str::trim).filter(|c| !c.is_empty()).collect();
        format!("{}{}", if indent.is_empty() { "" } else { "  " }, columns.join("  "))
    };
    text.split('\n').map(line).map(near).collect::<Vec<_>>().join("\n")
}

#[test]
fn the_record_of_the_demo_reads_as_it_did() {
    let folder = tempfile::tempdir().unwrap();
    let demo = folder.path().join("demo");
    let output = Command::new(program("glueday"))
        .args(["demo", "--now", "2026-03-21T18:00Z", "--folder"])
        .arg(&demo)
        .output()
        .unwrap();
    let said = Said::from(output);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.out.contains("record.pdf"), "{said:?}");
    let pdf = Pdf::new(&std::fs::read(demo.join("record.pdf")).unwrap());
    pdf.check();
    let text = without_digests(&pdf.text());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text/record-demo.txt");
    if std::env::var_os(REWRITE).is_some() {
        std::fs::write(&path, &text).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        golden == text,
        "record-demo.txt differs; if the new text is right, set {REWRITE}=1, run again and read it.\n\
         --- was\n{golden}\n--- is\n{text}"
    );
}
