//! What the README tells its readers to type, typed.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use clap::{CommandFactory as _, Parser as _};
use glueday::cli::args::Cli;
use glueday_tests::command_line::commands;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

#[cfg(unix)]
mod first_record;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

fn readme() -> String {
    std::fs::read_to_string(root().join("README.md")).unwrap()
}

/// The section under a heading.
fn section(heading: &str) -> String {
    let readme = readme();
    let (_, rest) = readme.split_once(&format!("\n## {heading}\n")).expect(heading);
    rest.split("\n## ").next().unwrap().to_owned()
}

/// The blocks of code of that kind.
fn blocks(text: &str, kind: &str) -> Vec<String> {
    let fence = format!("```{kind}\n");
    let starts = text.split(fence.as_str()).skip(1);
    starts.map(|rest| rest.split("```").next().unwrap().to_owned()).collect()
}

/// Every command of the program in a text, in whatever kind of block.
fn of_program(text: &str) -> Vec<Vec<String>> {
    let all = ["sh", "bash", "text"].map(|kind| blocks(text, kind).concat());
    let mut found = commands(&all.join("\n"));
    found.retain(|words| words[0] == "glueday");
    found
}

#[test]
fn every_command_of_the_readme_is_one_that_the_program_takes() {
    let commands = of_program(&readme());
    assert!(commands.len() >= 35, "only {} commands seen", commands.len());
    for words in commands {
        if let Err(error) = Cli::try_parse_from(&words) {
            panic!("{words:?}\n{error}");
        }
    }
}

#[test]
fn the_cookbook_has_fifteen_tasks_and_shows_every_command() {
    let cookbook = section("Cookbook");
    let tasks: Vec<&str> = cookbook.split("\n**").skip(1).collect();
    assert!(tasks.len() >= 15, "only {} tasks", tasks.len());
    for (number, task) in (1..).zip(&tasks) {
        assert!(task.starts_with(&format!("{number}. ")), "out of order: {task}");
        assert!(!of_program(task).is_empty(), "no command: {task}");
    }
    let shown: BTreeSet<String> =
        of_program(&readme()).iter().map(|words| words[1].clone()).collect();
    for command in Cli::command().get_subcommands() {
        // The demo stands at the top, by way of cargo.
        let name = command.get_name();
        assert!(shown.contains(name) || name == "demo", "the README does not show {name}");
    }
}

#[test]
fn the_pictures_are_there_and_small() {
    let readme = readme();
    let mut count = 0;
    for part in readme.split("![").skip(1) {
        let (words, rest) = part.split_once("](").unwrap();
        let place = rest.split(')').next().unwrap();
        assert!(words.len() > 20, "no words for those who do not see {place}");
        let bytes = std::fs::read(root().join(place)).expect(place);
        // https://www.w3.org/TR/png-3/, 5.2: what every PNG file begins with.
        assert!(bytes.starts_with(b"\x89PNG\r\n\x1a\n"), "{place}");
        assert!(bytes.len() < 120_000, "{place}: {} bytes", bytes.len());
        count += 1;
    }
    assert_eq!(count, 3, "a go, a wait, a page of the record");
}

#[test]
fn what_the_readme_links_to_is_there() {
    for part in readme().split("](").skip(1) {
        let place = part.split(')').next().unwrap();
        assert!(root().join(place).exists(), "{place}");
    }
    for needed in ["silica", "isocyanate", "dust", "scalds", "Local codes", "data sheets"] {
        assert!(readme().contains(needed), "the cautions lack {needed}");
    }
}
