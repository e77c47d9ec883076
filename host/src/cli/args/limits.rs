//! What `limits` takes.

use super::help;
use crate::job::Profile;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `limits`
#[derive(Debug, Args)]
#[command(after_long_help = help::LIMITS)]
pub struct Limits {
    /// Show what this job makes of the shipped limits.
    pub job: Option<PathBuf>,
    /// Only this limit, by its id; can be given more than once, or with commas [default: all].
    #[arg(long, value_name = "LIMIT", value_delimiter = ',')]
    pub limit: Vec<String>,
    /// Whose shipped limits, where no job says it [default: us].
    #[arg(long, value_enum, conflicts_with = "job")]
    pub profile: Option<ProfileArg>,
}

/// Whose trade's figures.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum ProfileArg {
    /// United States.
    Us,
    /// Europe.
    Eu,
}

impl From<ProfileArg> for Profile {
    fn from(profile: ProfileArg) -> Self {
        match profile {
            ProfileArg::Us => Self::Us,
            ProfileArg::Eu => Self::Eu,
        }
    }
}
