//! What the job says of the concrete and of the area, as several requirements need it.

use jiff::tz::TimeZone;

use crate::assess::{Missing, Scene, Span};
use crate::job::{Binder, ConcreteKind};
use crate::limits::{LimitId, TEST_AREA};
use crate::quantity::Area;

/// From when on the concrete is taken to age, in seconds of UTC: the end of the day of the pour, on
/// the clock of the site. The job gives only the day, and concrete placed late in the day is no
/// older than that.
pub(super) fn poured_s(scene: &Scene<'_>) -> Result<i64, Missing> {
    let poured = scene.job.concrete.poured.ok_or_else(|| Missing {
        because: "the job does not say when the concrete was poured".to_owned(),
        todo: "enter `poured` under [concrete] in the job file".to_owned(),
    })?;
    let zone: TimeZone = scene.job.site.time_zone.clone();
    let day_after = poured.tomorrow().and_then(|day| day.to_zoned_datetime(zone));
    day_after.map(|time| time.timestamp().as_second()).map_err(|_| Missing {
        because: "the day of the pour is at the end of the calendar".to_owned(),
        todo: "check `poured` under [concrete] in the job file".to_owned(),
    })
}

/// How old the concrete must be before it is first heated. Of an unknown kind it is taken for the
/// one that has to wait longer.
pub(super) fn run_in_age(kind: Option<ConcreteKind>) -> LimitId {
    match kind.map(ConcreteKind::binder) {
        Some(Binder::CalciumSulphate) => LimitId::RunInAgeCalciumSulphate,
        Some(Binder::Cement) | None => LimitId::RunInAgeCement,
    }
}

/// The area of the zone. Without one of its own, that of the whole site: it asks for more.
pub(super) fn area(scene: &Scene<'_>) -> Result<Area, Missing> {
    scene.zone.area.or(scene.job.site.area).ok_or_else(|| Missing {
        because: "the job does not say how large the area is".to_owned(),
        todo: "enter `area` under [[room]] or [site] in the job file".to_owned(),
    })
}

/// How many areas of 1000 ft² were started; at least one.
pub(super) fn started_areas(area: Area) -> f64 {
    let areas = area.square_metres() / TEST_AREA.square_metres();
    // An area of exactly 2000 ft² must not become three by its last digit.
    (areas - 1e-9).ceil().max(1.0)
}

/// Whether what was entered for a room holds for the zone. What names no room holds for every zone.
pub(super) fn of_zone(scene: &Scene<'_>, room: Option<&str>) -> bool {
    room.is_none_or(|room| room == scene.zone.name)
}

/// From the first adhesive spread to the last board laid.
pub(super) fn gluing(scene: &Scene<'_>) -> Result<Span, Missing> {
    let milestones = scene.milestones();
    let entered = |time: Option<jiff::Timestamp>, key: &str| {
        time.map(jiff::Timestamp::as_second).ok_or_else(|| Missing {
            because: "the job does not say when gluing started and finished".to_owned(),
            todo: format!("enter `{key}` under [milestones] in the job file"),
        })
    };
    Ok(Span {
        from_s: entered(milestones.glue_started, "glue-started")?,
        to_s: entered(milestones.glue_finished, "glue-finished")?,
    })
}
