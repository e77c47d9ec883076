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

/// Whether the same hole, or dish, was read again later: then the later result stands for it.
fn again<T>(
    of: &T,
    others: &[T],
    same: impl Fn(&T) -> bool,
    end: impl Fn(&T) -> Option<Timestamp>,
    counts: impl Fn(&T) -> bool,
) -> bool {
    let Some(ended) = end(of) else { return false };
    others
        .iter()
        .any(|other| same(other) && counts(other) && end(other).is_some_and(|later| later > ended))
}

fn counts_in_situ(scene: &Scene<'_>, test: &InSituTest) -> bool {
    of_zone(scene, test.room.as_deref()) && ended(scene, test.read, test.reading.is_some())
}

fn counts_chloride(scene: &Scene<'_>, test: &CalciumChlorideTest) -> bool {
    of_zone(scene, test.room.as_deref()) && ended(scene, test.end, test.end_weight.is_some())
}

/// The in-situ tests of the zone that ended by the time asked about, each with whether the same hole
/// was read again by then.
pub(super) fn all_in_situ<'a>(
    scene: &Scene<'a>,
) -> impl Iterator<Item = (&'a InSituTest, bool)> + use<'a> {
    let scene = *scene;
    let tests = &scene.job.in_situ_tests;
    tests.iter().filter(move |test| counts_in_situ(&scene, test)).map(move |test| {
        let same = |other: &InSituTest| other.hole == test.hole && other.room == test.room;
        let counts = |other: &InSituTest| counts_in_situ(&scene, other) && other.reading.is_some();
        (test, again(test, tests, same, |test| test.read, counts))
    })
}

/// The calcium chloride tests of the zone that ended by the time asked about, each with whether a
/// dish of that name was weighed again by then.
pub(super) fn all_chloride<'a>(
    scene: &Scene<'a>,
) -> impl Iterator<Item = (&'a CalciumChlorideTest, bool)> + use<'a> {
    let scene = *scene;
    let tests = &scene.job.calcium_chloride_tests;
    tests.iter().filter(move |test| counts_chloride(&scene, test)).map(move |test| {
        let same = |other: &CalciumChlorideTest| other.dish == test.dish && other.room == test.room;
        let counts =
            |other: &CalciumChlorideTest| counts_chloride(&scene, other) && other.gain().is_some();
        (test, again(test, tests, same, |test| test.end, counts))
    })
}

/// The in-situ tests that stand: the last of each hole.
pub(super) fn given_in_situ<'a>(
    scene: &Scene<'a>,
) -> impl Iterator<Item = &'a InSituTest> + use<'a> {
    all_in_situ(scene).filter(|(_, again)| !again).map(|(test, _)| test)
}

/// The calcium chloride tests that stand: the last of each dish.
pub(super) fn given_chloride<'a>(
    scene: &Scene<'a>,
) -> impl Iterator<Item = &'a CalciumChlorideTest> + use<'a> {
    all_chloride(scene).filter(|(_, again)| !again).map(|(test, _)| test)
}

/// There is no test at all.
pub(super) fn none_given() -> Missing {
    Missing {
        because: "the job has no moisture test that had ended".to_owned(),
        todo: "test the slab and enter the tests in the job file; mind the cautions".to_owned(),
    }
}
