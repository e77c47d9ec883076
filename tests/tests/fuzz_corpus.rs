//! The corpus of the fuzz targets, run by any compiler: what a fuzzer once found stays found.

// Tests may panic: that is how they fail.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

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

#[test]
fn the_corpus_is_small() {
    let folders = files(&folder().join("corpus"));
    let inputs = folders.iter().flat_map(|folder| files(folder));
    let len: u64 = inputs.map(|file| fs::metadata(file).unwrap().len()).sum();
    assert!(len < CORPUS_LEN_MAX, "{len} bytes: minimise it, see Recipes in DEVELOPERS.md");
}
