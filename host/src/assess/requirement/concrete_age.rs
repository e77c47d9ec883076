//! The concrete is old enough.

use super::{Judgement, entered, none_in_span, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::LimitId;
use crate::memo::Memo;
use crate::physics::concrete::Maturity;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "concrete-age",
    title: "concrete old enough",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "Calendar age from the end of the day of the pour, on the clock of the site: the job gives \
           only the day, and concrete placed in the evening is no older. Besides, equivalent age at \
           20 °C by Arrhenius (ASTM C1074: te = sum of exp(-Q (1/T - 1/Ts)) dt with Q = 5000 K, nothing \
           below 0 °C) from the slab surface, each stretch at the colder of its two readings. Both \
           must reach their limit. Hours without log, also those before the logger came, count as the \
           colder of the readings on either side, at most hour for hour as the calendar counts \
           them, and a warning says how many they were. So the log can only delay, never clear, and \
           what is missing from it never helps; without any slab reading there is no evidence. Age \
           tells strength, never dryness.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let poured_s = entered::poured_s(scene)?;
    let calendar = scene.limit(LimitId::ConcreteAge)?;
    let equivalent = scene.limit(LimitId::ConcreteEquivalentAge)?;
    let age_s = scene.at_s - poured_s;
    let by_calendar = Figure::new(calendar, hours(age_s), 0.0);
    let Some(logged) = logged(scene, poured_s) else {
        if by_calendar.is_met() {
            let never = scene.fresh(&[Channel::Slab]).err();
            return Err(never.unwrap_or_else(|| none_in_span(Channel::Slab)));
        }
        let because = "the concrete is too young by the calendar".to_owned();
        return Ok(Finding::of(by_calendar, because).with_todo("wait; log the slab meanwhile"));
    };
    let by_log = Figure::new(equivalent, logged.equivalent_h, 0.0);

    let until_calendar_s = poured_s.saturating_add(seconds(calendar.value));
    let until_equivalent_s = if by_log.is_met() {
        Some(scene.at_s)
    } else {
        logged.factor_now.map(|factor| scene.at_s + seconds(-by_log.margin / factor))
    };
    let because = match (by_calendar.is_met(), by_log.is_met()) {
        (true, true) => "the concrete is old enough",
        (false, _) => "the concrete is too young by the calendar",
        (true, false) => "the slab was cold: the concrete is younger than the calendar says",
    };
    let met = by_calendar.is_met() && by_log.is_met();
    let figure = if by_log.margin < by_calendar.margin { by_log } else { by_calendar };
    let mut finding = Finding::of(figure, because.to_owned());
    if logged.unlogged_s > scene.gap_max_s() {
        finding.warnings.push(format!(
            "no log covers {} of the {} since the pour: they count as the calendar counts them, or \
             less where the slab was cold before or after",
            show_age(logged.unlogged_s),
            show_age(age_s)
        ));
    }
    if met {
        return Ok(finding);
    }
    Ok(finding
        .with_todo("wait; keep the slab warm")
        .with_clears_at(until_equivalent_s.map(|until_s| until_s.max(until_calendar_s))))
}

/// What the log says of the age.
struct Logged {
    /// Time that no reading speaks for.
    unlogged_s: i64,
    /// Equivalent age, with that time as the rule counts it.
    equivalent_h: f64,
    /// What an hour is worth now; `None` when nothing, or when it is not known.
    factor_now: Option<f64>,
}

/// `None` without any reading of the slab since the pour.
fn logged(scene: &Scene<'_>, poured_s: i64) -> Option<Logged> {
    let maturity = Maturity::default();
    // A reading that concrete cannot have is worth nothing.
    let mut factors = Memo::new();
    let mut factor =
        |slab_c: f64| factors.get(slab_c, || maturity.age_factor(slab_c).unwrap_or(0.0));
    let gap_max_s = scene.gap_max_s();
    let mut logged = Logged { unlogged_s: 0, equivalent_h: 0.0, factor_now: None };
    let mut add = |from_s: i64, to_s: i64, worth: f64, seen: bool| {
        logged.unlogged_s += if seen { 0 } else { to_s - from_s };
        logged.equivalent_h += hours(to_s - from_s) * if seen { worth } else { worth.min(1.0) };
    };
    let mut before: Option<(i64, f64)> = None;
    let span = Span { from_s: poured_s, to_s: scene.at_s };
    for (time_s, slab_c) in scene.points(Channel::Slab, span) {
        let worth = factor(slab_c);
        let (before_s, worth_before) = before.unwrap_or((poured_s, worth));
        let seen = before.is_some() && time_s - before_s <= gap_max_s;
        add(before_s, time_s, worth.min(worth_before), seen);
        before = Some((time_s, worth));
    }
    let (last_s, worth) = before?;
    // The last reading stands for the time since.
    let fresh = scene.at_s - last_s <= gap_max_s;
    add(last_s, scene.at_s, worth, fresh);
    logged.factor_now = Some(worth).filter(|worth| fresh && *worth > 0.0);
    Some(logged)
}
