//! The heating was run in before the floor goes down.

#[cfg(test)]
mod tests;
mod walk;

use super::{Judgement, entered, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Figure, Finding, Missing, Outcome, Requirement, Scene, Span, Step};
use crate::history::{Channel, Stretch};
use crate::limits::{LimitId, ResolvedLimit};
use walk::{Found, Walk};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "run-in",
    title: "heating run in",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "The stages of EN 1264-4, clause 4.2.4 (second hand) in the supply readings, in this order and \
           without a gap longer than the limit: the concrete is old enough; the supply holds the first \
           range for its time; then, never below that range, it holds the highest design supply, less the \
           tolerance, for its time; then it is turned down (below that, and either the supply is \
           back under the first maximum or the slab in the laying range). Supply above the first \
           maximum and 3 K above the air at a younger age is first heat too early, and not mended later. When no \
           log covers it, the times entered in the job are taken at the contractor's word, if \
           they leave room for both stages.",
    judge: |scene| settle(judge(scene)),
};

/// A supply pipe this much warmer than the air is heated; a warm room alone does not do it. Ours, no
/// source.
const HEATED_K: f64 = 3.0;

fn judge(scene: &Scene<'_>) -> Judgement {
    let poured_s = entered::poured_s(scene)?;
    let age = scene.limit(entered::run_in_age(scene.job.concrete.kind))?;
    let old_enough_s = poured_s.saturating_add(seconds(age.value));
    if let Some(finding) = heated_too_early(scene, poured_s, old_enough_s, age)? {
        return Ok(finding);
    }
    let stages = Stages::of(scene);
    let found = match &stages {
        Ok(stages) => stages.find(scene, Span { from_s: old_enough_s, to_s: scene.at_s }),
        Err(_) => Found::default(),
    };
    if let Some(entered) = by_hand(scene)
        && !found.done
    {
        return at_word(scene, entered, poured_s, age, stages);
    }
    let stages = stages?;
    let first = Figure::new(stages.first_hold, hours(found.first_s), 0.0);
    let design = Figure::new(stages.design_hold, hours(found.design_s), 0.0);
    // A supply that only ever idled below the first maximum is no run-in that went wrong.
    if !found.hot {
        if scene.history.range(i64::MIN, scene.at_s).is_empty() {
            scene.fresh(&[Channel::Supply])?;
        }
        return Err(Missing {
            because: "the log shows no run-in of the heating".to_owned(),
            todo:
                "run the heating in with the logger on, or enter `run-in-start` and `run-in-end` \
                   under [heating] if no logger saw it"
                    .to_owned(),
        });
    }
    if !found.done {
        let (figure, because) = if !first.is_met() {
            let held = show_age(found.first_s);
            (first, format!("the first stage of the run-in held for {held} without a break"))
        } else if found.design_s > 0 {
            let held = show_age(found.design_s);
            (design, format!("the highest design supply held for {held} without a break"))
        } else {
            // The idle supply after a run-in looks like a first stage, too.
            let because = "no hold at the highest design supply followed on a whole first stage";
            (design, because.to_owned())
        };
        let seen = match (found.hole, found.begins_s) {
            (Some((from_s, length_s)), _) => {
                let (length, from) = (show_age(length_s), scene.local(from_s));
                format!("; the supply readings have a hole of {length} from {from}")
            }
            (None, Some(begins_s)) => {
                format!("; the supply readings begin {}", scene.local(begins_s))
            }
            (None, None) => String::new(),
        };
        return Ok(Finding::of(figure, because + &seen)
            .with_todo("go on with the run-in, stage by stage, with the logger on"));
    }
    let finding = Finding::of(design, "the heating was run in and turned down".to_owned());
    if stages.turned_down(scene)? {
        return Ok(finding);
    }
    let mut finding = finding.with_todo("turn the supply down and let the slab cool");
    finding.outcome = Outcome::NotMet;
    "the heating was run in, but is not turned down".clone_into(&mut finding.because);
    Ok(finding)
}

/// The stages, and the limits that shape them.
struct Stages<'a> {
    first_min: f64,
    first_max: f64,
    first_hold: &'a ResolvedLimit,
    design_min: f64,
    design_hold: &'a ResolvedLimit,
}

impl<'a> Stages<'a> {
    fn of(scene: &Scene<'a>) -> Result<Self, Missing> {
        let design = scene.job.heating.design_supply.ok_or_else(|| Missing {
            because: "the job does not say how warm the design supply is".to_owned(),
            todo: "enter `design-supply` under [heating] in the job file".to_owned(),
        })?;
        let tolerance = scene.limit(LimitId::RunInDesignTolerance)?;
        Ok(Self {
            first_min: scene.limit(LimitId::RunInFirstMin)?.value,
            first_max: scene.limit(LimitId::RunInFirstMax)?.value,
            first_hold: scene.limit(LimitId::RunInFirstHold)?,
            // The last digit of the difference must not decide.
            design_min: design.celsius() - tolerance.value - 1e-9,
            design_hold: scene.limit(LimitId::RunInDesignHold)?,
        })
    }

    fn find(&self, scene: &Scene<'_>, span: Span) -> Found {
        let gap_max_s = scene.gap_max_s();
        let mut walk = Walk::new(self, gap_max_s, span.from_s);
        // On the same side of every limit.
        let alike = |[least, greatest]: [f64; 2]| self.sides(least) == self.sides(greatest);
        for stretch in scene.stretches(span) {
            let mut points = scene.points_of(Channel::Supply, &stretch);
            let alike = stretch.whole().filter(|whole| {
                whole.is_joined(gap_max_s) && whole.full(Channel::Supply).is_some_and(alike)
            });
            if let Some(whole) = alike {
                points.next().into_iter().for_each(|point| walk.step(point));
                if walk.stays_until(whole.to_s)
                    && let Some(last) = points.next_back()
                {
                    walk.step_joined(last);
                    continue;
                }
            }
            points.for_each(|point| walk.step(point));
        }
        walk.found
    }

    /// On which side of the limits of the stages a supply lies.
    fn sides(&self, supply_c: f64) -> [bool; 3] {
        [supply_c >= self.first_min, supply_c > self.first_max, supply_c >= self.design_min]
    }

    /// Whether the readings of a span leave room for both stages, one after the other, in the time
    /// between those that do not fit them. What was not logged is given the benefit of the doubt, so
    /// that a reading which fits, or is missing, changes nothing.
    fn leave_room(&self, scene: &Scene<'_>, span: Span) -> bool {
        let first_hold_s = seconds(self.first_hold.value);
        let design_hold_s = seconds(self.design_hold.value);
        // Since when the first stage may have held, and then the design supply.
        let mut first_from_s = span.from_s;
        let mut design_from_s: Option<i64> = None;
        for (time_s, supply_c) in scene.points(Channel::Supply, span) {
            if design_from_s.is_none() && time_s - first_from_s >= first_hold_s {
                design_from_s = Some(first_from_s + first_hold_s);
            }
            match design_from_s {
                Some(from_s) if time_s - from_s >= design_hold_s => return true,
                Some(_) if supply_c < self.first_min => {
                    design_from_s = None;
                    first_from_s = time_s;
                }
                Some(_) if supply_c < self.design_min => design_from_s = Some(time_s),
                None if !(self.first_min..=self.first_max).contains(&supply_c) => {
                    first_from_s = time_s;
                }
                _ => {}
            }
        }
        let needed_s = match design_from_s {
            Some(from_s) => from_s + design_hold_s,
            None => first_from_s + first_hold_s + design_hold_s,
        };
        needed_s <= span.to_s
    }

    /// Whether the heat is down at the last reading.
    fn turned_down(&self, scene: &Scene<'_>) -> Result<bool, Missing> {
        scene.fresh(&[Channel::Supply])?;
        let span = super::last_day(scene);
        let last = |channel| scene.points(channel, span).next_back().map(|point| point.1);
        let Some(supply_c) = last(Channel::Supply) else {
            return Err(super::none_in_span(Channel::Supply));
        };
        let laying = scene.limit(LimitId::LayingSurfaceMin)?.value
            ..=scene.limit(LimitId::LayingSurfaceMax)?.value;
        let slab_in_range = last(Channel::Slab).is_some_and(|slab_c| laying.contains(&slab_c));
        Ok(supply_c < self.design_min && (supply_c <= self.first_max || slab_in_range))
    }
}

/// Heat on concrete that was too young, if the log shows it.
fn heated_too_early(
    scene: &Scene<'_>,
    poured_s: i64,
    old_enough_s: i64,
    age: &ResolvedLimit,
) -> Result<Option<Finding>, Missing> {
    let first_max = scene.limit(LimitId::RunInFirstMax)?;
    let history = scene.history;
    let young = Span { from_s: poured_s, to_s: scene.at_s.min(old_enough_s - 1) };
    let is_hot = |stretch: &Stretch<'_>| {
        stretch.ends(Channel::Supply).is_some_and(|[_, greatest]| greatest > first_max.value)
    };
    let hot = scene.stretches(young).filter(is_hot).flat_map(|stretch| stretch.samples());
    let heated = hot.into_iter().find_map(|i| {
        let supply_c = history.value(Channel::Supply, i).ok()?;
        let by_the_room =
            history.value(Channel::Air, i).is_ok_and(|air_c| supply_c <= air_c + HEATED_K);
        (supply_c > first_max.value && !by_the_room).then_some((*history.time_s.get(i)?, supply_c))
    });
    Ok(heated.map(|(time_s, supply_c)| {
        let figure = Figure::new(age, hours(time_s - poured_s), 0.0);
        let because = "the concrete was heated before it was old enough".to_owned();
        let broken = crate::assess::Broken {
            from_s: time_s,
            to_s: time_s,
            worst: supply_c,
            limit: first_max.id,
        };
        Finding::of(figure, because)
            .with_broken(vec![broken])
            .with_todo("have the slab looked at for cracks; ask the designer before going on")
    }))
}

/// The run-in as entered in the job, when it is over.
fn by_hand(scene: &Scene<'_>) -> Option<Span> {
    let heating = &scene.job.heating;
    let (start, end) = (heating.run_in_start?.as_second(), heating.run_in_end?.as_second());
    (end <= scene.at_s).then_some(Span { from_s: start, to_s: end })
}

/// A run-in that nobody but the contractor saw from beginning to end.
fn at_word(
    scene: &Scene<'_>,
    entered: Span,
    poured_s: i64,
    age: &ResolvedLimit,
    stages: Result<Stages<'_>, Missing>,
) -> Judgement {
    let at_start = Figure::new(age, hours(entered.from_s - poured_s), 0.0);
    if !at_start.is_met() {
        let because = "by the job, the concrete was heated before it was old enough".to_owned();
        return Ok(Finding::of(at_start, because)
            .with_todo("have the slab looked at for cracks; ask the designer before going on"));
    }
    let first = scene.limit(LimitId::RunInFirstHold)?;
    let design = scene.limit(LimitId::RunInDesignHold)?;
    let figure = Figure::new(design, entered.hours() - first.value, 0.0);
    if !figure.is_met() {
        let took = show_age(entered.to_s - entered.from_s);
        return Ok(Finding::of(figure, format!("the run-in entered took only {took}"))
            .with_todo("repeat the run-in with the logger on, both stages in full"));
    }
    // Without a reading of that time there is nothing that could contradict.
    let seen = scene.points(Channel::Supply, entered).next().is_some();
    let contradicted = seen && !stages?.leave_room(scene, entered);
    let as_entered = "run in, as the contractor entered it".to_owned();
    let mut finding = Finding::of(figure, as_entered);
    if contradicted {
        finding.outcome = Outcome::NotMet;
        "the supply readings contradict the run-in that is entered"
            .clone_into(&mut finding.because);
        return Ok(finding.with_todo("repeat the run-in with the logger on, both stages in full"));
    }
    finding.warnings.push(
        "no log shows the whole run-in: it is taken at the word of whoever entered it".to_owned(),
    );
    Ok(finding)
}
