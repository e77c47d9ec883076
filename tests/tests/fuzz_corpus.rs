//! The corpus of the fuzz targets, run by any compiler: what a fuzzer once found stays found.

// Tests may panic: that is how they fail.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

use glueday::intake;
use glueday::job::Job;
use glueday_tests::fuzzing::TARGETS;
use glueday_tests::fuzzing::seeds::seeds;
use std::collections::BTreeSet;
use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

/// All of the corpus: it is copied with every clone of the repository.
const CORPUS_LEN_MAX: u64 = 300 * 1024;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz")
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

fn names(folder: &Path) -> BTreeSet<String> {
    let stem = |path: PathBuf| path.file_stem().unwrap().to_str().unwrap().to_owned();
    files(folder).into_iter().map(stem).collect()
}

#[test]
fn every_input_of_the_corpus_keeps_every_property() {
    let mut failed = Vec::new();
    for (name, target) in TARGETS {
        for file in files(&folder().join("corpus").join(name)) {
            let input = fs::read(&file).unwrap();
            // Says which input it was, and goes on with the others.
            if catch_unwind(AssertUnwindSafe(|| target(&input))).is_err() {
                failed.push(file.display().to_string());
            }
        }
    }
    assert!(failed.is_empty(), "these break a property:\n{}", failed.join("\n"));
}

#[test]
fn every_target_has_a_binary_and_every_seed() {
    let targets: BTreeSet<String> = TARGETS.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(names(&folder().join("fuzz_targets")), targets);
    assert_eq!(names(&folder().join("corpus")), targets);
    let rewrite = std::env::var_os("GLUEDAY_REWRITE_SEEDS").is_some();
    for (target, name, bytes) in seeds() {
        let path = folder().join("corpus").join(target).join(format!("seed-{name}"));
        if rewrite {
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(&path, &bytes).unwrap();
        }
        let stored = fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert!(stored == bytes, "{} is another: see Recipes in DEVELOPERS.md", path.display());
    }
}

/// A seed that is refused at the door teaches a fuzzer nothing about what is behind it.
#[test]
fn the_seeds_get_in() {
    let seed = |target: &str, name: &str| {
        let all = seeds();
        all.into_iter().find(|seed| (seed.0, seed.1) == (target, name)).unwrap().2
    };
    for name in ["least", "filled-us", "filled-metric", "rooms", "crlf", "dotted", "override"] {
        let text = String::from_utf8(seed("job", name)).unwrap();
        assert!(Job::parse(&text, name).is_ok(), "{}", Job::parse(&text, name).unwrap_err());
    }
    let house = seed("csv", "house");
    assert_eq!(intake::read(&house, "house", &intake::Mapping::default()).unwrap().rows.len(), 11);
}

#[test]
fn the_corpus_is_small() {
    let folders = files(&folder().join("corpus"));
    let inputs = folders.iter().flat_map(|folder| files(folder));
    let len: u64 = inputs.map(|file| fs::metadata(file).unwrap().len()).sum();
    assert!(len < CORPUS_LEN_MAX, "{len} bytes: minimise it, see Recipes in DEVELOPERS.md");
}
