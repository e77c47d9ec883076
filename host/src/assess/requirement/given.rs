//! The moisture tests of a zone, as the job gives them.

use jiff::Timestamp;

use super::entered::of_zone;
use crate::assess::{Missing, Scene};
use crate::job::{CalciumChlorideTest, InSituTest};

/// From when to when a test ran, in seconds of UTC.
#[derive(Clone, Copy)]
pub(super) struct Given {
    /// First second.
    pub(super) start_s: i64,
    /// Last second.
    pub(super) end_s: i64,
}

impl Given {
    pub(super) fn of(start: Option<Timestamp>, end: Option<Timestamp>) -> Option<Self> {
        Some(Self { start_s: start?.as_second(), end_s: end?.as_second() })
    }
}

/// Whether a test is one by the time asked about: it has ended, or it has a result and nobody knows
/// of when. One that still runs is none yet.
fn ended(scene: &Scene<'_>, end: Option<Timestamp>, has_result: bool) -> bool {
    end.map_or(has_result, |end| end.as_second() <= scene.at_s)
}

/// The in-situ tests of the zone that ended by the time asked about.
pub(super) fn given_in_situ<'a>(scene: &Scene<'a>) -> impl Iterator<Item = &'a InSituTest> {
    let scene = *scene;
    scene.job.in_situ_tests.iter().filter(move |test| {
        of_zone(&scene, test.room.as_deref()) && ended(&scene, test.read, test.reading.is_some())
    })
}

/// The calcium chloride tests of the zone that ended by the time asked about.
pub(super) fn given_chloride<'a>(
    scene: &Scene<'a>,
) -> impl Iterator<Item = &'a CalciumChlorideTest> {
    let scene = *scene;
    scene.job.calcium_chloride_tests.iter().filter(move |test| {
        of_zone(&scene, test.room.as_deref()) && ended(&scene, test.end, test.end_weight.is_some())
    })
}

/// What to know before making more tests.
pub(super) const CAUTION: &str = "CAUTION: before drilling, locate and mark heating pipes, cables and \
     tendons; drilling and grinding make silica dust: shroud and vacuum, respirator, local rules";

/// There is no test at all.
pub(super) fn none_given() -> Missing {
    Missing {
        because: "the job has no moisture test that had ended".to_owned(),
        todo: format!("test the slab and enter the tests in the job file. {CAUTION}"),
    }
}
