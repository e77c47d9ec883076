//! What the rows of both tables begin with.

use super::log::Logged;
use super::table::{Cell, Column, Kind};
use jiff::Timestamp;
use jiff::tz::TimeZone;

/// Where rows come from.
#[derive(Clone, Debug)]
pub struct Origin {
    /// Id of the logger, 16 hexadecimal digits.
    pub logger: String,
    /// The name that the archive gives it.
    pub name: Option<String>,
    /// The room of the job; tables without a job have no such column.
    pub room: Option<String>,
}

/// The time that is asked for, in seconds of UTC, both ends included; open where nothing is said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Span {
    /// From here on.
    pub from_s: Option<i64>,
    /// Up to here.
    pub to_s: Option<i64>,
}

impl Span {
    /// Whether it is open at both ends, so that rows without a time belong to it as well.
    #[must_use]
    pub fn is_all(self) -> bool {
        self == Self::default()
    }

    /// Whether a moment lies in it.
    #[must_use]
    pub fn holds(self, time_s: i64) -> bool {
        self.from_s.is_none_or(|from_s| time_s >= from_s)
            && self.to_s.is_none_or(|to_s| time_s <= to_s)
    }
}

/// The first columns. `local` and `room` add one each.
pub(super) fn columns(local: bool, room: bool) -> Vec<Column> {
    let mut columns = vec![Column {
        name: "time_utc",
        kind: Kind::Time,
        unit: "RFC 3339, UTC",
        what: "when it was written; empty where no clock sync dates the boot",
    }];
    if local {
        columns.push(Column {
            name: "time_local",
            kind: Kind::Text,
            unit: "RFC 3339",
            what: "the same on the clock of the site, with its offset from UTC",
        });
    }
    columns.push(Column::real(
        "time_uncertainty_s",
        1,
        "s",
        "how far the time may be off, by the distance from the next clock sync and 50 ppm of drift",
    ));
    columns.push(Column::text("logger", "id of the logger"));
    columns.push(Column::text("logger_name", "name of the logger in the archive"));
    if room {
        columns.push(Column::text("room", "room of the job"));
    }
    columns.push(Column::whole("boot", "", "number of the boot in which it was written"));
    columns.push(Column::whole("uptime_s", "s", "seconds since that boot"));
    columns
}

/// The cells of these columns.
pub(super) fn begin<'a>(
    cells: &mut Vec<Cell<'a>>,
    origin: &'a Origin,
    local: Option<&TimeZone>,
    logged: Option<&Logged>,
) {
    let time_s = logged.and_then(|logged| logged.time_s);
    cells.push(time_s.map_or(Cell::Absent, Cell::Time));
    if let Some(zone) = local {
        let text = time_s.and_then(|time_s| local_time(time_s, zone));
        cells.push(text.map_or(Cell::Absent, |text| Cell::Text(text.into())));
    }
    cells.push(Cell::real(logged.and_then(|logged| logged.uncertainty_s), 1));
    cells.push(Cell::borrowed(&origin.logger));
    cells.push(Cell::maybe(origin.name.as_deref()));
    if let Some(room) = &origin.room {
        cells.push(Cell::borrowed(room));
    }
    cells.push(Cell::whole(logged.map(|logged| logged.boot)));
    cells.push(Cell::whole(logged.map(|logged| logged.at_s)));
}

fn local_time(time_s: i64, zone: &TimeZone) -> Option<String> {
    let time = Timestamp::from_second(time_s).ok()?;
    Some(time.display_with_offset(zone.to_offset(time)).to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_holds_both_of_its_ends() {
        let span = Span { from_s: Some(10), to_s: Some(20) };
        assert!(!span.holds(9) && span.holds(10) && span.holds(20) && !span.holds(21));
        assert!(Span::default().holds(i64::MIN) && Span::default().is_all() && !span.is_all());
    }
}
