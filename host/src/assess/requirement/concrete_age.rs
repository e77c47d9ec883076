//! The concrete is old enough.

use super::{Judgement, entered, settle};
use crate::assess::scene::{hours, seconds};
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
use crate::history::Channel;
use crate::limits::LimitId;
use crate::physics::concrete::Maturity;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "concrete-age",
    title: "concrete old enough",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "Calendar age from the end of the day of the pour, on the clock of the site: the job gives \
           only the day, and concrete placed in the evening is no older. Besides, equivalent age at \
           20 °C by Arrhenius (ASTM C1074: 5000 K, nothing below 0 °C) from the slab surface, each \
           stretch at the colder of its two readings. Both must reach their limit. Where the log covers \
           the time since the pour as well as the coverage limit asks, hours without log count \
           nothing. Where it does not, hours without log count hour for hour, as the calendar counts \
           them, and a warning says so: the calendar age is a fact of its own that needs no log, and a \
           logger that came late cannot take it away; but what it saw of a cold slab does. So the \
           equivalent age can only delay, never clear. Age tells strength, never dryness.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let poured_s = entered::poured_s(scene)?;
    let calendar = scene.limit(LimitId::ConcreteAge)?;
    let equivalent = scene.limit(LimitId::ConcreteEquivalentAge)?;
    let coverage_min = scene.limit(LimitId::CoverageMin)?;
    let age_s = scene.at_s - poured_s;
    let by_calendar = Figure::new(calendar, hours(age_s), 0.0);
    let logged = logged(scene, poured_s);
    let share = if age_s > 0 { hours(logged.time_s) / hours(age_s) * 100.0 } else { 0.0 };
    let covered = Figure::new(coverage_min, share, 0.0).is_met();
    let unlogged_h = hours((age_s - logged.time_s).max(0));
    let equivalent_h = logged.equivalent_h + if covered { 0.0 } else { unlogged_h };
    let by_log = Figure::new(equivalent, equivalent_h, 0.0);

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
    let figure = if by_log.margin < by_calendar.margin && (covered || !by_log.is_met()) {
        by_log
    } else {
        by_calendar
    };
    let mut finding = Finding::of(figure, because.to_owned());
    if !covered {
        finding.warnings.push(format!(
            "the log covers {share:.0} % of the time since the pour: the other {:.1} d are taken \
             as the calendar counts them",
            unlogged_h / 24.0
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
    /// Time that it covers.
    time_s: i64,
    /// Equivalent age that this time is worth.
    equivalent_h: f64,
    /// What an hour is worth now; `None` when nothing, or when it is not known.
    factor_now: Option<f64>,
}

fn logged(scene: &Scene<'_>, poured_s: i64) -> Logged {
    let maturity = Maturity::default();
    // A reading that concrete cannot have is worth nothing.
    let factor = |slab_c: f64| maturity.age_factor(slab_c).unwrap_or(0.0);
    let gap_max_s = scene.gap_max_s();
    let mut logged = Logged { time_s: 0, equivalent_h: 0.0, factor_now: None };
    let mut before: Option<(i64, f64)> = None;
    let span = Span { from_s: poured_s, to_s: scene.at_s };
    for (time_s, slab_c) in scene.points(Channel::Slab, span) {
        let worth = factor(slab_c);
        if let Some((before_s, worth_before)) = before
            && time_s - before_s <= gap_max_s
        {
            logged.time_s += time_s - before_s;
            logged.equivalent_h += hours(time_s - before_s) * worth.min(worth_before);
        }
        before = Some((time_s, worth));
    }
    if let Some((last_s, worth)) = before.filter(|(last_s, _)| scene.at_s - last_s <= gap_max_s) {
        // The last reading stands for the time since.
        logged.time_s += scene.at_s - last_s;
        logged.equivalent_h += hours(scene.at_s - last_s) * worth;
        logged.factor_now = Some(worth).filter(|worth| *worth > 0.0);
    }
    logged
}
