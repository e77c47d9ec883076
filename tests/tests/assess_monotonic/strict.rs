//! Limits made stricter, and which of them each step feels.

use glueday::assess::Step;
use glueday::job::Job;
use glueday::limits::{Bound, LimitId, LimitUnit, Limits};

use super::assess_world::World;
use super::flaws::sound;

/// A limit of the job, made stricter by a share of itself or by a step.
pub(crate) fn stricter(world: &World, id: LimitId, by: f64) -> Option<String> {
    let job = Job::parse(&world.job, "job.toml").ok()?;
    let value = Limits::resolve(&job).value(id)?;
    let step = by * (value.abs() / 4.0).max(1.0);
    let value = match id.bound() {
        Bound::AtMost => (value - step).max(0.0),
        Bound::AtLeast | Bound::MinimumTime | Bound::Assumed => value + step,
    };
    Some(match id.unit() {
        LimitUnit::Celsius => format!("{value:.3} C"),
        LimitUnit::Kelvin => format!("{value:.3} K"),
        LimitUnit::PercentRh | LimitUnit::PercentMc | LimitUnit::Percent => {
            format!("{:.3} %", value.min(100.0))
        }
        LimitUnit::Hours => format!("{value:.3} h"),
        LimitUnit::GramsPerM2Per24h => format!("{value:.3} g/m2/24h"),
        LimitUnit::Count => format!("{}", if by > 0.0 { value.ceil() + 1.0 } else { value }),
    })
}

/// The properties speak of waits; this one sees that tightening is felt at all.
#[test]
fn most_limits_can_stop_a_step_that_is_ready() {
    let slab = ["concrete-age", "concrete-equivalent-age", "test-conditions", "tests-first-area"];
    let holes = ["in-situ-depth-one-side", "in-situ-wait", "in-situ-rh-max"];
    let heating = ["run-in-first-hold", "run-in-design-hold"];
    let always = ["surface-max", "surface-change-24h-max", "supply-max", "gap-max"];
    let laying = ["air-min", "air-rh-max", "acclimation", "laying-surface-max", "barrier-cure"];
    let wood = ["wood-mc-max", "mc-difference-max", "meter-readings"];
    let glue = ["adhesive-surface-min", "adhesive-air-min", "adhesive-rh-max"];
    let steps: [(Step, Vec<&[&str]>); 6] = [
        (Step::Membrane, vec![&slab, &holes, &heating, &always, &["barrier-dew-margin"]]),
        (Step::GlueDown, vec![&slab, &holes, &heating, &always, &laying, &wood]),
        (Step::Traffic, vec![&always, &glue, &["traffic-cure", "adhesive-dew-margin"]]),
        (Step::Sanding, vec![&always, &glue, &["sanding-cure"]]),
        (Step::HeatUp, vec![&always, &glue, &["heat-up-cure"]]),
        (Step::Service, vec![&always]),
    ];
    for (step, wanted) in steps {
        let ready = sound(step);
        assert!(ready.assessment().is_go(), "{:#?}", ready.assessment());
        let mut felt = Vec::new();
        for &id in LimitId::ALL {
            let Some(value) = stricter(&ready, id, 20.0) else { continue };
            let mut strict = ready.clone();
            strict.limit(id.as_str(), &value);
            if Job::parse(&strict.job, "job.toml").is_ok() && !strict.assessment().is_go() {
                felt.push(id.as_str());
            }
        }
        for id in wanted.into_iter().flatten() {
            assert!(felt.contains(id), "{id} is not felt by {step:?}; felt are {felt:?}");
        }
    }
}
