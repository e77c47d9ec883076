//! What `sites` can be told.

use super::{StepArg, help};
use crate::view::sites::Column;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `sites`
#[derive(Debug, Args)]
#[command(after_long_help = help::SITES)]
pub struct Sites {
    /// Job files, or folders: of a folder, every file in it that ends in .toml [default: this folder].
    #[arg(value_name = "JOB")]
    pub jobs: Vec<PathBuf>,
    /// The step that is to start.
    #[arg(long, value_enum, default_value_t = StepArg::GlueDown)]
    pub step: StepArg,
    /// Time to ask about: on the clock of each site ("2026-03-18 08:00"), in UTC
    /// ("2026-03-18T14:00Z"), "now", or "last" for the end of each job's logs.
    #[arg(long, value_name = "TIME", default_value = "now")]
    pub at: String,
    /// Column to sort by: what wants a look first stands first.
    #[arg(long, value_name = "COLUMN", value_enum, default_value_t = ColumnArg::Site)]
    pub sort: ColumnArg,
    /// Turn the order round.
    #[arg(long)]
    pub reverse: bool,
}

/// A column to sort by.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ColumnArg {
    /// Name of the site, then of the room.
    Site,
    /// Errors, then waits without a date, waits with one, and goes.
    Verdict,
    /// The soonest first; those without a date last.
    EarliestGo,
    /// Those never pulled first, then the longest ago.
    LastPull,
    /// The lowest voltage first; those that are not known last.
    Battery,
}

impl From<ColumnArg> for Column {
    fn from(column: ColumnArg) -> Self {
        match column {
            ColumnArg::Site => Self::Site,
            ColumnArg::Verdict => Self::Verdict,
            ColumnArg::EarliestGo => Self::EarliestGo,
            ColumnArg::LastPull => Self::LastPull,
            ColumnArg::Battery => Self::Battery,
        }
    }
}
