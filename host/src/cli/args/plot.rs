//! What `plot` takes.

use super::Question;
use clap::Args;
use std::path::PathBuf;

/// `plot`
#[derive(Debug, Args)]
#[command(
    after_long_help = "Examples:\n  glueday plot hall.toml --last \"14 d\" --output hall.png\n  \
    glueday plot hall.toml --room Bath --terminal\n  \
    glueday plot hall.toml --from \"2026-03-16 06:00\" --to \"2026-03-17 06:00\" \\\n    \
    --size phone --dark --output night.png\n\n\
    Times are on the clock of the site, or in UTC with a Z. Values are in the units of the job.\n\
    Exit codes: 0 go, 1 wait, 2 error."
)]
pub struct Plot {
    /// What to ask.
    #[command(flatten)]
    pub question: Question,
    /// The picture: a file that ends in .png or .svg. With several rooms there is one for each, with
    /// the room's name put in.
    #[arg(long, short, value_name = "FILE", required_unless_present = "terminal")]
    pub output: Option<PathBuf>,
    /// Write the chart as text, as wide as the terminal: without colours into a pipe, and in ASCII
    /// letters when the locale (LC_ALL, LC_CTYPE, LANG) is not UTF-8.
    #[arg(long, conflicts_with = "json")]
    pub terminal: bool,
    /// Show from this time on [default: the start of the log].
    #[arg(long, value_name = "TIME", conflicts_with = "last")]
    pub from: Option<String>,
    /// Show up to this time [default: the time asked about].
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// Show this much time up to the end, such as "14 d".
    #[arg(long, value_name = "TIME")]
    pub last: Option<String>,
    /// Size of the picture: in pixels, or one of phone (upright, 1080x2760), a4 (upright, 300 dpi)
    /// and a4-landscape.
    #[arg(long, value_name = "WIDTHxHEIGHT|NAME", default_value = "1400x1100")]
    pub size: String,
    /// Size of letters and lines in per cent of those that suit the size, 50 to 400.
    #[arg(long, value_name = "PERCENT", default_value_t = 100,
        value_parser = clap::value_parser!(u32).range(50..=400))]
    pub letters: u32,
    /// Light lines on a dark ground.
    #[arg(long)]
    pub dark: bool,
}
