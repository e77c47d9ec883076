//! Whoever loses data, adds bad data or asks for more never gets to glue earlier; and the time named
//! for it is kept.

#[cfg(test)]
mod assess_world;

use assess_world::{D0, HOUR, MIN, Of, Reads, STEP_S, World, good, t};
use glueday::assess::Step;
use glueday::job::Job;
use glueday::limits::{Bound, LimitId, LimitUnit, Limits};
use proptest::prelude::*;

/// Something that is wrong with a world.
#[derive(Clone, Debug)]
enum Flaw {
    /// One sample out of range, so many samples before the end.
    Sample { of: usize, back: i64, low: bool },
    /// A gap that begins so many samples before the end and lasts so many minutes.
    Gap { back: i64, minutes: i64 },
    /// The log begins so many hours after the first day.
    Late { hours: i64 },
    /// A fact of the job is missing.
    Lacks(&'static str),
    /// Too early: so many seconds before the fourteenth day.
    Early { seconds: i64 },
}

const FACTS: [&str; 10] = [
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
];

/// Values out of every range that gluing has for the channel.
fn beyond(of: usize, low: bool) -> (Of, f64) {
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

fn any_flaw() -> impl Strategy<Value = Flaw> {
    prop_oneof![
        4 => (0_usize..4, 0_i64..700, any::<bool>())
            .prop_map(|(of, back, low)| Flaw::Sample { of, back, low }),
        3 => (7_i64..600, 20_i64..200).prop_map(|(back, minutes)| Flaw::Gap { back, minutes }),
        1 => (1_i64..300).prop_map(|hours| Flaw::Late { hours }),
        1 => prop::sample::select(&FACTS[..]).prop_map(Flaw::Lacks),
        2 => (1_i64..100_000).prop_map(|seconds| Flaw::Early { seconds }),
    ]
}

/// A world with flaws, and the times of the samples that are bad in themselves.
fn flawed(flaws: &[Flaw]) -> (World, Vec<i64>) {
    let mut world = World::ready();
    world.edit("date = 2026-03-15", "date = 2026-03-13");
    let mut bad = Vec::new();
    let end_s = t(14, 0, 0);
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

fn any_world() -> impl Strategy<Value = (World, Vec<i64>)> {
    prop::collection::vec(any_flaw(), 0..3).prop_map(|flaws| flawed(&flaws))
}

/// A limit of the job, made stricter by a share of itself or by a step.
fn stricter(world: &World, id: LimitId, by: f64) -> Option<String> {
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

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Bad samples are left in: without the sample that broke a limit nobody could know that it was
    /// broken. Any other sample may go missing.
    #[test]
    fn losing_samples_never_turns_wait_into_go(
        (world, bad) in any_world(),
        lost in prop::collection::vec(0_usize..2017, 1..80),
        run in (0_usize..2017, 0_usize..12),
    ) {
        prop_assume!(!world.assessment().is_go());
        let mut less = world.clone();
        let mut i = 0;
        less.samples.retain(|sample| {
            i += 1;
            let gone = lost.contains(&i) || (run.0..run.0 + run.1).contains(&i);
            !gone || bad.contains(&sample.time_s)
        });
        prop_assert!(!less.assessment().is_go(), "{world:?} without {lost:?} {run:?}");
    }

    #[test]
    fn a_probe_that_fails_never_turns_wait_into_go(
        (world, bad) in any_world(),
        of in 0_usize..4,
        lost in prop::collection::vec(0_usize..2017, 1..80),
    ) {
        prop_assume!(!world.assessment().is_go());
        let mut less = world;
        for (i, sample) in less.samples.iter_mut().enumerate() {
            if lost.contains(&i) && !bad.contains(&sample.time_s) {
                match of {
                    0 => sample.slab = None,
                    1 => sample.air = None,
                    2 => sample.rh = None,
                    _ => sample.supply = None,
                }
            }
        }
        prop_assert!(!less.assessment().is_go());
    }

    #[test]
    fn a_sample_out_of_range_in_the_last_day_is_a_wait(
        (world, _) in any_world(),
        of in 0_usize..4,
        low in any::<bool>(),
        back_s in 0_i64..86_000,
    ) {
        let mut more = world;
        let time_s = more.at_s - back_s;
        prop_assume!(time_s >= D0);
        let (of, value) = beyond(of, low);
        let at = more.samples.partition_point(|s| s.time_s < time_s);
        if more.samples.get(at).is_none_or(|s| s.time_s != time_s) {
            more.samples.insert(at, Reads { time_s, ..good(time_s) });
        }
        more.set(of, time_s, time_s, value);
        prop_assert!(!more.assessment().is_go());
    }

    #[test]
    fn a_stricter_limit_never_turns_wait_into_go(
        (world, _) in any_world(),
        id in prop::sample::select(LimitId::ALL),
        by in 0.0_f64..2.0,
    ) {
        prop_assume!(!world.assessment().is_go());
        let value = stricter(&world, id, by);
        prop_assume!(value.is_some());
        let mut strict = world;
        strict.limit(id.as_str(), &value.unwrap_or_default());
        prop_assume!(Job::parse(&strict.job, "job.toml").is_ok());
        prop_assert!(!strict.assessment().is_go());
    }

    /// "If conditions hold" it is a go at the time named, and was none a second before.
    #[test]
    fn the_earliest_go_is_kept((world, _) in any_world()) {
        let assessment = world.assessment();
        prop_assume!(!assessment.is_go());
        let earliest_s = assessment.earliest_go_s();
        prop_assume!(earliest_s.is_some());
        let mut later = world;
        // What the job's time left out is now known to have been as it was.
        let at_s = later.at_s;
        later.samples.retain(|s| s.time_s <= at_s);
        later.until(earliest_s.unwrap_or_default());
        prop_assert!(later.assessment().is_go(), "{:#?}", later.assessment());
        later.at_s -= 1;
        prop_assert!(!later.assessment().is_go(), "a second before");
    }
}

/// The properties above speak of waits; this one sees that tightening is felt at all.
#[test]
fn most_limits_can_stop_a_job_that_is_ready() {
    let ready = World::ready();
    let mut felt = Vec::new();
    for &id in LimitId::ALL {
        let Some(value) = stricter(&ready, id, 20.0) else { continue };
        let mut strict = World { step: Step::GlueDown, ..ready.clone() };
        strict.limit(id.as_str(), &value);
        if Job::parse(&strict.job, "job.toml").is_ok() && !strict.assessment().is_go() {
            felt.push(id.as_str());
        }
    }
    for id in [
        "air-min",
        "air-rh-max",
        "acclimation",
        "laying-surface-max",
        "surface-max",
        "surface-change-24h-max",
        "barrier-cure",
        "concrete-age",
        "concrete-equivalent-age",
        "test-conditions",
        "tests-first-area",
        "in-situ-depth-one-side",
        "in-situ-wait",
        "in-situ-rh-max",
        "wood-mc-max",
        "mc-difference-max",
        "meter-readings",
        "supply-max",
        "run-in-first-hold",
        "run-in-design-hold",
        "gap-max",
    ] {
        assert!(felt.contains(&id), "{id} is not felt; felt are {felt:?}");
    }
}
