//! What `live` can be told.

use super::{Port, StepArg};
use clap::Args;
use std::path::PathBuf;

/// `live`
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  glueday live hall.toml --port /dev/ttyACM0\n  \
    glueday live hall.toml --port tcp:192.0.2.7:4001 --step sanding --every \"1 min\"\n  \
    glueday live hall.toml --once\n  \
    glueday live hall.toml --for \"8 h\" --json > hall.jsonl\n\n\
    What the logger has that the archive lacks is pulled, as `pull` does, and judged as `check` does.\n\
    q or Ctrl-C ends it. When standard output is no terminal, each refresh is one line; with --json it is\n\
    one object a line.\n\n\
    Exit codes: of the last verdict 0 go, 1 wait; 2 error, or nothing was judged.")]
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
    /// End after this time.
    #[arg(long = "for", value_name = "TIME", conflicts_with = "once")]
    pub until: Option<String>,
}
