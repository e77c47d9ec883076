//! What the project is built from and how it is laid out: rules that are easy to break unseen.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Manifests of the images of boards, each a workspace of its own.
fn board_manifests() -> Vec<PathBuf> {
    let boards = std::fs::read_dir(root().join("firmware/boards")).unwrap();
    let manifests = boards.map(|board| board.unwrap().path().join("Cargo.toml"));
    let own = |path: &PathBuf| std::fs::read_to_string(path).unwrap().contains("\n[workspace]");
    let mut manifests: Vec<PathBuf> = manifests.filter(|path| path.exists()).filter(own).collect();
    manifests.sort();
    manifests
}

fn metadata(manifest: &Path) -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--manifest-path"])
        .arg(manifest)
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

struct Policy {
    allow: Vec<String>,
    exceptions: Vec<(String, Vec<String>)>,
}

fn strings(value: &toml::Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

fn policy() -> Policy {
    let text = std::fs::read_to_string(root().join(".deny.toml")).unwrap();
    let document: toml::Table = text.parse().unwrap();
    let licenses = &document["licenses"];
    let exception =
        |e: &toml::Value| (e["crate"].as_str().unwrap().to_owned(), strings(&e["allow"]));
    Policy {
        allow: strings(&licenses["allow"]),
        exceptions: licenses["exceptions"].as_array().unwrap().iter().map(exception).collect(),
    }
}

/// Whether an SPDX expression can be met: `A OR B`, `A AND B`, brackets, `A WITH B`, and the old `A/B`.
fn can_be_met(expression: &str, allowed: &dyn Fn(&str) -> bool) -> bool {
    let text = expression.replace('/', " OR ");
    any_of(text.trim(), allowed)
}

/// Splits at a word that stands outside brackets.
fn split_outside<'a>(text: &'a str, word: &str) -> Vec<&'a str> {
    let (mut depth, mut start, mut parts) = (0, 0, Vec::new());
    for (i, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        if depth == 0 && i >= start && text[i..].starts_with(word) {
            parts.push(text[start..i].trim());
            start = i + word.len();
        }
    }
    parts.push(text[start..].trim());
    parts
}

fn any_of(text: &str, allowed: &dyn Fn(&str) -> bool) -> bool {
    split_outside(text, " OR ").iter().any(|alternative| {
        split_outside(alternative, " AND ").iter().all(|term| {
            match term.strip_prefix('(').and_then(|inner| inner.strip_suffix(')')) {
                Some(inner) => any_of(inner, allowed),
                None => allowed(term),
            }
        })
    })
}

#[test]
fn licence_expressions_are_read_right() {
    let allowed = |id: &str| matches!(id, "MIT" | "Apache-2.0 WITH LLVM-exception");
    for (expression, expected) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT", true),
        ("MIT/GPL-3.0", true),
        ("MIT AND GPL-3.0-only", false),
        ("(MIT OR GPL-3.0-only) AND MIT", true),
        ("(MIT AND GPL-3.0-only) OR GPL-2.0-only", false),
        ("Apache-2.0 WITH LLVM-exception", true),
    ] {
        assert_eq!(can_be_met(expression, &allowed), expected, "{expression}");
    }
}

/// The manifest of the fuzz targets, a workspace of its own.
fn fuzz_manifest() -> PathBuf {
    root().join("tests/fuzz/Cargo.toml")
}

/// What is wrong with the licences and sources of what `manifest` is built from.
fn faults(manifest: &Path, allow_exceptions: bool) -> Vec<String> {
    let (metadata, policy) = (metadata(manifest), policy());
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 30, "only {} packages seen", packages.len());
    let mut faults = Vec::new();
    for package in packages {
        let name = package["name"].as_str().unwrap();
        let licence = package["license"].as_str().unwrap_or("none stated");
        let exception =
            policy.exceptions.iter().filter(|_| allow_exceptions).find(|(of, _)| of == name);
        let allowed = |id: &str| {
            policy.allow.iter().any(|a| a == id)
                || exception.is_some_and(|(_, ids)| ids.iter().any(|a| a == id))
        };
        if !can_be_met(licence, &allowed) {
            faults.push(format!("{name}: licence {licence}"));
        }
        match package["source"].as_str() {
            None if package["manifest_path"]
                .as_str()
                .unwrap()
                .starts_with(root().to_str().unwrap()) => {}
            Some(source) if source.starts_with("registry+") => {}
            other => faults.push(format!("{name}: comes from {other:?}")),
        }
    }
    faults
}

#[test]
fn every_dependency_has_an_allowed_licence_and_comes_from_the_registry() {
    let faults = faults(&root().join("Cargo.toml"), true);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_images_of_boards_too_and_without_exceptions() {
    let manifests = board_manifests();
    assert!(manifests.len() >= 3, "{manifests:?}");
    for manifest in manifests {
        let faults = faults(&manifest, false);
        assert!(faults.is_empty(), "{}:\n{}", manifest.display(), faults.join("\n"));
    }
}

#[test]
fn the_fuzz_targets_too_in_the_versions_of_the_program() {
    let faults = faults(&fuzz_manifest(), true);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // Another version would be fuzzed than is shipped, and what is built of the program could not be
    // used again.
    let locked = versions(&root().join("Cargo.lock"));
    let own = versions(&root().join("tests/fuzz/Cargo.lock"));
    let names: BTreeSet<&String> = locked.iter().map(|(name, _)| name).collect();
    let other: Vec<_> =
        own.iter().filter(|of| names.contains(&of.0) && !locked.contains(*of)).collect();
    assert!(other.is_empty(), "{other:?}: see Recipes in DEVELOPERS.md");
}

/// Names and versions of a lock file.
fn versions(lock: &Path) -> BTreeSet<(String, String)> {
    let document: toml::Table = std::fs::read_to_string(lock).unwrap().parse().unwrap();
    let text = |package: &toml::Value, key: &str| package[key].as_str().unwrap().to_owned();
    let packages = document["package"].as_array().unwrap();
    assert!(packages.len() > 30, "only {} packages seen", packages.len());
    packages.iter().map(|package| (text(package, "name"), text(package, "version"))).collect()
}

#[test]
fn the_logger_takes_nothing_with_file_level_copyleft() {
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--locked", "-p", "glueday-firmware", "-e", "normal", "--prefix", "none"])
        .args(["--format", "{p} | {l}"])
        .current_dir(root())
        .output()
        .unwrap();
    let tree = String::from_utf8(output.stdout).unwrap();
    assert!(tree.contains("heapless"), "{tree}");
    assert!(!tree.contains("MPL"), "{tree}");
}

#[test]
fn the_top_level_is_the_agreed_one() {
    let mut found: Vec<String> = std::fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.starts_with('.') && name != "target" && name != "glueday-demo")
        .collect();
    found.sort();
    let agreed = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "firmware",
        "host",
        "shared-types",
        "tests",
    ];
    assert_eq!(found, agreed);
}

#[test]
fn the_readme_opens_with_one_paragraph_and_two_commands() {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let mut blocks = readme.split("\n\n");
    assert!(blocks.next().unwrap().starts_with("# glueday"));
    assert!(blocks.next().unwrap().starts_with("A floor contractor"), "the job in one paragraph");
    let opening = readme.split("\n## ").next().unwrap();
    let commands: Vec<&str> = opening
        .split("```sh\n")
        .skip(1)
        .map(|block| block.split("```").next().unwrap().trim())
        .collect();
    assert_eq!(commands, ["cargo run --release -- demo", "tests/run"]);
}
