//! One row for each sample.

use std::borrow::Cow;

use super::log::{Log, Logged};
use super::row::{self, Origin, Span};
use super::table::{Cell, Column};
use super::{ExportError, Sink, words};
use crate::assess::corrected;
use crate::history::{Channel, History};
use crate::job::{Job, Zone};
use crate::physics::{air, wood};
use glueday_types::{Entry, Sample};
use jiff::tz::TimeZone;

/// How many samples are corrected at a time.
const BATCH: usize = 4096;

/// What was written, and what was not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows.
    pub rows: u64,
    /// Those of them without a time.
    pub undated: u64,
    /// Samples outside the span asked for.
    pub outside: u64,
    /// Samples without a time that were left out, because a span or only dated ones were asked for.
    pub undated_left_out: u64,
}

impl Counts {
    /// Adds those of another log.
    pub fn add(&mut self, other: Self) {
        self.rows += other.rows;
        self.undated += other.undated;
        self.outside += other.outside;
        self.undated_left_out += other.undated_left_out;
    }
}

/// What to make of a log.
#[derive(Clone, Debug)]
pub struct Ask<'a> {
    /// The job and the room in it, for its checks of the probes.
    pub room: Option<(&'a Job, &'a Zone)>,
    /// The zone of a column with local times.
    pub local: Option<&'a TimeZone>,
    /// The time asked for.
    pub span: Span,
    /// Leave out what has no time.
    pub dated_only: bool,
}

/// The columns. `local` adds the time on the clock of the site, `job` what a job knows: the room and
/// the readings corrected by the checks of their probes.
#[must_use]
pub fn columns(local: bool, job: bool) -> Vec<Column> {
    let mut columns = row::columns(local, job);
    columns.extend([
        Column::whole("interval_s", "s", "nominal sampling interval"),
        Column::real("slab_c", 2, "°C", "slab surface temperature, as logged"),
        Column::text("slab_absent", "why there is none"),
        Column::real("air_c", 2, "°C", "air temperature, as logged"),
        Column::text("air_absent", "why there is none"),
        Column::real("air_rh_pct", 2, "%", "relative humidity of the air over water, as logged"),
        Column::text("air_rh_absent", "why there is none"),
        Column::real("supply_c", 2, "°C", "supply temperature of the heating, as logged"),
        Column::text("supply_absent", "why there is none"),
    ]);
    if job {
        columns.extend([
            Column::real(
                "slab_corrected_c",
                2,
                "°C",
                "slab_c corrected by the checks of its probe",
            ),
            Column::real("air_corrected_c", 2, "°C", "air_c, likewise"),
            Column::real("air_rh_corrected_pct", 2, "%", "air_rh_pct, likewise"),
            Column::real("supply_corrected_c", 2, "°C", "supply_c, likewise"),
        ]);
    }
    columns.extend([
        Column::real("dew_point_c", 2, "°C", "dew point over water (WMO-No. 8, Magnus form)"),
        Column::real("dew_margin_k", 2, "K", "slab surface above the dew point"),
        Column::real("emc_pct", 2, "%", "moisture equilibrium of wood in this air (FPL-GTR-190)"),
        Column::real("vapor_pressure_pa", 1, "Pa", "water vapor pressure of the air (ASHRAE)"),
    ]);
    columns
}

/// Writes the samples of a log, in its own order.
///
/// # Errors
/// Those of the sink.
pub fn write(
    log: &Log<'_>,
    origin: &Origin,
    ask: &Ask<'_>,
    sink: &mut dyn Sink,
) -> Result<Counts, ExportError> {
    let mut counts = Counts::default();
    let mut batch: Vec<(Logged, Sample)> = Vec::new();
    for logged in log.entries() {
        let Entry::Sample(sample) = logged.entry else { continue };
        match logged.time_s {
            Some(time_s) if !ask.span.holds(time_s) => {
                counts.outside += 1;
                continue;
            }
            None if ask.dated_only || !ask.span.is_all() => {
                counts.undated_left_out += 1;
                continue;
            }
            Some(_) => {}
            None => counts.undated += 1,
        }
        // Corrections need times that never fall; where they do, another clock takes over.
        let falls = batch.last().is_some_and(|(last, _)| logged.time_s < last.time_s);
        if falls || batch.len() >= BATCH {
            counts.rows += flush(&mut batch, origin, ask, sink)?;
        }
        batch.push((logged, sample));
    }
    counts.rows += flush(&mut batch, origin, ask, sink)?;
    Ok(counts)
}

fn flush(
    batch: &mut Vec<(Logged, Sample)>,
    origin: &Origin,
    ask: &Ask<'_>,
    sink: &mut dyn Sink,
) -> Result<u64, ExportError> {
    let mut dated = History::default();
    for (logged, sample) in batch.iter() {
        if let Some(time_s) = logged.time_s {
            dated.push(time_s, logged.interval_s, sample);
        }
    }
    let dated = match ask.room {
        Some((job, zone)) => corrected(job, zone, &dated),
        None => Cow::Borrowed(&dated),
    };
    let mut cells = Vec::new();
    let mut at = 0;
    for (logged, sample) in batch.iter() {
        cells.clear();
        row::begin(&mut cells, origin, ask.local, Some(logged));
        as_logged(&mut cells, logged, sample);
        let best = if logged.time_s.is_some() {
            at += 1;
            Channel::ALL.map(|channel| dated.value(channel, at - 1).ok())
        } else if ask.room.is_none() {
            values(sample)
        } else {
            // Without a time nobody can say which check holds.
            [None; 4]
        };
        let [slab_c, air_c, rh_pct, supply_c] = best;
        if ask.room.is_some() {
            cells.extend([slab_c, air_c, rh_pct, supply_c].map(|value| Cell::real(value, 2)));
        }
        derived(&mut cells, slab_c, air_c.zip(rh_pct));
        sink.row(&cells)?;
    }
    let rows = batch.len() as u64;
    batch.clear();
    Ok(rows)
}

/// Slab, air, humidity, supply.
fn values(sample: &Sample) -> [Option<f64>; 4] {
    [
        sample.slab.ok().map(|value| value.celsius()),
        sample.air.ok().map(|value| value.celsius()),
        sample.air_rh.ok().map(|value| value.percent()),
        sample.supply.ok().map(|value| value.celsius()),
    ]
}

fn as_logged(cells: &mut Vec<Cell<'_>>, logged: &Logged, sample: &Sample) {
    let reasons = [sample.slab.err(), sample.air.err(), sample.air_rh.err(), sample.supply.err()];
    cells.push(Cell::Whole(i64::from(logged.interval_s)));
    for (value, reason) in values(sample).into_iter().zip(reasons) {
        cells.push(Cell::real(value, 2));
        cells.push(Cell::maybe(reason.map(words::absent)));
    }
}

/// What follows from slab and air; nothing outside the ranges in which the formulas hold.
fn derived(cells: &mut Vec<Cell<'_>>, slab_c: Option<f64>, air: Option<(f64, f64)>) {
    let of_air = |f: fn(f64, f64) -> Result<f64, _>| air.and_then(|(t, rh)| f(t, rh).ok());
    let margin_k =
        slab_c.zip(air).and_then(|(slab, (t, rh))| air::surface_margin_c(t, rh, slab).ok());
    cells.push(Cell::real(of_air(air::dew_point_c), 2));
    cells.push(Cell::real(margin_k, 2));
    cells.push(Cell::real(of_air(wood::emc_pct), 2));
    cells.push(Cell::real(of_air(air::vapor_pressure_pa), 1));
}
