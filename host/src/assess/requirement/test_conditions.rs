//! Slab and air were at service conditions before and during each moisture test.

use super::conditions::Conditions;
use super::given::{Given, given_chloride, given_in_situ};
use super::{Judgement, settle};
use crate::assess::scene::{hours, seconds, show_age};
use crate::assess::{Broken, Figure, Finding, Missing, Outcome, Requirement, Scene, Span, Step};
use crate::limits::{LimitId, ResolvedLimit};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "test-conditions",
    title: "conditions around the moisture tests",
    steps: &[Step::Membrane, Step::GlueDown],
    rule: "For each moisture test: every reading in range, without a gap longer than the limit, from so \
           many hours before it (ASTM F2170: before the hole was drilled; ASTM F1869: before the dome was sealed; \
           both second hand) to its end, and the log covers that time. In-situ tests: air in the range \
           of the job; slab surface between the lowest air temperature and the surface maximum, \
           because a heated slab in service is no colder than the room. Calcium chloride tests: air in \
           the ranges of that method. A test that no log covers is no evidence.",
    judge: |scene| settle(judge(scene)),
};

fn judge(scene: &Scene<'_>) -> Judgement {
    let needed = scene.limit(LimitId::TestConditions)?;
    let coverage_min = scene.limit(LimitId::CoverageMin)?;
    let service = Conditions::service(scene);
    let chloride = Conditions::calcium_chloride(scene);
    let in_situ = given_in_situ(scene).map(|test| Timed {
        name: format!("hole {}", test.hole),
        given: Given::of(test.drilled.or(test.sealed), test.read),
        conditions: &service,
    });
    let dishes = given_chloride(scene).map(|test| Timed {
        name: format!("dish {}", test.dish),
        given: Given::of(test.start, test.end),
        conditions: &chloride,
    });
    // The worst of all tests: what was out of range first, then what nobody knows.
    let mut worst: Option<Finding> = None;
    let mut broken: Vec<Broken> = Vec::new();
    for test in in_situ.chain(dishes) {
        let mut finding = settle(judge_test(scene, &test, needed, coverage_min));
        broken.append(&mut finding.broken);
        if worst.as_ref().is_none_or(|other| is_worse(&finding, other)) {
            worst = Some(finding);
        }
    }
    let mut finding = worst.ok_or_else(super::given::none_given)?;
    // Two tests of the same time share what broke them.
    broken.sort_by_key(|b| (b.from_s, b.to_s, b.limit));
    broken.dedup();
    finding.broken = broken;
    Ok(finding)
}

struct Timed<'a> {
    name: String,
    given: Option<Given>,
    conditions: &'a Conditions<'a>,
}

/// Whether a test stands worse than another: by its outcome, then by its margin.
fn is_worse(finding: &Finding, other: &Finding) -> bool {
    let rank = |finding: &Finding| match finding.outcome {
        Outcome::Met => 0,
        Outcome::NoEvidence => 1,
        Outcome::NotMet => 2,
    };
    let margin =
        |finding: &Finding| finding.figure.as_ref().map_or(f64::NEG_INFINITY, |f| f.margin);
    match rank(finding).cmp(&rank(other)) {
        std::cmp::Ordering::Equal => margin(finding) < margin(other),
        unequal => unequal.is_gt(),
    }
}

fn judge_test(
    scene: &Scene<'_>,
    test: &Timed<'_>,
    needed: &ResolvedLimit,
    coverage_min: &ResolvedLimit,
) -> Judgement {
    let name = &test.name;
    let given = test.given.ok_or_else(|| Missing {
        because: format!("{name}: the job does not say from when to when the test ran"),
        todo: "enter the times of the test in the job file".to_owned(),
    })?;
    let needed_s = seconds(needed.value);
    let gap_max_s = scene.gap_max_s();
    let span = Span { from_s: given.start_s.saturating_sub(needed_s), to_s: given.end_s };
    // The reading before the span may be the one that speaks for its beginning.
    let wide = Span { from_s: span.from_s.saturating_sub(gap_max_s), ..span };
    let held_from_s = held_from_s(scene, test.conditions, wide, gap_max_s);
    let held_s = held_from_s.map_or(0, |from_s| (given.start_s - from_s).clamp(0, needed_s));
    let figure = Figure::new(needed, hours(held_s), 0.0);
    let broken = test.conditions.broken(scene, span);
    if !broken.is_empty() {
        let because = format!("{name}: slab or air was out of range before or during the test");
        let mut finding = Finding::of(figure, because).with_broken(broken).with_todo(format!(
            "hold the conditions for {} and repeat the test",
            show_age(needed_s)
        ));
        // What was out for a moment between two readings in range still broke it.
        finding.outcome = Outcome::NotMet;
        return Ok(finding);
    }
    let covered = test.conditions.channels().into_iter().all(|channel| {
        let share = scene.covered(channel, span).share;
        Figure::new(coverage_min, share * 100.0, 0.0).is_met()
    });
    if !figure.is_met() || !covered || held_from_s.is_none() {
        let because = format!("{name}: the log does not cover the time before and during the test");
        let mut finding = Finding::of(figure, because)
            .with_todo("import the log of that time, or repeat the test with the logger on");
        finding.outcome = Outcome::NoEvidence;
        return Ok(finding);
    }
    Ok(Finding::of(figure, "slab and air were in range for every moisture test".to_owned()))
}

/// From when on all readings up to the end of the span are in range without a gap; `None` when they
/// are not so at its end.
fn held_from_s(
    scene: &Scene<'_>,
    conditions: &Conditions<'_>,
    span: Span,
    gap_max_s: i64,
) -> Option<i64> {
    let mut from_s = span.to_s;
    let mut any = false;
    for spell in conditions.spells(scene, span).rev() {
        if !spell.kept || from_s - spell.to_s > gap_max_s {
            break;
        }
        from_s = spell.from_s;
        any = true;
    }
    any.then_some(from_s)
}
