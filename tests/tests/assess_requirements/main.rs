//! Each requirement at its edge: one row, one fact, the outcome argued in words.

#[cfg(test)]
#[path = "../assess_world/mod.rs"]
mod assess_world;
#[cfg(test)]
mod concrete;
#[cfg(test)]
mod moisture;
#[cfg(test)]
mod probes;
#[cfg(test)]
mod products;
#[cfg(test)]
mod rows;
#[cfg(test)]
mod site;
#[cfg(test)]
mod time;

use assess_world::{Of, World, t};
use glueday::assess::Outcome::Met;
use glueday::assess::{REQUIREMENTS, Scene, Step, assess};
use glueday::history::build;
use glueday::job::Job;
use glueday::limits::Limits;
use glueday_tests::season;

#[test]
fn the_worlds_that_rows_spoil_are_in_order() {
    for step in [Step::Membrane, Step::GlueDown] {
        let world = World { step, ..World::ready() };
        assert!(world.assessment().is_go(), "{:#?}", world.assessment());
    }
    for step in [Step::Traffic, Step::Sanding, Step::HeatUp, Step::Service] {
        let world = World::glued(step);
        assert!(world.assessment().is_go(), "{:#?}", world.assessment());
    }
}

/// Requirements are judged by two threads where the log is long.
#[test]
fn of_a_long_log_each_requirement_says_what_it_says_alone() {
    let (blocks, at_s) = season::blocks(110_000, 60, season::LOGGER);
    let history = build(blocks.iter().map(Vec::as_slice));
    let job = Job::parse(&season::job("x", "Long", 3), "job.toml").unwrap();
    let limits = Limits::resolve(&job);
    let zone = &job.zones[0];
    for step in Step::ALL {
        let scene = Scene { job: &job, zone, limits: &limits, history: &history, step, at_s };
        let asked = REQUIREMENTS.iter().filter(|requirement| requirement.steps.contains(&step));
        let alone: Vec<_> = asked.map(|asked| (asked.id, (asked.judge)(&scene))).collect();
        for _ in 0..5 {
            let assessment = assess(&job, &limits, &[(zone, &history)], step, at_s);
            let judged = &assessment.zones[0].judged;
            let judged = judged.iter().map(|it| (it.requirement.id, it.finding.clone()));
            assert_eq!(judged.collect::<Vec<_>>(), alone, "{step:?}");
        }
    }
}

#[test]
fn warnings_say_what_no_outcome_says() {
    let mut by_hand = World::ready();
    by_hand.start_log_at(t(8, 0, 0));
    by_hand.edit(
        "design-supply = \"42 C\"",
        "run-in-start = 2026-02-20T00:00\nrun-in-end = 2026-02-27T00:00",
    );
    let mut dry = World::glued(Step::Traffic);
    // 15 °C and 40 % hold water vapour at 682 Pa, against 1169 Pa at 20 °C and 50 %.
    dry.limit("adhesive-air-min", "10 C");
    dry.set(Of::Air, t(14, 0, 0), t(22, 0, 0), 15.0);
    dry.set(Of::Rh, t(14, 0, 0), t(22, 0, 0), 40.0);
    dry.at_s = t(15, 20, 0);
    let mut warm_slab = World::ready();
    warm_slab.edit("7.5 %", "8.5 %");
    warm_slab.set(Of::Slab, t(12, 0, 0), t(14, 0, 0), 27.0);
    let mut late_log = World::ready();
    late_log.start_log_at(t(8, 0, 0));
    let mut warm_underside = World::glued(Step::Service);
    warm_underside.set(Of::Slab, t(18, 12, 0), t(18, 12, 0), 30.0);
    let mut retested = World::ready();
    retested.edit_first("reading = \"72 %\"", "reading = \"80 %\"");
    retested.add(
        "[[in-situ-test]]\nhole = \"A\"\ndepth = \"40 mm\"\ndrilled = 2026-03-12T23:30\n\
         sealed = 2026-03-13T00:00\nread = 2026-03-14T00:00\nreading = \"70 %\"\nheat = \"off\"\n",
    );
    for (world, id, part) in [
        (
            late_log,
            "acclimation",
            "of the 5.0 d before the wood was delivered the log shows 24.0 h",
        ),
        (warm_underside, "surface-max", "the slab under the wood reached 30.0 °C (86.0 °F)"),
        (retested, "moisture-tests", "hole A had 80.0 %RH on 2026-03-13; a later reading"),
        (World::ready(), "concrete-age", "no log covers 48.0 d of the 62.0 d"),
        (by_hand, "run-in", "no log shows the whole run-in"),
        (dry, "adhesive-cure", "by vapour pressure"),
        (warm_slab, "wood-moisture", "at the slab surface"),
    ] {
        let finding = world.finding(id);
        assert_eq!(finding.outcome, Met, "{finding:#?}");
        assert!(finding.warnings.iter().any(|w| w.contains(part)), "{finding:#?}");
    }
    for id in ["acclimation", "surface-max", "moisture-tests", "probes", "probe-checks"] {
        assert_eq!(World::ready().finding(id).warnings, [""; 0], "{id}");
    }
}
