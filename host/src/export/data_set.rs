//! Many jobs in one partitioned data set: tables of Apache Parquet whose folders say the job, the room and
//! the month, as Hive names them and engines such as DuckDB and Spark read them.
//!
//! ```text
//! samples/job=KEY/room=ROOM/month=2026-03/samples.parquet
//! events/job=KEY/room=ROOM/events.parquet
//! blocks/job=KEY/room=ROOM/blocks.parquet
//! jobs/job=KEY/job.parquet
//! ```
//!
//! Samples and events have the columns of [`samples`] and [`events`] without `room`, which the folder
//! says. Blocks are those of the archive, verbatim, and jobs are the job files: with the two a verdict can
//! be reached from the data set alone. A month is one of UTC.

use super::row::Origin;
use super::table::{Cell, Column, Kind};
use super::{ExportError, Log, Sink, events, samples};
use crate::view::utc_time;
use glueday_types::{Header, digest};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Stands in place of a month where samples have no time, as Hive has it.
pub const NO_MONTH: &str = "__HIVE_DEFAULT_PARTITION__";

/// A table of the data set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// One row for each sample.
    Samples,
    /// One row for each other entry of the log, and for what cannot be read.
    Events,
    /// One row for each block of a log, verbatim.
    Blocks,
    /// One row for each job, with its file.
    Jobs,
}

impl Table {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Samples, Self::Events, Self::Blocks, Self::Jobs];

    /// Its folder.
    #[must_use]
    pub const fn folder(self) -> &'static str {
        match self {
            Self::Samples => "samples",
            Self::Events => "events",
            Self::Blocks => "blocks",
            Self::Jobs => "jobs",
        }
    }

    /// The name of its files.
    #[must_use]
    pub const fn file(self) -> &'static str {
        match self {
            Self::Samples => "samples.parquet",
            Self::Events => "events.parquet",
            Self::Blocks => "blocks.parquet",
            Self::Jobs => "job.parquet",
        }
    }

    /// The columns of its files.
    #[must_use]
    pub fn columns(self) -> Vec<Column> {
        match self {
            Self::Samples => without_room(samples::columns(false, true)),
            Self::Events => without_room(events::columns(false, true)),
            Self::Blocks => vec![
                Column::text("logger", "id of the logger"),
                Column::text("logger_name", "name of the logger in the archive"),
                Column::whole("block", "", "number of the block"),
                Column { name: "bytes", kind: Kind::Bytes, unit: "", what: "the block, verbatim" },
                Column::text("sha256", "SHA-256 of the block, in hexadecimal digits"),
            ],
            Self::Jobs => vec![
                Column::text("site", "name of the site"),
                Column::text("time_zone", "time zone of the site, by its IANA name"),
                Column::text("job_file", "the job file, verbatim"),
                Column::whole("block_count", "", "how many rows its blocks are"),
            ],
        }
    }
}

/// Where a file of a job belongs within the data set.
#[must_use]
pub fn place(table: Table, job: &str, room: Option<&str>, month: Option<&str>) -> PathBuf {
    let mut place = of_job(table, job);
    if let Some(room) = room {
        place.push(format!("room={}", escaped(room)));
    }
    if let Some(month) = month {
        place.push(format!("month={month}"));
    }
    place.join(table.file())
}

/// The folder of a job in a table.
#[must_use]
pub fn of_job(table: Table, job: &str) -> PathBuf {
    Path::new(table.folder()).join(format!("job={}", escaped(job)))
}

/// A value as Hive writes it in the name of a folder: what has a meaning there stands as `%` and the two
/// digits of its ASCII code; letters beyond ASCII stay.
fn escaped(value: &str) -> String {
    let mut text = String::new();
    for c in value.chars() {
        let plain =
            c.is_ascii_alphanumeric() || " -_.".contains(c) || (!c.is_ascii() && !c.is_control());
        if plain {
            text.push(c);
        } else {
            // Writing to a string cannot fail.
            let _ = write!(text, "%{:02X}", u32::from(c));
        }
    }
    text
}

/// The months in which a log has samples, and [`NO_MONTH`] where some have no time.
#[must_use]
pub fn months(log: &Log<'_>) -> BTreeSet<String> {
    let samples =
        log.entries().filter(|logged| matches!(logged.entry, glueday_types::Entry::Sample(_)));
    samples.map(|logged| month(logged.time_s)).collect()
}

fn month(time_s: Option<i64>) -> String {
    let month = time_s.and_then(|time_s| utc_time(time_s).get(..7).map(str::to_owned));
    month.unwrap_or_else(|| NO_MONTH.to_owned())
}

fn without_room(mut columns: Vec<Column>) -> Vec<Column> {
    columns.retain(|column| column.name != ROOM);
    columns
}

/// The column that is a folder here.
const ROOM: &str = "room";

/// Passes on rows of samples or events without their room, and only those of one month where that is
/// asked for.
pub struct Part<'a> {
    sink: &'a mut dyn Sink,
    room_at: Option<usize>,
    month: Option<&'a str>,
    rows: u64,
}

impl<'a> Part<'a> {
    /// Of the table that these columns are of.
    #[must_use]
    pub fn of(sink: &'a mut dyn Sink, columns: &[Column], month: Option<&'a str>) -> Self {
        let room_at = columns.iter().position(|column| column.name == ROOM);
        Self { sink, room_at, month, rows: 0 }
    }

    /// How many rows it passed on.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.rows
    }
}

impl Sink for Part<'_> {
    fn row(&mut self, cells: &[Cell<'_>]) -> Result<(), ExportError> {
        if let Some(wanted) = self.month {
            let time_s =
                if let Some(Cell::Time(time_s)) = cells.first() { Some(*time_s) } else { None };
            if month(time_s) != wanted {
                return Ok(());
            }
        }
        let kept = cells.iter().enumerate().filter(|(at, _)| Some(*at) != self.room_at);
        let kept: Vec<Cell<'_>> = kept.map(|(_, cell)| cell.clone()).collect();
        self.rows += 1;
        self.sink.row(&kept)
    }

    fn finish(&mut self) -> Result<(), ExportError> {
        self.sink.finish()
    }
}

/// Writes the blocks of a log.
///
/// # Errors
/// Those of the sink.
pub fn write_blocks(
    blocks: &[Vec<u8>],
    origin: &Origin,
    sink: &mut dyn Sink,
) -> Result<(), ExportError> {
    for (at, bytes) in (0_i64..).zip(blocks) {
        // A header that cannot be read any more has no number: the place in the log says the same.
        let number = Header::from_bytes(bytes).map_or(at, |header| i64::from(header.block));
        sink.row(&[
            Cell::borrowed(&origin.logger),
            Cell::maybe(origin.name.as_deref()),
            Cell::Whole(number),
            Cell::Bytes(bytes),
            Cell::Text(sha256(bytes).into()),
        ])?;
    }
    Ok(())
}

/// SHA-256 as it stands in the table of blocks.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    digest(bytes).iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_named_as_hive_does() {
        for (name, folder) in [
            ("Hall", "Hall"),
            ("Bath / \"north\" – größte", "Bath %2F %22north%22 – größte"),
            ("a=b%c:d\\e+f", "a%3Db%25c%3Ad%5Ce%2Bf"),
            ("tab\there", "tab%09here"),
        ] {
            assert_eq!(escaped(name), folder);
        }
        assert_eq!(
            place(Table::Samples, "mill", Some("Hall"), Some("2026-03")),
            Path::new("samples/job=mill/room=Hall/month=2026-03/samples.parquet")
        );
        assert_eq!(place(Table::Jobs, "mill", None, None), Path::new("jobs/job=mill/job.parquet"));
        assert_eq!(month(Some(1_772_323_199)), "2026-02");
        assert_eq!(month(Some(1_772_323_200)), "2026-03");
        assert_eq!(month(None), NO_MONTH);
    }

    #[test]
    fn no_column_is_in_a_file_and_in_the_name_of_its_folder() {
        for table in Table::ALL {
            let names = table.columns();
            let clash = |name: &str| names.iter().any(|column| column.name == name);
            assert!(!["job", "room", "month"].into_iter().any(clash), "{table:?}");
        }
    }
}
