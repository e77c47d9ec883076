//! The arguments of `export`.

use crate::export::Format;
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// `export`
#[derive(Debug, Args)]
#[command(
    group(clap::ArgGroup::new("logs").required(true).multiple(true).args(["job", "logger"])),
    after_long_help = EXPORT_HELP
)]
pub struct Export {
    /// The job file: the logs of its rooms, also corrected by the checks of their probes.
    pub job: Option<PathBuf>,
    /// A logger or imported file of the archive, by its name or id, in place of a job; can be given
    /// more than once.
    #[arg(long, value_name = "NAME", conflicts_with = "job")]
    pub logger: Vec<String>,
    /// Only this room of the job; can be given more than once [default: all].
    #[arg(long, value_name = "NAME", conflicts_with = "logger")]
    pub room: Vec<String>,
    /// The table of samples: a file that ends in .csv, .jsonl or .parquet, or - for standard output;
    /// needed where no --data-set is.
    #[arg(
        long,
        short,
        value_name = "FILE",
        allow_hyphen_values = true,
        required_unless_present = "data_set"
    )]
    pub output: Option<PathBuf>,
    /// A folder for many jobs, in place of one table: Parquet in folders by job, room and month, with the
    /// blocks and the job file beside; made when it is not there.
    #[arg(
        long,
        value_name = "FOLDER",
        requires = "job",
        conflicts_with_all = [
            "output", "logger", "room", "format", "events", "from", "to", "last", "local_time",
            "dated_only"
        ]
    )]
    pub data_set: Option<PathBuf>,
    /// Format, where the output has no ending that says it [default: by the ending].
    #[arg(long, value_enum)]
    pub format: Option<FormatArg>,
    /// A second table [default: none]: boots, clock syncs, marks, probe faults, and what of the log cannot be read.
    #[arg(long, value_name = "FILE")]
    pub events: Option<PathBuf>,
    /// From this time on: on the clock of the site ("2026-03-18 08:00"), or in UTC
    /// (2026-03-18T14:00Z) [default: the whole log].
    #[arg(long, value_name = "TIME", conflicts_with = "last")]
    pub from: Option<String>,
    /// Up to this time, such as "2026-03-18 08:00" [default: the end of the log].
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// This much time up to the end, such as "14 d" [default: the whole log].
    #[arg(long, value_name = "TIME")]
    pub last: Option<String>,
    /// Add a column with the time on the clock of the site.
    #[arg(long)]
    pub local_time: bool,
    /// Whose clock that is, where no job says it: an IANA name, or an offset such as
    /// +02:00 [default: the clock of the job].
    #[arg(long, value_name = "ZONE", conflicts_with = "job", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// Leave out samples that no clock sync dates, so that the table can be imported.
    #[arg(long)]
    pub dated_only: bool,
}

/// Format of a table.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum FormatArg {
    /// Comma-separated values (RFC 4180).
    Csv,
    /// JSON Lines: one object a row.
    Jsonl,
    /// Apache Parquet.
    Parquet,
}

impl From<FormatArg> for Format {
    fn from(format: FormatArg) -> Self {
        match format {
            FormatArg::Csv => Self::Csv,
            FormatArg::Jsonl => Self::JsonLines,
            FormatArg::Parquet => Self::Parquet,
        }
    }
}

/// Examples and what the columns are.
const EXPORT_HELP: &str = "\
Examples:
  glueday export hall.toml -o hall.csv
  glueday export hall.toml --room Hall --last \"14 d\" --local-time \\
      -o hall.parquet
  glueday export --logger \"hall logger\" -o - --format jsonl \\
      --events events.jsonl
  glueday export hall.toml --data-set fleet/

One row for each sample. The columns have their units last in their names: slab_c, air_c, air_rh_pct \
and supply_c are as logged, those with `corrected` after the checks of the probes (with a job only), \
and dew_point_c, dew_margin_k, emc_pct and vapor_pressure_pa follow from them. A reading that is \
missing is an empty cell (null), and the column `..._absent` beside it says why. A sample that no \
clock sync dates has no time, and is left out where --from, --to, --last or --dated-only asks for \
times. --json lists all columns.

A data set has four tables: samples and events, blocks (the log itself) and jobs (the job file), each in \
folders job=.../room=.../month=... as Hive names them. The job is called by the name of its file, and each \
export of it replaces its own files only. `check -` answers from blocks and jobs.

Exit codes: 0 done, 2 error.";
