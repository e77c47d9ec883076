//! Finds the examples in `SPEC.md`.

use std::collections::BTreeMap;

const SPEC: &str = include_str!("../../SPEC.md");
const FENCE: &str = "```";

/// The bytes of each block that is marked `hex name=...`.
pub(crate) fn all() -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut lines = SPEC.lines().enumerate();
    while let Some((at, line)) = lines.next() {
        let Some(info) = line.strip_prefix(FENCE) else { continue };
        let name = info
            .strip_prefix("hex name=")
            .unwrap_or_else(|| panic!("line {}: a block without a name: {info:?}", at + 1));
        let mut bytes = Vec::new();
        loop {
            let (at, line) = lines.next().expect("the last block is not closed");
            if line.starts_with(FENCE) {
                break;
            }
            let digits = line.split(';').next().unwrap_or_default();
            bytes.extend(digits.split_whitespace().map(|pair| {
                assert_eq!(pair.len(), 2, "line {}: {pair:?}", at + 1);
                u8::from_str_radix(pair, 16).unwrap_or_else(|e| panic!("line {}: {e}", at + 1))
            }));
        }
        assert!(!bytes.is_empty(), "{name} is empty");
        assert!(found.insert(name.to_owned(), bytes).is_none(), "{name} is there twice");
    }
    found
}

/// The bytes of one example.
pub(crate) fn bytes(name: &str) -> Vec<u8> {
    all().remove(name).unwrap_or_else(|| panic!("no example {name}"))
}

/// Fails with the bytes in hex, as the page has them.
pub(crate) fn assert_bytes(name: &str, written: &[u8]) {
    let hex = |bytes: &[u8]| bytes.iter().map(|b| format!("{b:02X} ")).collect::<String>();
    assert_eq!(hex(written), hex(&bytes(name)), "the code writes {name} as the first of these");
}
