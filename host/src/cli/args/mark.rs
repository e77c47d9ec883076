//! What `mark` and `marks` can be told.

use super::{Port, Question, help};
use clap::{Args, ValueEnum};
use glueday_types::MarkKind;

/// `mark`
#[derive(Debug, Args)]
#[command(after_long_help = help::MARK)]
pub struct Mark {
    /// What is done now.
    #[arg(value_enum, value_name = "MILESTONE")]
    pub milestone: MarkArg,
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
}

/// `marks`
#[derive(Debug, Args)]
#[command(after_long_help = help::MARKS)]
pub struct Marks {
    /// Of which job and rooms, up to when.
    #[command(flatten)]
    pub question: Question,
}

/// What can be marked.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum MarkArg {
    /// The wood was brought in.
    Delivered,
    /// The last coat of the moisture barrier was rolled.
    BarrierRolled,
    /// The first adhesive was spread.
    GlueStarted,
    /// The last board was laid in the adhesive.
    GlueFinished,
    /// Sanding started.
    Sanded,
    /// The heat was turned back up.
    HeatOn,
    /// The same as a press of the logger's button: it does not say what for.
    Button,
}

impl From<MarkArg> for MarkKind {
    fn from(mark: MarkArg) -> Self {
        match mark {
            MarkArg::Delivered => Self::Delivered,
            MarkArg::BarrierRolled => Self::BarrierRolled,
            MarkArg::GlueStarted => Self::GlueStarted,
            MarkArg::GlueFinished => Self::GlueFinished,
            MarkArg::Sanded => Self::Sanded,
            MarkArg::HeatOn => Self::HeatOn,
            MarkArg::Button => Self::Button,
        }
    }
}
