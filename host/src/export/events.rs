//! One row for each entry of the log that is not a sample, and for each place that cannot be read.

use super::log::Log;
use super::row::{self, Origin, Span};
use super::table::{Cell, Column, Kind};
use super::{ExportError, Sink, words};
use crate::history::{Damage, Damaged};
use glueday_types::Entry;
use jiff::tz::TimeZone;

/// The columns; the arguments are those of [`super::samples::columns`].
#[must_use]
pub fn columns(local: bool, job: bool) -> Vec<Column> {
    let mut columns = row::columns(local, job);
    columns.extend([
        Column::text(
            "event",
            "boot, clock-set, mark, interval-changed, probe-failed, probe-restored, power-low, or a \
             place that cannot be read: bytes-damaged, header-damaged, blocks-missing, chain-broken, \
             entries-unknown",
        ),
        Column::text("reason", "why the logger booted or the probe failed"),
        Column::text("firmware", "version that booted"),
        Column::text("mark", "what was marked"),
        Column::text("probe", "probe that failed or came back"),
        Column::whole("new_interval_s", "s", "sampling interval from here on"),
        Column::whole("power_mv", "mV", "voltage of the logger's own supply"),
        Column {
            name: "set_to_utc",
            kind: Kind::Time,
            unit: "RFC 3339, UTC",
            what: "what the logger was told at a clock-set",
        },
        Column::whole("block", "", "block that cannot be read"),
        Column::text("detail", "what is wrong with it"),
    ]);
    columns
}

/// Writes the events of a log in its own order, and then its damage. Returns the number of rows.
///
/// What has no time is left out where a span is asked for; damage never is.
///
/// # Errors
/// Those of the sink.
pub fn write(
    log: &Log<'_>,
    damaged: &[Damaged],
    origin: &Origin,
    local: Option<&TimeZone>,
    span: Span,
    sink: &mut dyn Sink,
) -> Result<u64, ExportError> {
    let mut rows = 0;
    let mut cells = Vec::new();
    for logged in log.entries() {
        let wanted = logged.time_s.map_or_else(|| span.is_all(), |time_s| span.holds(time_s));
        let Some(event) = Event::of(&logged.entry).filter(|_| wanted) else { continue };
        cells.clear();
        row::begin(&mut cells, origin, local, Some(&logged));
        event.cells(&mut cells);
        sink.row(&cells)?;
        rows += 1;
    }
    for damaged in damaged {
        cells.clear();
        row::begin(&mut cells, origin, local, None);
        Event::of_damage(damaged).cells(&mut cells);
        sink.row(&cells)?;
        rows += 1;
    }
    Ok(rows)
}

/// The cells behind the first ones.
#[derive(Default)]
struct Event {
    event: &'static str,
    reason: Option<&'static str>,
    firmware: Option<String>,
    mark: Option<&'static str>,
    probe: Option<&'static str>,
    interval_s: Option<u16>,
    power_mv: Option<u16>,
    set_to_s: Option<i64>,
    block: Option<u32>,
    detail: Option<String>,
}

impl Event {
    fn of(entry: &Entry) -> Option<Self> {
        let none = Self::default();
        Some(match *entry {
            Entry::Sample(_) => return None,
            Entry::Boot { reason, firmware: (major, minor, patch), .. } => Self {
                event: "boot",
                reason: Some(words::boot(reason)),
                firmware: Some(format!("{major}.{minor}.{patch}")),
                ..none
            },
            Entry::ClockSet { utc_s, .. } => {
                Self { event: "clock-set", set_to_s: Some(utc_s), ..none }
            }
            Entry::Mark { kind, .. } => {
                Self { event: "mark", mark: Some(crate::assess::marks::mark_name(kind)), ..none }
            }
            Entry::SettingsChanged { interval_s, .. } => {
                Self { event: "interval-changed", interval_s: Some(interval_s), ..none }
            }
            Entry::ProbeChanged { probe, state, .. } => Self {
                event: if state.is_ok() { "probe-restored" } else { "probe-failed" },
                probe: Some(words::probe(probe)),
                reason: state.err().map(words::absent),
                ..none
            },
            Entry::PowerLow { supply_mv, .. } => {
                Self { event: "power-low", power_mv: Some(supply_mv), ..none }
            }
        })
    }

    fn of_damage(damaged: &Damaged) -> Self {
        let (event, detail) = match &damaged.what {
            Damage::Bytes { from, to } => {
                ("bytes-damaged", format!("bytes {from} up to {to} of the block"))
            }
            Damage::Header(error) => ("header-damaged", error.to_string()),
            Damage::Missing { blocks } => {
                ("blocks-missing", format!("{blocks} blocks from this one on"))
            }
            Damage::ChainBroken => {
                ("chain-broken", "not the one that the next block was chained to".to_owned())
            }
            Damage::UnknownEntries(count) => {
                ("entries-unknown", format!("{count} entries of a newer kind"))
            }
        };
        let block = Some(damaged.block);
        Self { event, block, detail: Some(detail), ..Self::default() }
    }

    fn cells(self, cells: &mut Vec<Cell<'_>>) {
        let owned = |text: Option<String>| text.map_or(Cell::Absent, |t| Cell::Text(t.into()));
        cells.extend([
            Cell::borrowed(self.event),
            Cell::maybe(self.reason),
            owned(self.firmware),
            Cell::maybe(self.mark),
            Cell::maybe(self.probe),
            Cell::whole(self.interval_s),
            Cell::whole(self.power_mv),
            self.set_to_s.map_or(Cell::Absent, Cell::Time),
            Cell::whole(self.block),
            owned(self.detail),
        ]);
    }
}
