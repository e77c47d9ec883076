//! Air temperature and humidity were in range without a break for as long as the wood acclimates.

use super::conditions::Conditions;
use super::{Judgement, cure, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::window::{Break, Streak, streak};
use crate::assess::{Figure, Finding, Outcome, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::LimitId;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "acclimation",
    title: "air in range while the wood acclimates",
    steps: &[Step::GlueDown],
    rule: "Air temperature and RH are both in range in every sample, without a gap longer than the limit, \
           for the acclimation time up to now, counted from when the wood was delivered at the earliest. \
           One sample out of range starts the count anew. The ranges are tightened by the probes' expanded \
           uncertainty only where the job asks for it (JCGM 106, simple or guarded). A warning, never a \
           verdict, because nothing can mend it later: the room was not in range, or not logged, for \
           as long before the delivery as the trade asks for (common practice, no source).",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    scene.fresh(&[Channel::Air, Channel::AirRh])?;
    let needed = scene.limit(LimitId::Acclimation)?;
    let delivered = scene.milestones().delivered.ok_or_else(|| crate::assess::Missing {
        because: "the job does not say when the wood was delivered".to_owned(),
        todo: "enter `delivered` under [milestones] in the job file".to_owned(),
    })?;
    let span = Span { from_s: delivered.as_second(), to_s: scene.at_s };
    let room = Conditions::room(scene);
    let broken = room.broken(scene, span);
    // `None` when the channel is out of range at its last reading.
    let of = |channel: Channel| -> Option<Streak> {
        let in_range = |value: f64| room.keeps(channel, value);
        let rows = scene.rows(channel, span, |ends| ends.into_iter().all(in_range));
        streak(rows, in_range, scene.gap_max_s())
    };
    let (air, rh) = (of(Channel::Air), of(Channel::AirRh));
    // Both at once: the later of the two beginnings.
    let (from_s, broken_by) = match (air, rh) {
        (Some(air), Some(rh)) if air.from_s >= rh.from_s => (Some(air.from_s), air.broken_by),
        (Some(_), Some(rh)) => (Some(rh.from_s), rh.broken_by),
        _ => (None, Break::OutOfRange(scene.at_s)),
    };
    let held_s = from_s.map_or(0, |from_s| scene.at_s - from_s);
    let unread =
        [Channel::Air, Channel::AirRh].iter().any(|c| scene.points(*c, span).next().is_none());
    let figure = Figure::new(needed, hours(held_s), 0.0);
    let met = figure.is_met();
    let because = match (from_s, broken_by) {
        (None, _) if unread => "nothing was read since the wood was delivered".to_owned(),
        (None, _) => "the air is out of range now".to_owned(),
        (Some(_), _) if met => "the air held in range without a break".to_owned(),
        (Some(_), Break::Start) => format!("in range for {} so far", show_age(held_s)),
        (Some(_), Break::OutOfRange(_)) => {
            format!("in range for {} since it was last out of range", show_age(held_s))
        }
        (Some(_), Break::Gap(_)) => {
            format!("in range for {} since a gap in the log", show_age(held_s))
        }
    };
    // A break that is over only costs time; one that goes on has no end that anybody knows.
    let clears_at_s = from_s.map(|from_s| from_s + seconds(needed.value));
    let mut finding = Finding::of(figure, because).with_broken(broken).with_clears_at(clears_at_s);
    finding.warnings.extend(before_delivery(scene, &room, span.from_s));
    if met {
        finding.clears_at_s = None;
        return Ok(finding);
    }
    if matches!(broken_by, Break::Gap(_)) {
        finding.outcome = Outcome::NoEvidence;
    }
    Ok(finding.with_todo(match from_s {
        Some(_) => {
            "keep the heating, ventilation and humidity as they are; leave the wood in the room"
        }
        None if unread => "ask again after the next reading",
        None => "bring temperature and humidity back into range with the building's own system",
    }))
}

/// What is to be said of the room before the wood came, when it was not at service conditions for as
/// long as the trade asks for.
fn before_delivery(scene: &Scene<'_>, room: &Conditions<'_>, delivered_s: i64) -> Option<String> {
    let asked_s = seconds(scene.limits.value(LimitId::ConditionsBeforeDelivery)?);
    if asked_s <= 0 {
        return None;
    }
    let then = Scene { at_s: delivered_s, ..*scene };
    let kept_s = cure::count(&then, room, delivered_s.saturating_sub(asked_s)).kept_s;
    let share = Figure::new(
        scene.limits.get(LimitId::CoverageMin)?,
        hours(kept_s) / hours(asked_s) * 100.0,
        0.0,
    );
    (!share.is_met()).then(|| {
        format!(
            "of the {} before the wood was delivered the log shows {} in range",
            show_age(asked_s),
            show_age(kept_s)
        )
    })
}
