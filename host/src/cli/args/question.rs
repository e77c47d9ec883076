//! What is asked of a job: its step, time and rooms; and `check`, which takes nothing else.

use super::help;
use crate::assess::Step;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// What to ask, and of which job.
#[derive(Debug, Args)]
pub struct Question {
    /// The job file.
    pub job: PathBuf,
    /// The step that is to start.
    #[arg(long, value_enum, default_value_t = StepArg::GlueDown)]
    pub step: StepArg,
    /// Time to ask about: on the clock of the site ("2026-03-18 08:00"), in UTC
    /// ("2026-03-18T14:00Z"), "now", or "last" for the end of the log.
    #[arg(long, value_name = "TIME", default_value = "now")]
    pub at: String,
    /// Only this room of the job; can be given more than once [default: all].
    #[arg(long, value_name = "NAME")]
    pub room: Vec<String>,
}

/// A step of the work.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum StepArg {
    /// Roll the moisture barrier.
    Membrane,
    /// Glue down the floor.
    GlueDown,
    /// Walk on the floor.
    Traffic,
    /// Sand the floor.
    Sanding,
    /// Turn the heat back up.
    HeatUp,
    /// Keep the floor in service.
    Service,
}

impl From<StepArg> for Step {
    fn from(step: StepArg) -> Self {
        match step {
            StepArg::Membrane => Self::Membrane,
            StepArg::GlueDown => Self::GlueDown,
            StepArg::Traffic => Self::Traffic,
            StepArg::Sanding => Self::Sanding,
            StepArg::HeatUp => Self::HeatUp,
            StepArg::Service => Self::Service,
        }
    }
}

/// `check`
#[derive(Debug, Args)]
#[command(after_long_help = help::CHECK)]
pub struct Check {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// Explain a requirement: rule, figures, spans, layers and sources of its limits. Can be given
    /// more than once, or with commas; without a name it lists the requirements of the step.
    #[arg(
        long,
        value_name = "REQUIREMENT",
        num_args = 0..=1,
        default_missing_value = "",
        value_delimiter = ','
    )]
    pub why: Vec<String>,
}
