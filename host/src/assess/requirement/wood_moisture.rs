//! The wood is as moist as the air of the room will keep it.

use jiff::civil::Date;

use super::entered::{area, of_zone, started_areas};
use super::{Judgement, last_day, none_in_span, settle};
use crate::assess::scene::hours;
use crate::assess::window::stands_s;
use crate::assess::{Figure, Finding, Missing, Requirement, Scene, Step};
use crate::history::Channel;
use crate::job::MeterTarget;
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::OutOfRange;
use crate::physics::wood::{emc_at_surface_pct, emc_pct};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "wood-moisture",
    title: "wood moisture against the air",
    steps: &[Step::GlueDown],
    rule: "Moisture meter readings of the flooring on the latest day that has any, not before the wood was \
           delivered: enough of them for each 1000 ft² started, their mean within the range, and no \
           further than the limit from the equilibrium of wood with the air of the room (mean over time \
           of the last 24 h; Wood Handbook FPL-GTR-190, equation 4-5, good to about 1 % for a real \
           board). Time that no reading stands for is taken at whichever end of the air's range is \
           further from the wood, so that a hole in the log never brings them together. A warning, never a verdict: the same against the equilibrium at the warm slab \
           surface, where the air is drier.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Air, Channel::AirRh])?;
    let (day, readings) = latest(scene)?;
    let count = readings.len();
    // There is at least one, and never more than fit into a file.
    #[allow(clippy::cast_precision_loss)]
    let count = count as f64;
    let mean = readings.iter().sum::<f64>() / count;
    let per_area = scene.limit(LimitId::MeterReadings)?;
    let needed = per_area.value * started_areas(area(scene)?);
    let enough = Figure::new(&ResolvedLimit { value: needed, ..per_area.clone() }, count, 0.0);
    let equilibrium = mean_of_last_day(scene, |air_c, rh_pct, _| Some(emc_pct(air_c, rh_pct)))?
        .ok_or_else(|| none_in_span(Channel::AirRh))?
        .furthest_from(mean, ends_of_range(scene)?);
    let difference_max = scene.limit(LimitId::McDifferenceMax)?;
    let low = Figure::new(scene.limit(LimitId::WoodMcMin)?, mean, 0.0);
    let high = Figure::new(scene.limit(LimitId::WoodMcMax)?, mean, 0.0);
    let apart = Figure::new(difference_max, (mean - equilibrium).abs(), 0.0);
    let nearest = if low.margin < high.margin { low } else { high };
    let shown = format!("the wood has {mean:.1} %, the air would keep it at {equilibrium:.1} %");
    let finding = if !enough.is_met() {
        let because = format!("{count:.0} readings, and the area needs {needed:.0}");
        Finding::of(enough, because).with_todo("take more readings of the flooring, all over it")
    } else if !nearest.is_met() {
        let because = format!("the wood is outside the range at milling; {shown}");
        Finding::of(nearest, because)
            .with_todo("ask the maker of the wood; let it acclimate and measure again")
    } else if apart.is_met() {
        Finding::of(apart, shown)
    } else {
        Finding::of(apart, shown).with_todo(
            "hold the room as it will be lived in, let the wood acclimate, measure again",
        )
    };
    Ok(warned(scene, finding, mean, difference_max, day))
}

/// With what is to be known besides.
fn warned(
    scene: &Scene<'_>,
    mut finding: Finding,
    mean: f64,
    difference_max: &ResolvedLimit,
    day: Date,
) -> Finding {
    let at_surface = mean_of_last_day(scene, |air_c, rh_pct, slab_c| {
        Some(emc_at_surface_pct(air_c, rh_pct, slab_c?))
    });
    if let Ok(Some(at_surface)) = at_surface
        && let at_surface = at_surface.mean
        && !Figure::new(difference_max, (mean - at_surface).abs(), 0.0).is_met()
    {
        finding.warnings.push(format!(
            "at the slab surface the air would keep wood at {at_surface:.1} %: its underside will \
             follow that"
        ));
    }
    let today = local_day(scene, scene.at_s);
    if today.is_some_and(|today| today.yesterday().is_ok_and(|yesterday| day < yesterday)) {
        finding.warnings.push(format!("the wood was last measured on {day}"));
    }
    finding
}

/// The readings of the latest day that counts.
fn latest(scene: &Scene<'_>) -> Result<(Date, Vec<f64>), Missing> {
    let today = local_day(scene, scene.at_s);
    let delivered = scene.milestones().delivered.map(|time| time.as_second());
    let delivered = delivered.and_then(|time_s| local_day(scene, time_s));
    let days = || {
        scene.job.meter_readings.iter().filter_map(move |day| {
            let date = day.date?;
            let counts = day.of == MeterTarget::Wood
                && of_zone(scene, day.room.as_deref())
                && today.is_some_and(|today| date <= today)
                && delivered.is_none_or(|delivered| date >= delivered);
            counts.then_some((date, &day.readings))
        })
    };
    let none = || Missing {
        because: "the job has no dated moisture readings of the delivered wood".to_owned(),
        todo: "measure the flooring and enter [[meter-reading]] with its date in the job file"
            .to_owned(),
    };
    let latest = days().map(|(date, _)| date).max().ok_or_else(none)?;
    let readings: Vec<f64> = days()
        .filter(|(date, _)| *date == latest)
        .flat_map(|(_, readings)| readings.iter().map(|reading| reading.percent()))
        .collect();
    if readings.is_empty() { Err(none()) } else { Ok((latest, readings)) }
}

fn local_day(scene: &Scene<'_>, time_s: i64) -> Option<Date> {
    let time = jiff::Timestamp::from_second(time_s).ok()?;
    Some(scene.job.local(time).date())
}

/// The equilibrium of wood at the dry and at the damp end of the air's range.
fn ends_of_range(scene: &Scene<'_>) -> Result<[f64; 2], Missing> {
    let at = |air: LimitId, rh: LimitId| {
        emc_pct(scene.limit(air)?.value, scene.limit(rh)?.value)
            .map_err(|error| super::beyond_formula(&error))
    };
    Ok([at(LimitId::AirMax, LimitId::AirRhMin)?, at(LimitId::AirMin, LimitId::AirRhMax)?])
}

/// A mean over the part of a span that readings stand for.
struct Mean {
    mean: f64,
    /// That part, 0 to 1.
    share: f64,
}

impl Mean {
    /// The mean over the whole span with the rest at one of two ends, whichever leads further from
    /// `from`.
    fn furthest_from(&self, from: f64, ends: [f64; 2]) -> f64 {
        let whole = ends.map(|end| self.mean * self.share + end * (1.0 - self.share));
        let [a, b] = whole;
        if (a - from).abs() > (b - from).abs() { a } else { b }
    }
}

/// The mean over time of the last day, from the samples that read air and RH; `None` when there is
/// none.
///
/// # Errors
/// [`Missing`] when a reading is beyond the formula: then the probe has failed.
fn mean_of_last_day(
    scene: &Scene<'_>,
    of: impl Fn(f64, f64, Option<f64>) -> Option<Result<f64, OutOfRange>>,
) -> Result<Option<Mean>, Missing> {
    let span = last_day(scene);
    let history = scene.history;
    let (mut sum, mut stood_h) = (0.0, 0.0);
    let mut add = |value: f64, stands_s: i64| {
        sum += value * hours(stands_s);
        stood_h += hours(stands_s);
    };
    let mut before: Option<((i64, i64), f64)> = None;
    let within = history.range(span.from_s, span.to_s);
    let mut any = false;
    // The one before the day may stand for its beginning.
    for i in within.start.saturating_sub(1)..within.end {
        let (Ok(air_c), Ok(rh_pct), Some(&time_s), Some(&interval_s)) = (
            history.value(Channel::Air, i),
            history.value(Channel::AirRh, i),
            history.time_s.get(i),
            history.interval_s.get(i),
        ) else {
            continue;
        };
        let value = match of(air_c, rh_pct, history.value(Channel::Slab, i).ok()) {
            None => continue,
            Some(value) => value.map_err(|error| super::beyond_formula(&error))?,
        };
        if let Some((point, value_before)) = before {
            add(value_before, stands_s(point, time_s, span.from_s));
        }
        any |= time_s >= span.from_s;
        before = Some(((time_s, i64::from(interval_s)), value));
    }
    let Some((point, value)) = before.filter(|_| any) else { return Ok(None) };
    add(value, stands_s(point, span.to_s, span.from_s));
    // A single sample at the very time asked about stands for nothing yet, but it is one.
    let mean = if stood_h > 0.0 { sum / stood_h } else { value };
    Ok(Some(Mean { mean, share: (stood_h / span.hours()).min(1.0) }))
}
