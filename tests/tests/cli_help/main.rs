//! What the program tells about itself: help, versions, completions and manual pages.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

mod completions;
mod help;
mod manual;
mod versions;

use clap::{Command, CommandFactory as _};
use glueday::cli::args::Cli;

/// The program and every command under it, without `help`.
fn all() -> Vec<Command> {
    fn gather(command: &Command, into: &mut Vec<Command>) {
        into.push(command.clone());
        command.get_subcommands().for_each(|below| gather(below, into));
    }
    let mut program = Cli::command().disable_help_subcommand(true);
    program.build();
    let mut commands = Vec::new();
    gather(&program, &mut commands);
    assert!(commands.len() >= 19, "only {} commands seen", commands.len());
    commands
}

/// `["job", "new"]` of `glueday job new`.
fn path(command: &Command) -> Vec<String> {
    let name = command.get_bin_name().unwrap_or("glueday");
    name.split(' ').skip(1).map(str::to_owned).collect()
}

/// Long options of a command, as `--archive`.
fn options(command: &Command) -> Vec<String> {
    let long = command.get_arguments().filter_map(|argument| argument.get_long());
    long.map(|long| format!("--{long}")).collect()
}
