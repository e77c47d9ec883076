//! The concrete is old enough.

use super::{Judgement, entered, none_in_span, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::skim::ROUNDING;
use crate::assess::{Figure, Finding, Requirement, Scene, Span, Step};
use crate::history::{Channel, Stretch};
use crate::limits::LimitId;
use crate::memo::Memo;
use crate::physics::concrete::{CONCRETE_C, Maturity};

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
    // So many hours of equivalent age need no closer count: the calendar decides.
    let enough_h = equivalent.value + by_calendar.margin.max(0.0);
    let Some(logged) = logged(scene, poured_s, enough_h) else {
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

/// `None` without any reading of the slab since the pour. An age that is more than `enough_h` may be told
/// as less than it is, but still as more than that, and what an hour is worth now is not known then.
fn logged(scene: &Scene<'_>, poured_s: i64, enough_h: f64) -> Option<Logged> {
    let least =
        Count::new(scene, poured_s).through(|count, stretch| count.add_at_least(stretch))?;
    if least.equivalent_h * (1.0 - ROUNDING) > enough_h {
        return Some(Logged { factor_now: None, ..least });
    }
    Count::new(scene, poured_s).through(|count, stretch| count.add_each(stretch))
}

/// The count of the hours on its way through the readings.
struct Count<'a> {
    scene: &'a Scene<'a>,
    gap_max_s: i64,
    poured_s: i64,
    factors: Memo<f64>,
    logged: Logged,
    /// Time and worth of the last reading.
    before: Option<(i64, f64)>,
}

impl<'a> Count<'a> {
    fn new(scene: &'a Scene<'a>, poured_s: i64) -> Self {
        Self {
            scene,
            gap_max_s: scene.gap_max_s(),
            poured_s,
            factors: Memo::new(),
            logged: Logged { unlogged_s: 0, equivalent_h: 0.0, factor_now: None },
            before: None,
        }
    }

    fn through(mut self, add: impl Fn(&mut Self, &Stretch<'_>)) -> Option<Logged> {
        let span = Span { from_s: self.poured_s, to_s: self.scene.at_s };
        for stretch in self.scene.stretches(span) {
            add(&mut self, &stretch);
        }
        let (last_s, worth) = self.before?;
        // The last reading stands for the time since.
        let fresh = self.scene.at_s - last_s <= self.gap_max_s;
        self.add(last_s, self.scene.at_s, worth, fresh);
        let factor_now = Some(worth).filter(|worth| fresh && *worth > 0.0);
        Some(Logged { factor_now, ..self.logged })
    }

    /// A reading that concrete cannot have is worth nothing.
    fn factor(&mut self, slab_c: f64) -> f64 {
        let of = || Maturity::default().age_factor(slab_c).unwrap_or(0.0);
        self.factors.get(slab_c, of)
    }

    fn add(&mut self, from_s: i64, to_s: i64, worth: f64, seen: bool) {
        self.logged.unlogged_s += if seen { 0 } else { to_s - from_s };
        let worth = if seen { worth } else { worth.min(1.0) };
        self.logged.equivalent_h += hours(to_s - from_s) * worth;
    }

    /// Counts the time up to a reading.
    fn add_up_to(&mut self, time_s: i64, worth: f64) {
        let (before_s, worth_before) = self.before.unwrap_or((self.poured_s, worth));
        let seen = self.before.is_some() && time_s - before_s <= self.gap_max_s;
        self.add(before_s, time_s, worth.min(worth_before), seen);
        self.before = Some((time_s, worth));
    }

    fn add_each(&mut self, stretch: &Stretch<'_>) {
        for (time_s, slab_c) in self.scene.points_of(Channel::Slab, stretch) {
            let worth = self.factor(slab_c);
            self.add_up_to(time_s, worth);
        }
    }

    /// Counts a stretch at its coldest reading.
    fn add_at_least(&mut self, stretch: &Stretch<'_>) {
        let whole = stretch.whole().filter(|whole| whole.is_joined(self.gap_max_s));
        let ends = whole.and_then(|whole| Some((whole, whole.full(Channel::Slab)?)));
        match ends {
            // What concrete cannot have is worth less than what is colder.
            Some((whole, [least_c, greatest_c])) if CONCRETE_C.check(greatest_c).is_ok() => {
                let worth = self.factor(least_c);
                self.add_up_to(whole.from_s, worth);
                self.add(whole.from_s, whole.to_s, worth, true);
                self.before = Some((whole.to_s, worth));
            }
            _ => self.add_each(stretch),
        }
    }
}
