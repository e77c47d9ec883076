//! The search by stretches against the search by single readings. What the search itself finds is tested
//! against the letter of the rule elsewhere.

use super::*;
use crate::history::History;
use crate::job::Job;
use crate::limits::Limits;
use glueday_types::{Absent, CentiCelsius, Sample};
use proptest::prelude::*;

/// So many readings of a supply in hundredths, or of none, and the time after each.
type Stage = (usize, Option<i16>, i64);

/// Supplies on both sides of every limit of the stages: 20 to 25 °C, and 42 °C less 2 K.
fn any_stages() -> impl Strategy<Value = Vec<Stage>> {
    let supply = [1_999, 2_000, 2_300, 2_500, 2_501, 3_000, 3_999, 4_000, 4_300];
    let supply = prop_oneof![
        12 => prop::sample::select(supply.to_vec()).prop_map(Some),
        1 => Just(None),
    ];
    let count = prop_oneof![2 => 1_usize..4, 3 => 40_usize..200, 1 => Just(64), 1 => Just(128)];
    let step_s = prop_oneof![8 => Just(60_i64), 1 => Just(0), 1 => Just(3_600), 1 => Just(3_601)];
    prop::collection::vec((count, supply, step_s), 1..10)
}

fn history(stages: &[Stage]) -> History {
    let mut history = History::default();
    let mut time_s = 1_772_409_600;
    for (count, supply, step_s) in stages {
        for i in 0..*count {
            let supply = supply.map(CentiCelsius).ok_or(Absent::NoAnswer);
            let (slab, air_rh) = (Err(Absent::NotFitted), Err(Absent::NotFitted));
            history.push(time_s, 60, &Sample { at_s: 0, slab, air: slab, air_rh, supply });
            // The last one of a stage is that far from the next stage.
            time_s += if i + 1 == *count { *step_s } else { 60 };
        }
    }
    history
}

proptest! {
    #[test]
    fn stretches_find_the_stages_that_single_readings_find(
        stages in any_stages(),
        first_h in 1_u32..6,
        design_h in 1_u32..6,
        early_s in 0_i64..9_000,
        max_c in prop::sample::select(vec!["25 C", "41 C"]),
    ) {
        let limit = |id: &str, value: &str| {
            format!("[[limit]]\nid = \"{id}\"\nvalue = \"{value}\"\nreason = \"test\"\n")
        };
        let text = "[site]\nname = \"Test\"\ntime-zone = \"UTC\"\n[[room]]\nname = \"Hall\"\n\
                    [heating]\ndesign-supply = \"42 C\"\n"
            .to_owned()
            + &limit("run-in-first-hold", &format!("{first_h} h"))
            + &limit("run-in-design-hold", &format!("{design_h} h"))
            + &limit("run-in-first-max", max_c);
        let job = Job::parse(&text, "job.toml").map_err(|e| TestCaseError::fail(e.to_string()))?;
        let limits = Limits::resolve(&job);
        let history = history(&stages);
        let (from_s, to_s) = history.span().unwrap_or_default();
        let zone = &job.zones[0];
        let step = Step::GlueDown;
        let scene = Scene { job: &job, zone, limits: &limits, history: &history, step, at_s: to_s };
        let span = Span { from_s: from_s + early_s, to_s };
        let stages = Stages::of(&scene).map_err(|e| TestCaseError::fail(e.because))?;
        let mut walk = Walk::new(&stages, scene.gap_max_s(), span.from_s);
        scene.points(Channel::Supply, span).for_each(|point| walk.step(point));
        prop_assert_eq!(stages.find(&scene, span), walk.found);
    }
}
