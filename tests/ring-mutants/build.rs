//! Makes one copy of the ring log for each bug in `mutants.toml`, and one without any.

// A build script may panic: that is how it fails.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::print_stdout)]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const FILES: [&str; 3] = ["mod.rs", "flash.rs", "scan.rs"];

fn main() {
    let here = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").unwrap());
    let out = PathBuf::from(std::env::var_os("OUT_DIR").unwrap());
    let ring = here.join("../../firmware/src/ring");
    println!("cargo::rerun-if-changed={}", ring.display());
    println!("cargo::rerun-if-changed=mutants.toml");
    let table: toml::Table =
        std::fs::read_to_string(here.join("mutants.toml")).unwrap().parse().unwrap();
    let mut modules = String::new();
    let mut list = String::new();
    let mut add = |name: &str, what: &str, change: Option<[&str; 3]>| {
        copy(&ring, &out.join(name), name, change);
        let module = name.replace('-', "_");
        let path = out.join(name).join("mod.rs");
        writeln!(modules, "#[allow(warnings, clippy::all, clippy::pedantic)]").unwrap();
        writeln!(modules, "#[path = {path:?}]\nmod {module};").unwrap();
        writeln!(list, "        Mutant {{ what: {what:?}, maker: {{").unwrap();
        writeln!(list, "            use crate::{module};").unwrap();
        writeln!(
            list,
            "            glueday_ring_trials::ring_maker!({name:?}, {module})\n        }} }},"
        )
        .unwrap();
    };
    add("unchanged", "", None);
    for mutant in table["mutant"].as_array().unwrap() {
        let text = |key: &str| {
            let value = mutant.get(key).and_then(toml::Value::as_str);
            value.unwrap_or_else(|| panic!("no {key} in {mutant}"))
        };
        let change = [text("file"), text("find"), text("replace")];
        add(text("name"), text("what"), Some(change));
    }
    let source = format!(
        "{modules}\n/// All of them, the unchanged log first.\n#[must_use]\n\
         pub fn all() -> Vec<Mutant> {{\n    vec![\n{list}    ]\n}}\n"
    );
    std::fs::write(out.join("mutants.rs"), source).unwrap();
}

/// Copies the ring log, with one text in one file replaced by another.
fn copy(ring: &Path, to: &Path, name: &str, change: Option<[&str; 3]>) {
    std::fs::create_dir_all(to).unwrap();
    // Its errors stay the same type, so that whoever compares them need not know whose they are.
    let errors = "pub use glueday_firmware::ring::{Error, Operation};\n";
    std::fs::write(to.join("error.rs"), errors).unwrap();
    for file in FILES {
        let mut text = std::fs::read_to_string(ring.join(file)).unwrap();
        if let Some([_, find, replace]) = change.filter(|[of, ..]| *of == file) {
            let count = text.matches(find).count();
            assert_eq!(count, 1, "{name}: the text to replace is {count} times in {file}: {find}");
            text = text.replace(find, replace);
        }
        std::fs::write(to.join(file), text).unwrap();
    }
    if let Some([of, ..]) = change {
        assert!(FILES.contains(&of), "{name}: no file {of}");
    }
}
