//! What the two panels show, in the units of the job.

use super::Chart;
use super::panel::{Band, LimitLine, Panel, Series};
use super::series::Values;
use super::theme::Line;
use crate::assess::Step;
use crate::history::Channel;
use crate::limits::{Bound, LimitId, LimitUnit};
use crate::physics::{air, wood};
use crate::quantity::{Temperature, Units};

/// The longest gap across which a line is drawn, in seconds.
pub(super) fn gap_max_s(chart: &Chart<'_>) -> i64 {
    let hours = chart.limits.value(LimitId::GapMax).unwrap_or(0.0);
    // Saturates.
    #[allow(clippy::cast_possible_truncation)]
    let seconds = (hours * 3600.0).ceil() as i64;
    seconds
}

/// The panels, from top to bottom; the moisture of wood only when there is room.
pub(super) fn panels<'h>(chart: &Chart<'h>, has_room: bool) -> Vec<Panel<'h>> {
    let mut first = temperatures(chart);
    let far = |range: (f64, f64), supply: (f64, f64)| {
        let span = (range.1 - range.0).max(5.0);
        supply.1 > range.1 + span * 0.35 || supply.0 < range.0 - span * 0.35
    };
    let is_supply = |s: &Series<'_>| s.line == Line::Supply;
    let floor = first.series.iter().filter(|s| !is_supply(s)).filter_map(Series::extremes);
    let floor = floor.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    let supply = first.series.iter().find(|s| is_supply(s)).and_then(Series::extremes);
    let own = match (floor, supply) {
        (Some(floor), Some(supply)) if far(floor, supply) => Some(supply_panel(chart, &mut first)),
        _ => None,
    };
    let (rh, emc) = humidity(chart);
    let emc = Some(emc).filter(|emc| has_room && emc.series.iter().any(|s| !s.is_empty()));
    [Some(first), own, Some(rh), emc].into_iter().flatten().collect()
}

/// Takes the supply out of the first panel, where it would flatten all other lines.
fn supply_panel<'h>(chart: &Chart<'h>, first: &mut Panel<'h>) -> Panel<'h> {
    let (own, rest) = std::mem::take(&mut first.series)
        .into_iter()
        .partition(|series| series.line == Line::Supply);
    first.series = rest;
    let unit = unit(chart);
    Panel {
        title: format!("Heating supply, {unit}"),
        series: own,
        band: None,
        limits: limit_lines(chart, &[(LimitId::SupplyMax, "supply max")]),
        bounds: (f64::MIN, f64::MAX),
        share: 0.85,
    }
}

fn unit(chart: &Chart<'_>) -> &'static str {
    match chart.job.site.units {
        Units::Metric => "°C",
        Units::Us => "°F",
    }
}

/// Temperatures.
fn temperatures<'h>(chart: &Chart<'h>) -> Panel<'h> {
    let unit = unit(chart);
    let of = |line, name, channel| series(chart, line, name, |i| measured(chart, channel, i));
    let dew = |i| {
        let (air_c, rh_pct) =
            (measured(chart, Channel::Air, i)?, measured(chart, Channel::AirRh, i)?);
        air::dew_point_c(air_c, rh_pct).ok()
    };
    let series = vec![
        of(Line::Slab, "slab surface", Channel::Slab),
        of(Line::Air, "air", Channel::Air),
        series(chart, Line::Dew, "dew point", dew),
        of(Line::Supply, "supply", Channel::Supply),
    ];
    let (low, high, name) = match chart.assessment.step {
        Step::Membrane => {
            (LimitId::BarrierSurfaceMin, LimitId::BarrierSurfaceMax, "slab range for the barrier")
        }
        _ => (LimitId::LayingSurfaceMin, LimitId::LayingSurfaceMax, "slab range for laying"),
    };
    let mut limits = vec![(LimitId::SurfaceMax, "slab max")];
    let (mut band, mut half) = band(chart, (low, "slab min"), (high, "slab max for work"), name);
    if chart.assessment.step == Step::Service {
        // The laying range is no longer asked for.
        (band, half) = (None, Vec::new());
    }
    limits.append(&mut half);
    limits.push((LimitId::AirMin, "air min"));
    limits.push((LimitId::AirMax, "air max"));
    let limits = limit_lines(chart, &limits);
    let bounds = (f64::MIN, f64::MAX);
    Panel { title: format!("Temperature, {unit}"), series, band, limits, bounds, share: 2.1 }
}

/// Relative humidity of the air, and what it does to wood.
fn humidity<'h>(chart: &Chart<'h>) -> (Panel<'h>, Panel<'h>) {
    let rh = series(chart, Line::Rh, "air RH", |i| measured(chart, Channel::AirRh, i));
    let emc = series(chart, Line::Emc, "wood EMC", |i| {
        let (air_c, rh_pct) =
            (measured(chart, Channel::Air, i)?, measured(chart, Channel::AirRh, i)?);
        wood::emc_pct(air_c, rh_pct).ok()
    });
    let (band, mut limits) = band(
        chart,
        (LimitId::AirRhMin, "min for wood"),
        (LimitId::AirRhMax, "max for wood"),
        "range for wood",
    );
    match chart.assessment.step {
        Step::Membrane => limits.push((LimitId::BarrierRhMax, "barrier max")),
        Step::GlueDown => limits.push((LimitId::AdhesiveRhMax, "adhesive max")),
        Step::Traffic | Step::Sanding | Step::HeatUp | Step::Service => {}
    }
    let rh = Panel {
        title: "Air RH, %".to_owned(),
        series: vec![rh],
        band,
        limits: limit_lines(chart, &limits),
        bounds: (0.0, 100.0),
        share: 1.2,
    };
    let emc = Panel {
        title: "Wood EMC in this air, %".to_owned(),
        series: vec![emc],
        band: None,
        limits: Vec::new(),
        bounds: (0.0, 100.0),
        share: 0.75,
    };
    (rh, emc)
}

/// A band when both limits are known; else the one that is, to be drawn as a line.
fn band(
    chart: &Chart<'_>,
    (low, low_name): (LimitId, &'static str),
    (high, high_name): (LimitId, &'static str),
    name: &str,
) -> (Option<Band>, Vec<(LimitId, &'static str)>) {
    let value = |id: LimitId| chart.limits.value(id).map(|v| shown(chart, id.unit(), v));
    match (value(low), value(high)) {
        (Some(low_value), Some(high_value)) if low_value < high_value => {
            let show = |id| {
                chart
                    .limits
                    .get(id)
                    .map_or_else(String::new, |limit| limit.show(chart.job.site.units))
            };
            let label = format!("{name} {} to {}", show(low), show(high));
            (Some(Band { low: low_value, high: high_value, label }), Vec::new())
        }
        _ => (None, vec![(low, low_name), (high, high_name)]),
    }
}

/// The limits that are known, those of one value in one line.
fn limit_lines(chart: &Chart<'_>, wanted: &[(LimitId, &str)]) -> Vec<LimitLine> {
    let mut lines: Vec<LimitLine> = Vec::new();
    let mut names: Vec<String> = Vec::new();
    for (id, name) in wanted {
        let Some(limit) = chart.limits.get(*id) else { continue };
        let value = shown(chart, limit.unit, limit.value);
        let is_max = limit.bound == Bound::AtMost;
        let same = |line: &LimitLine| (line.value - value).abs() < 0.05 && line.is_max == is_max;
        let at = lines.iter().position(same).unwrap_or(lines.len());
        if at == lines.len() {
            lines.push(LimitLine { value, label: String::new(), lines: Vec::new(), is_max });
            names.push(String::new());
        }
        let (Some(line), Some(names)) = (lines.get_mut(at), names.get_mut(at)) else { continue };
        line.lines.push(line_of(*id));
        *names = if names.is_empty() { (*name).to_owned() } else { format!("{names}, {name}") };
        line.label = format!("{names} {}", limit.show(chart.job.site.units));
    }
    lines
}

/// The line that a limit of the panels holds for.
fn line_of(id: LimitId) -> Line {
    match id {
        LimitId::AirMin | LimitId::AirMax => Line::Air,
        LimitId::SupplyMax => Line::Supply,
        LimitId::AirRhMin | LimitId::AirRhMax | LimitId::BarrierRhMax | LimitId::AdhesiveRhMax => {
            Line::Rh
        }
        _ => Line::Slab,
    }
}

fn measured(chart: &Chart<'_>, channel: Channel, i: usize) -> Option<f64> {
    chart.history.value(channel, i).ok()
}

/// A held value in the unit shown.
fn shown(chart: &Chart<'_>, unit: LimitUnit, value: f64) -> f64 {
    match (unit, chart.job.site.units) {
        (LimitUnit::Celsius, Units::Us) => Temperature::from_celsius(value).fahrenheit(),
        _ => value,
    }
}

fn series<'h>(
    chart: &Chart<'h>,
    line: Line,
    name: &'static str,
    value: impl Fn(usize) -> Option<f64>,
) -> Series<'h> {
    let unit = match line {
        Line::Rh => LimitUnit::PercentRh,
        Line::Emc => LimitUnit::PercentMc,
        Line::Slab | Line::Air | Line::Supply | Line::Dew => LimitUnit::Celsius,
    };
    let range = chart.history.range(chart.from_s, chart.to_s);
    let last = match range.clone().rev().find_map(&value) {
        Some(value) => unit.show(value, chart.job.site.units),
        None if matches!(line, Line::Dew | Line::Emc) => "not computed".to_owned(),
        None => "not measured".to_owned(),
    };
    let in_unit = |i| Some(shown(chart, unit, value(range.start + i)?));
    let time_s = chart.history.time_s.get(range.clone()).unwrap_or_default();
    Series { line, name, values: Values::new(time_s, in_unit, gap_max_s(chart)), last }
}
