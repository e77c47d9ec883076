//! Worlds that are a go for their step, and what can be wrong with them.

use glueday::assess::Step;
use proptest::prelude::*;

use super::assess_world::{D0, HOUR, MIN, Of, STEP_S, World, t};

/// Something that is wrong with a world.
#[derive(Clone, Debug)]
pub(crate) enum Flaw {
    /// One sample out of range, so many samples before the end.
    Sample { of: usize, back: i64, low: bool },
    /// A gap that begins so many samples before the end and lasts so many minutes.
    Gap { back: i64, minutes: i64 },
    /// The log begins so many hours after the first day.
    Late { hours: i64 },
    /// A fact of the job is missing.
    Lacks(&'static str),
    /// Too early: so many seconds before the end.
    Early { seconds: i64 },
}

const FACTS: [&str; 14] = [
    "poured = 2026-01-12",
    "area = \"1000 ft2\"",
    "thickness = \"100 mm\"",
    "product = \"two-part barrier\"",
    "cure = \"24 h\"",
    "design-supply = \"42 C\"",
    "delivered = 2026-03-11T00:00",
    "barrier-rolled = 2026-03-14T00:00",
    "date = 2026-03-13",
    "reading = \"72 %\"",
    "traffic = \"24 h\"",
    "sanding = \"72 h\"",
    "glue-started = 2026-03-16T08:00",
    "glue-finished = 2026-03-16T16:00",
];

/// A world that is a go for the step, asked about a few hours after it came to be one.
pub(crate) fn sound(step: Step) -> World {
    let (mut world, end_s) = match step {
        Step::Membrane | Step::GlueDown => (World { step, ..World::ready() }, t(14, 0, 0)),
        Step::Traffic => (World::glued(step), t(15, 20, 0)),
        Step::Sanding => (World::glued(step), t(17, 20, 0)),
        Step::HeatUp => (World::glued(step), t(21, 20, 0)),
        Step::Service => (World::glued(step), t(18, 0, 0)),
    };
    if step == Step::Membrane {
        world.edit("barrier-rolled = 2026-03-14T00:00", "");
    }
    world.edit("date = 2026-03-15", "date = 2026-03-13");
    world.samples.retain(|sample| sample.time_s <= end_s);
    world.at_s = end_s;
    world
}

/// From when on readings count that no later ones mend: the last day, or since gluing started.
pub(crate) fn counts_from_s(world: &World) -> i64 {
    match world.step {
        Step::Membrane | Step::GlueDown => world.at_s - 24 * HOUR,
        // Nobody says since when there is a floor.
        Step::Service if !world.job.contains("glue-started") => world.at_s - 24 * HOUR,
        _ => t(14, 8, 0),
    }
}

/// Values out of every range that gluing has for the channel.
pub(crate) fn beyond(of: usize, low: bool) -> (Of, f64) {
    match (of, low) {
        (0, true) => (Of::Slab, 12.0),
        (0, false) => (Of::Slab, 30.0),
        (1, true) => (Of::Air, 12.0),
        (1, false) => (Of::Air, 32.0),
        (2, true) => (Of::Rh, 10.0),
        (2, false) => (Of::Rh, 95.0),
        _ => (Of::Supply, 60.0),
    }
}

/// Whether one such sample in the time that counts stops the step, and does not just cost it hours.
pub(crate) fn stops(step: Step, of: usize, low: bool) -> bool {
    match (of, low) {
        // Too warm, or changed too fast.
        (0 | 3, _) => true,
        // Only the wood that acclimates asks for more: cool and dry air does not condense.
        (1 | 2, true) => step == Step::GlueDown,
        // Warm or damp air condenses, which nobody asks about once the floor may be walked on.
        _ => matches!(step, Step::Membrane | Step::GlueDown | Step::Traffic),
    }
}

fn any_flaw() -> impl Strategy<Value = Flaw> {
    prop_oneof![
        4 => (0_usize..4, 0_i64..1100, any::<bool>())
            .prop_map(|(of, back, low)| Flaw::Sample { of, back, low }),
        3 => (7_i64..1000, 20_i64..200).prop_map(|(back, minutes)| Flaw::Gap { back, minutes }),
        1 => (1_i64..300).prop_map(|hours| Flaw::Late { hours }),
        1 => prop::sample::select(&FACTS[..]).prop_map(Flaw::Lacks),
        3 => (1_i64..100_000).prop_map(|seconds| Flaw::Early { seconds }),
    ]
}

/// A world with flaws, and the times of the samples that are bad in themselves.
fn flawed(step: Step, flaws: &[Flaw]) -> (World, Vec<i64>) {
    let mut world = sound(step);
    let mut bad = Vec::new();
    let end_s = world.at_s;
    for flaw in flaws {
        match flaw {
            Flaw::Sample { of, back, low } => {
                let time_s = end_s - back * STEP_S;
                let (of, value) = beyond(*of, *low);
                if world.samples.iter().any(|s| s.time_s == time_s) {
                    world.set(of, time_s, time_s, value);
                    bad.push(time_s);
                }
            }
            Flaw::Gap { back, minutes } => {
                let from_s = end_s - back * STEP_S;
                // Not over a sample that is bad: its time would move.
                let free = |time_s: &i64| *time_s < from_s || *time_s > from_s + 12 * HOUR;
                if bad.iter().all(free) && from_s + minutes * MIN < end_s {
                    world.gap(from_s, minutes * MIN);
                }
            }
            Flaw::Late { hours } => world.start_log_at(D0 + hours * HOUR),
            Flaw::Lacks(fact) => {
                if world.job.contains(fact) {
                    world.edit(fact, "");
                }
            }
            Flaw::Early { seconds } => world.at_s = end_s - seconds,
        }
    }
    (world, bad)
}

/// A world of one of the steps, with flaws, and the times of its bad samples.
pub(crate) fn any_world(steps: &'static [Step]) -> impl Strategy<Value = (World, Vec<i64>)> {
    (prop::sample::select(steps), prop::collection::vec(any_flaw(), 0..3))
        .prop_map(|(step, flaws)| flawed(step, &flaws))
}
