//! The slab is dry enough, by enough tests made right.

use std::collections::BTreeSet;

use jiff::Timestamp;

use super::entered::{area, started_areas};
use super::given::{all_chloride, all_in_situ, given_chloride, given_in_situ, none_given};
use super::{Judgement, settle};
use crate::assess::scene::hours;
use crate::assess::{Figure, Finding, Missing, Outcome, Requirement, Scene, Step};
use crate::job::{CalciumChlorideTest, Drying, InSituTest};
use crate::limits::{LimitId, ResolvedLimit};
use crate::physics::concrete::emission_lb_1000ft2_24h;
use crate::quantity::MoistureEmission;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "moisture-tests",
    title: "slab moisture tests",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "Enough tests of one method for the area: so many for the first 1000 ft², so many more for each \
           further 1000 ft² started. In-situ RH (ASTM F2170): hole deep enough for the thickness, \
           sealed long enough before the reading, RH at most the limit. Calcium chloride (ASTM F1869): \
           exposed within its time; emission = gain / (area × time), at most the limit; the area is the \
           one entered, because editions of the method differ by 9 %. Every test of the zone that had \
           ended must pass, of either method: a failed test is not outvoted by others. Only a later \
           test in the same hole, or of a dish with the same name in the same place, stands instead of \
           an earlier one, and a note says what that had found. \
           Simple acceptance: the limits are not tightened.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let mut nearest: Option<Finding> = None;
    let mut unknown: Option<Missing> = None;
    let mut warnings = Vec::new();
    let mut failed = Vec::new();
    let mut take = |name: &str, heat_on: Option<bool>, judged: Judgement| match judged {
        Err(missing) => {
            unknown.get_or_insert(missing);
        }
        Ok(finding) => {
            if heat_on.is_none() {
                warnings.push(format!(
                    "{name}: say whether the floor heating was on; it skews the test"
                ));
            }
            if finding.outcome != Outcome::Met {
                failed.push(name.to_owned());
            }
            let margin = |f: &Finding| f.figure.as_ref().map_or(f64::INFINITY, |f| f.margin);
            let is_worse = nearest.as_ref().is_none_or(|other| {
                match (finding.outcome == Outcome::Met, other.outcome == Outcome::Met) {
                    (true, false) => false,
                    (false, true) => true,
                    _ => margin(&finding) < margin(other),
                }
            });
            if is_worse {
                nearest = Some(finding);
            }
        }
    };
    for test in given_in_situ(scene) {
        take(&format!("hole {}", test.hole), test.heat_on, judge_hole(scene, test));
    }
    for test in given_chloride(scene) {
        take(&format!("dish {}", test.dish), test.heat_on, judge_dish(scene, test));
    }
    let mut finding = match (nearest, unknown) {
        // A failed test stays failed, whatever is missing of another.
        (Some(finding), _) if finding.outcome == Outcome::NotMet => {
            let mut finding = finding;
            if failed.len() > 1 {
                finding.because.push_str(&format!("; {} tests failed in all", failed.len()));
            }
            finding
        }
        (_, Some(missing)) => return Err(missing),
        (Some(finding), None) => enough(scene, places(scene), finding)?,
        (None, None) => return Err(none_given()),
    };
    finding.warnings.append(&mut warnings);
    finding.warnings.extend(tested_again(scene));
    Ok(finding)
}

/// How many places were tested, by the method that tested more. One hole read twice is one place.
fn places(scene: &Scene<'_>) -> f64 {
    let holes: BTreeSet<_> = given_in_situ(scene).map(|test| (&test.room, &test.hole)).collect();
    let dishes: BTreeSet<_> = given_chloride(scene).map(|test| (&test.room, &test.dish)).collect();
    // Never more than fit into a file.
    #[allow(clippy::cast_precision_loss)]
    let places = holes.len().max(dishes.len()) as f64;
    places
}

/// What the tests had found that later ones took the place of.
fn tested_again(scene: &Scene<'_>) -> Vec<String> {
    let day = |time: Option<Timestamp>| {
        time.map(|time| format!(" on {}", scene.job.local(time).date())).unwrap_or_default()
    };
    let holes = all_in_situ(scene).filter(|(_, again)| *again).map(|(test, _)| {
        let found =
            test.reading.map_or("no reading".to_owned(), |rh| format!("{:.1} %RH", rh.percent()));
        format!("hole {} had {found}{}; a later reading of it stands", test.hole, day(test.read))
    });
    let dishes = all_chloride(scene).filter(|(_, again)| *again).map(|(test, _)| {
        let found =
            test.gain().map_or("no result".to_owned(), |gain| format!("{:.2} g", gain.grams()));
        format!("dish {} had gained {found}{}; a later test of it stands", test.dish, day(test.end))
    });
    holes.chain(dishes).collect()
}

/// With tests that all passed: whether they are enough.
fn enough(scene: &Scene<'_>, count: f64, passed: Finding) -> Judgement {
    let first = scene.limit(LimitId::TestsFirstArea)?;
    let further = scene.limit(LimitId::TestsFurtherArea)?;
    let started = started_areas(area(scene)?);
    let needed = first.value + (started - 1.0) * further.value;
    let figure = Figure::new(&ResolvedLimit { value: needed, ..first.clone() }, count, 0.0);
    if figure.is_met() {
        return Ok(passed);
    }
    let because = format!("{count:.0} tests of one method, and the area needs {needed:.0}");
    let mut finding = Finding::of(figure, because)
        .with_todo("make more tests of the same method; mind the cautions");
    finding.warnings = passed.warnings;
    Ok(finding)
}

/// The first figure that breaks its limit, else the last one: the result.
fn first_broken(
    name: &str,
    passed: &str,
    figures: impl IntoIterator<Item = (Figure, &'static str, &'static str)>,
) -> Judgement {
    let mut result = None;
    for (figure, because, todo) in figures {
        if !figure.is_met() {
            return Ok(Finding::of(figure, format!("{name}: {because}")).with_todo(todo));
        }
        result = Some(figure);
    }
    result.map(|figure| Finding::of(figure, passed.to_owned())).ok_or_else(none_given)
}

const REPEAT: &str = "the result does not count: repeat the test";
const TOO_WET: &str =
    "wait and dry the slab, then test again; or ask the maker of the barrier what it can take";

fn judge_hole(scene: &Scene<'_>, test: &InSituTest) -> Judgement {
    let name = format!("hole {}", test.hole);
    let lacks = |what: &str| incomplete(&name, what);
    // A slab of which it is not known how many sides dry needs the deeper hole.
    let depth_limit = scene.limit(match scene.job.concrete.drying {
        Some(Drying::BothSides) => LimitId::InSituDepthBothSides,
        Some(Drying::OneSide) | None => LimitId::InSituDepthOneSide,
    })?;
    let thickness = scene.job.concrete.thickness.ok_or_else(|| Missing {
        because: "the job does not say how thick the concrete is".to_owned(),
        todo: "enter `thickness` under [concrete] in the job file".to_owned(),
    })?;
    let depth = test.depth.ok_or_else(|| lacks("depth"))?;
    let sealed = test.sealed.ok_or_else(|| lacks("sealed"))?.as_second();
    let read = test.read.ok_or_else(|| lacks("read"))?.as_second();
    let reading = test.reading.ok_or_else(|| lacks("reading"))?;
    let share = depth.metres() / thickness.metres() * 100.0;
    let wait_h = hours(read - sealed);
    first_broken(
        &name,
        "every in-situ test is dry enough",
        [
            (
                Figure::new(scene.limit(LimitId::InSituRhMax)?, reading.percent(), 0.0),
                "the slab is too wet",
                TOO_WET,
            ),
            (Figure::new(depth_limit, share, 0.0), "not deep enough: it reads too dry", REPEAT),
            (
                Figure::new(scene.limit(LimitId::InSituWait)?, wait_h, 0.0),
                "read too soon after it was sealed",
                "leave the hole sealed and read it again; enter the new time and reading",
            ),
        ],
    )
    .map(|finding| as_result(finding, scene, LimitId::InSituRhMax, reading.percent()))
}

fn judge_dish(scene: &Scene<'_>, test: &CalciumChlorideTest) -> Judgement {
    let name = format!("dish {}", test.dish);
    let lacks = |what: &str| incomplete(&name, what);
    let start = test.start.ok_or_else(|| lacks("start"))?.as_second();
    let end = test.end.ok_or_else(|| lacks("end"))?.as_second();
    let area = test.area.ok_or_else(|| lacks("area"))?;
    let gain = test.gain().ok_or_else(|| lacks("start-weight` and `end-weight"))?;
    let exposed_h = hours(end - start);
    let emission = emission_lb_1000ft2_24h(gain.grams(), area.square_metres(), exposed_h);
    let emission = emission.map_err(|error| Missing {
        because: format!("{name}: {} is {} {}", error.what, error.value, error.unit),
        todo: error.fix.to_owned(),
    })?;
    let emission = MoistureEmission::from_lb_per_1000_ft2_24h(emission).g_per_m2_24h();
    first_broken(
        &name,
        "every calcium chloride test is dry enough",
        [
            (
                Figure::new(scene.limit(LimitId::MverMax)?, emission, 0.0),
                "the slab gives off too much moisture",
                TOO_WET,
            ),
            (
                Figure::new(scene.limit(LimitId::ChlorideExposureMin)?, exposed_h, 0.0),
                "exposed too short",
                REPEAT,
            ),
            (
                Figure::new(scene.limit(LimitId::ChlorideExposureMax)?, exposed_h, 0.0),
                "exposed too long",
                REPEAT,
            ),
        ],
    )
    .map(|finding| as_result(finding, scene, LimitId::MverMax, emission))
}

/// A test that passed shows its result, not the time that it took.
fn as_result(mut finding: Finding, scene: &Scene<'_>, id: LimitId, observed: f64) -> Finding {
    if finding.outcome == Outcome::Met
        && let Some(limit) = scene.limits.get(id)
    {
        finding.figure = Some(Figure::new(limit, observed, 0.0));
    }
    finding
}

fn incomplete(name: &str, key: &str) -> Missing {
    Missing {
        because: format!("{name}: the job does not give `{key}`"),
        todo: format!("enter `{key}` of the test in the job file"),
    }
}
