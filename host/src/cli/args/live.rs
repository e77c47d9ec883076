//! What `live` can be told.

use super::{Port, StepArg, help};
use clap::Args;
use std::path::PathBuf;

/// `live`
#[derive(Debug, Args)]
#[command(after_long_help = help::LIVE)]
pub struct Live {
    /// The job file; the connected logger must be that of one of its rooms.
    pub job: PathBuf,
    /// The step that is to start.
    #[arg(long, value_enum, default_value_t = StepArg::GlueDown)]
    pub step: StepArg,
    /// Where the logger is connected.
    #[command(flatten)]
    pub port: Port,
    /// Ask the logger this often: about 150 bytes, and what is new in its log.
    #[arg(long, value_name = "TIME", default_value = "10 s")]
    pub every: String,
    /// Refresh once and end; a line that does not answer is an error then.
    #[arg(long)]
    pub once: bool,
    /// End after this time, such as "8 h" [default: when somebody ends it]
    #[arg(long = "for", value_name = "TIME", conflicts_with = "once")]
    pub until: Option<String>,
}
