//! The command line program: the only part that reads the clock, the environment and files.

mod air;
pub mod args;
mod check;
mod demo;
mod export;
mod import;
mod job;
mod limits;
mod live;
mod logger;
mod man;
mod mark;
mod plot;
mod ports;
mod probe_check;
mod question;
mod record;
mod sites;
mod store;
mod told;
mod verify;
mod versions;

use args::{Cli, Command};
use clap::Parser as _;
use std::io::Write;
use std::process::ExitCode;

/// Why a command ended early: anything that explains itself.
pub type Failure = Box<dyn std::error::Error>;

/// How a command ended when it did not fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Done, or go.
    Yes,
    /// Wait.
    Wait,
}

/// Where a command's output goes.
pub struct Talk<'a> {
    /// Data: standard output.
    pub out: &'a mut dyn Write,
    /// Talk: standard error.
    pub err: &'a mut dyn Write,
    /// Whether one JSON document is wanted.
    pub json: bool,
    /// Columns of the terminal, or 80.
    pub width: usize,
    /// Whether standard error is a terminal, which is when progress is shown.
    pub progress: bool,
}

/// An error with its own message only.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Plain(pub String);

/// Ends a command with a message.
fn fail<T>(message: impl Into<String>) -> Result<T, Failure> {
    Err(Box::new(Plain(message.into())))
}

/// Reads the command line and does what it says.
#[must_use]
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut out = anstream::stdout().lock();
    let mut err = anstream::stderr().lock();
    let width = width();
    let progress = std::io::IsTerminal::is_terminal(&std::io::stderr());
    let result = {
        let mut talk = Talk { out: &mut out, err: &mut err, json: cli.json, width, progress };
        run(&cli, &mut talk)
    };
    let result = result.and_then(|answer| out.flush().map(|()| answer).map_err(Failure::from));
    match result {
        Ok(Answer::Yes) => ExitCode::SUCCESS,
        Ok(Answer::Wait) => ExitCode::from(1),
        // Whoever reads the output has had enough of it.
        Err(error) if is_broken_pipe(error.as_ref()) => ExitCode::SUCCESS,
        Err(error) => {
            // Nothing is left to tell when standard error is gone as well.
            let _ = write!(err, "{}", told::error(error.as_ref(), err_width()));
            ExitCode::from(2)
        }
    }
}

/// Columns of standard output: what COLUMNS says, else those of its terminal, else 80.
fn width() -> usize {
    let said = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let terminal = || Some(usize::from(terminal_size::terminal_size_of(std::io::stdout())?.0.0));
    said.or_else(terminal).unwrap_or(80)
}

/// Columns of standard error, where it has any: what COLUMNS says, else those of its terminal.
fn err_width() -> Option<usize> {
    let said = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok());
    let terminal = || Some(usize::from(terminal_size::terminal_size_of(std::io::stderr())?.0.0));
    said.or_else(terminal)
}

fn is_broken_pipe(error: &(dyn std::error::Error + 'static)) -> bool {
    error
        .downcast_ref::<std::io::Error>()
        .is_some_and(|error| error.kind() == std::io::ErrorKind::BrokenPipe)
}

/// Does one command.
///
/// # Errors
/// Whatever went wrong, in words for the user.
pub fn run(cli: &Cli, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let archive = cli.archive.as_deref();
    match &cli.command {
        Command::Demo(args) => demo::run(args, talk),
        Command::Ports => ports::run(talk),
        Command::Adopt(args) => logger::adopt(args, archive, talk),
        Command::Pull(args) => logger::pull(args, archive, talk),
        Command::Mark(args) => mark::mark(args, talk),
        Command::Marks(args) => mark::marks(args, archive, talk),
        Command::Import(args) => import::run(args, archive, talk),
        Command::Job(args) => job::run(args, talk),
        Command::ProbeCheck(args) => probe_check::run(args, archive, talk),
        Command::Check(args) => check::check(args, archive, talk),
        Command::Plot(args) => plot::run(args, archive, talk),
        Command::Sites(args) => sites::run(args, archive, talk),
        Command::Live(args) => live::run(args, archive, talk),
        Command::Export(args) => export::run(args, archive, talk),
        Command::Record(args) => record::run(args, archive, talk),
        Command::Verify(args) => verify::run(args, archive, talk),
        Command::Limits(args) => limits::run(args, talk),
        Command::Air(args) => air::run(args, talk),
        Command::Completions { shell } => man::completions(*shell, talk),
        Command::Man(args) => man::run(args, talk),
    }
}

/// Reads a file, naming it when that fails.
fn read_file(path: &std::path::Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(path).or_else(|error| fail(told::unread(path, &error)))
}

/// Prints a JSON document.
fn print_json(talk: &mut Talk<'_>, document: &impl serde::Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(document)?;
    writeln!(talk.out, "{text}")?;
    Ok(())
}

/// Now, in seconds of UTC.
fn now_s() -> i64 {
    jiff::Timestamp::now().as_second()
}
