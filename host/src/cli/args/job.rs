//! What `job` takes.

use super::help;
use crate::quantity::Units;
use clap::{Subcommand, ValueEnum};
use std::path::PathBuf;

/// `job`
#[derive(Debug, Subcommand)]
pub enum Job {
    /// Write a commented job file to fill in.
    #[command(after_long_help = help::JOB_NEW)]
    New {
        /// The file to make. An existing file is not overwritten.
        file: PathBuf,
        /// Name of the site.
        #[arg(long, value_name = "NAME")]
        site: String,
        /// Time zone of the site by its IANA name, such as America/Denver.
        #[arg(long, value_name = "ZONE")]
        zone: String,
        /// Units of the examples in the file, and of everything shown.
        #[arg(long, value_enum, default_value_t = UnitsArg::Us)]
        units: UnitsArg,
        /// Name of the logger in the first room, as it was adopted or imported [default: to be filled
        /// in].
        #[arg(long, value_name = "NAME")]
        logger: Option<String>,
    },
    /// Check a job file and print what the program understood.
    #[command(after_long_help = help::JOB_CHECK)]
    Check {
        /// The file.
        file: PathBuf,
    },
}

/// Units to show.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum UnitsArg {
    /// °F, inches, ft².
    Us,
    /// °C, mm, m².
    Metric,
}

impl From<UnitsArg> for Units {
    fn from(units: UnitsArg) -> Self {
        match units {
            UnitsArg::Us => Self::Us,
            UnitsArg::Metric => Self::Metric,
        }
    }
}
