//! The command line: what can be typed, and nothing else. Completions and the man page derive from it.

mod air;
mod export;
mod help;
mod import;
mod job;
mod limits;
mod live;
mod mark;
mod plot;
mod probe_check;
mod question;
mod record;
mod sites;

pub use air::{Air, CutArg};
pub use export::{Export, FormatArg};
pub use import::Import;
pub use job::{Job, UnitsArg};
pub use limits::{Limits, ProfileArg};
pub use live::Live;
pub use mark::{Mark, MarkArg, Marks};
pub use plot::Plot;
pub use probe_check::{ChannelArg, ProbeCheck};
pub use question::{Check, Question, StepArg};
pub use record::{Record, Verify};
pub use sites::{ColumnArg, Sites};

use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Checks, plots and proves the site conditions for gluing wood floors down on heated slabs.
#[derive(Debug, Parser)]
#[command(
    name = "glueday",
    version,
    long_version = super::versions::text(),
    after_help = help::PROGRAM_SHORT,
    after_long_help = help::PROGRAM,
    max_term_width = 100
)]
pub struct Cli {
    /// Archive to use: an SQLite file, or postgresql://USER@HOST/DATABASE [default: glueday/archive.db in
    /// your data folder].
    // What the environment says is not shown in the help: it can hold a password.
    #[arg(
        long,
        global = true,
        value_name = "FILE",
        env = crate::archive::ARCHIVE_ENV,
        hide_env_values = true
    )]
    pub archive: Option<PathBuf>,
    /// Print one JSON document in SI units instead of text.
    #[arg(long, global = true)]
    pub json: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run the whole job without hardware: log, pull, check and plot an invented site.
    Demo(Demo),
    /// List the serial ports of this computer and whether they can be opened.
    #[command(after_long_help = help::PORTS)]
    Ports,
    /// Give a connected logger a name, set its clock, and pin its identity.
    Adopt(Adopt),
    /// Copy the log of a connected logger into the archive. Never changes the logger.
    Pull(Pull),
    /// Put a milestone of the work into the log of a connected logger.
    Mark(Mark),
    /// List what was marked in the log of a job, beside the milestones of its job file.
    Marks(Marks),
    /// Read the CSV file of any logger into the archive.
    Import(Import),
    /// Make or check a job file.
    #[command(subcommand, after_long_help = help::JOB)]
    Job(Job),
    /// Check a probe of a connected logger against ice, salt or an instrument, and note it in the job.
    ProbeCheck(ProbeCheck),
    /// May this step start? Go or wait, with the reasons.
    Check(Check),
    /// The verdicts of many jobs in a table: what blocks, earliest go, last pull, battery.
    Sites(Sites),
    /// Look at a connected logger: readings, dew-point gap, what holds since when, what blocks, earliest go.
    Live(Live),
    /// Draw the history of a job with its limits and the verdict, as PNG or SVG.
    Plot(Plot),
    /// Write the log as a table for other programs: CSV, JSON Lines or Parquet.
    Export(Export),
    /// Make the record for the warranty file: one PDF with the verdict, charts, limits and the log itself.
    Record(Record),
    /// Check a record: what in it is proven, by what, and what is not. Needs nothing but the record.
    Verify(Verify),
    /// List the limits with their sources, and what a job makes of them.
    Limits(Limits),
    /// Dew point and more from the readings of a pocket meter.
    Air(Air),
    /// Print completions for a shell.
    #[command(after_long_help = help::COMPLETIONS)]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print the manual page of the program or of a command, or write all of them into a folder.
    #[command(after_long_help = help::MAN)]
    Man(Man),
}

/// `man`
#[derive(Debug, Args)]
pub struct Man {
    /// The command, such as `pull` or `job new` [default: the program as a whole].
    pub command: Vec<String>,
    /// Write the pages of all commands into this folder; made when it is not there.
    #[arg(long, value_name = "FOLDER", conflicts_with = "command")]
    pub folder: Option<PathBuf>,
}

/// How to reach a logger.
#[derive(Debug, Args)]
pub struct Port {
    /// Serial port, exactly as the system names it, or tcp:HOST:PORT [default: the only USB serial port].
    #[arg(long, value_name = "PORT", env = "GLUEDAY_PORT")]
    pub port: Option<String>,
    /// Line speed of a serial port in bits per second.
    #[arg(long, value_name = "BPS", default_value_t = crate::port::BAUD, value_parser = baud)]
    pub baud: u32,
}

/// Reads a line speed.
fn baud(text: &str) -> Result<u32, String> {
    let wanted = "give a whole number of bits per second, such as 115200";
    text.parse().ok().filter(|bps| *bps > 0).ok_or_else(|| wanted.to_owned())
}

/// `demo`
#[derive(Debug, Args)]
#[command(after_long_help = help::DEMO)]
pub struct Demo {
    /// Folder for the files of the demo; made when it is not there.
    #[arg(long, value_name = "FOLDER", default_value = "glueday-demo")]
    pub folder: PathBuf,
    /// Pretend that the last day of the story is this time, such as 2026-03-19T15:00Z [default: now].
    #[arg(long, value_name = "TIME")]
    pub now: Option<String>,
}

/// `adopt`
#[derive(Debug, Args)]
#[command(after_long_help = help::ADOPT)]
pub struct Adopt {
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// Name for the logger; job files refer to it.
    #[arg(long, value_name = "NAME")]
    pub name: String,
    /// Leave the clock of the logger as it is. Its log stays undated until it is set.
    #[arg(long)]
    pub keep_clock: bool,
    /// Sampling interval from now on, such as "10 min" [default: as it is].
    #[arg(long, value_name = "TIME")]
    pub interval: Option<String>,
}

/// `pull`
#[derive(Debug, Args)]
#[command(after_long_help = help::PULL)]
pub struct Pull {
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// Set the logger's clock as well, which writes one entry into its log.
    #[arg(long)]
    pub set_clock: bool,
}
