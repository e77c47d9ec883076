//! Whoever loses data, adds bad data or asks for more never gets to go on earlier; and the time named
//! for it is kept. For every step of the work.

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod flaws;
#[cfg(test)]
mod strict;

use assess_world::{D0, Reads, World, good};
use flaws::{any_world, beyond, counts_from_s, stops};
use glueday::assess::Step;
use glueday::job::Job;
use glueday::limits::LimitId;
use proptest::prelude::*;
use strict::stricter;

/// The steps that time alone can bring about.
const TIMED: &[Step] =
    &[Step::Membrane, Step::GlueDown, Step::Traffic, Step::Sanding, Step::HeatUp];

/// Any samples, by their place.
fn any_lost() -> impl Strategy<Value = Vec<prop::sample::Index>> {
    prop::collection::vec(any::<prop::sample::Index>(), 1..80)
}

/// Whether the slab reads far from what it does in a good sample: then it cannot both hold and be good.
fn is_off(world: &World) -> bool {
    let last = world.samples.iter().rfind(|sample| sample.time_s <= world.at_s);
    last.and_then(|sample| sample.slab).is_some_and(|slab_c| (slab_c - 20.0).abs() > 1.0)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 240,
        max_global_rejects: 10_000,
        ..ProptestConfig::default()
    })]

    /// Bad samples are left in: without the sample that broke a limit nobody could know that it was
    /// broken. Any other sample may go missing.
    #[test]
    fn losing_samples_never_turns_wait_into_go(
        (world, bad) in any_world(&Step::ALL),
        lost in any_lost(),
        run in (any::<prop::sample::Index>(), 0_usize..12),
    ) {
        prop_assume!(!world.assessment().is_go());
        let mut less = world.clone();
        let count = less.samples.len();
        let lost: Vec<usize> = lost.iter().map(|at| at.index(count)).collect();
        let run = run.0.index(count)..run.0.index(count) + run.1;
        let mut i = 0;
        less.samples.retain(|sample| {
            let gone = lost.contains(&i) || run.contains(&i);
            i += 1;
            !gone || bad.contains(&sample.time_s)
        });
        prop_assert!(!less.assessment().is_go(), "{world:?} without {lost:?} {run:?}");
    }

    #[test]
    fn a_probe_that_fails_never_turns_wait_into_go(
        (world, bad) in any_world(&Step::ALL),
        of in 0_usize..4,
        lost in any_lost(),
    ) {
        prop_assume!(!world.assessment().is_go());
        let mut less = world;
        let count = less.samples.len();
        for at in lost {
            let sample = &mut less.samples[at.index(count)];
            if !bad.contains(&sample.time_s) {
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
    fn a_sample_out_of_range_in_the_time_that_counts_is_a_wait(
        (world, _) in any_world(&Step::ALL),
        of in 0_usize..4,
        low in any::<bool>(),
        share in any::<prop::sample::Index>(),
    ) {
        prop_assume!(stops(world.step, of, low));
        let mut more = world;
        let from_s = counts_from_s(&more);
        // Both ends count, a day ago to the second as well.
        let length_s = usize::try_from(more.at_s - from_s + 1).unwrap_or(0);
        prop_assume!(length_s > 0);
        let time_s = from_s + i64::try_from(share.index(length_s)).unwrap_or(0);
        prop_assume!(time_s >= D0);
        let (of, value) = beyond(of, low);
        let at = more.samples.partition_point(|s| s.time_s < time_s);
        if more.samples.get(at).is_none_or(|s| s.time_s != time_s) {
            more.samples.insert(at, Reads { time_s, ..good(time_s) });
        }
        more.set(of, time_s, time_s, value);
        prop_assert!(!more.assessment().is_go(), "{:?} {of:?} {}", more.step, time_s - D0);
    }

    #[test]
    fn a_stricter_limit_never_turns_wait_into_go(
        (world, _) in any_world(&Step::ALL),
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
    fn the_earliest_go_is_kept((world, _) in any_world(TIMED)) {
        let assessment = world.assessment();
        prop_assume!(!assessment.is_go());
        let earliest_s = assessment.earliest_go_s();
        prop_assume!(earliest_s.is_some());
        prop_assume!(!is_off(&world));
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
