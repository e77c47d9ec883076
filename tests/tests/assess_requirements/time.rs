//! Time itself: nights on which clocks change, starts and clocks of the logger, intervals, the second
//! asked about.

mod clocks;
mod nights;
mod samples;

use crate::assess_world::{World, good};

/// A good sample at a time that has none, besides the others.
fn add_sample(world: &mut World, time_s: i64) {
    let at = world.samples.partition_point(|sample| sample.time_s < time_s);
    if world.samples.get(at).is_none_or(|sample| sample.time_s != time_s) {
        world.samples.insert(at, good(time_s));
    }
}
