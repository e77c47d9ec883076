//! What `import` takes.

use super::help;
use clap::Args;
use std::path::PathBuf;

/// `import`
#[derive(Debug, Args)]
#[command(after_long_help = help::IMPORT)]
pub struct Import {
    /// The file.
    pub file: PathBuf,
    /// Name under which job files refer to it, as if it were a logger.
    #[arg(long, value_name = "NAME")]
    pub name: String,
    /// What the columns hold.
    #[arg(
        long,
        value_name = "CHANNEL=COLUMN",
        help = "What a column holds: slab, air, rh or supply, and time or date, as CHANNEL=COLUMN or \
                CHANNEL=COLUMN[UNIT]; the column by its name or its number from 1, or none; units C, F, \
                % or fraction"
    )]
    pub column: Vec<String>,
    /// Time zone of the file's times: an IANA name, or a fixed offset such as +02:00 [default: what
    /// the times say themselves].
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// A word or number that stands for no reading; can be given more than once.
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub missing: Vec<String>,
    /// What stands between cells: comma, semicolon, tab or one character [default: as the file reads].
    #[arg(long, value_name = "MARK")]
    pub delimiter: Option<String>,
    /// Decimal mark: point or comma [default: as the file reads].
    #[arg(long, value_name = "MARK")]
    pub decimal: Option<String>,
    /// How times are written: ymd, dmy, mdy, unix-s, unix-ms, or a pattern such as "%d %b %Y %H:%M"
    /// [default: as the file reads, where it can be read in one way only].
    #[arg(long, value_name = "FORMAT")]
    pub time_format: Option<String>,
    /// Line of the first data row, from 1 [default: the first that reads as data].
    #[arg(long, value_name = "LINE")]
    pub first_row: Option<u64>,
}
