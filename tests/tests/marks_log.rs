//! Marks of the log beside the milestones of the job file: what is told, and that no verdict turns by it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

#[cfg(test)]
mod assess_world;

use assess_world::{HOUR, MIN, Of, World, t};
use glueday::assess::marks::{Agreement, REACH_S, TOLERANCE_S, without_marks};
use glueday::assess::{Assessment, Step, assess};
use glueday::history::{Event, EventKind, History};
use glueday::job::Job;
use glueday::limits::Limits;
use glueday::view;
use glueday_tests::programs::{Said, glueday};
use glueday_types::MarkKind;
use proptest::prelude::*;
use std::path::Path;

/// The world glued on the 14th day from 8 to 16 h, with these marks in its log.
fn marked(world: &World, marks: &[(MarkKind, i64)]) -> (Job, Assessment) {
    let mut history: History = world.history();
    history
        .events
        .extend(marks.iter().map(|&(kind, time_s)| Event { time_s, kind: EventKind::Mark(kind) }));
    history.events.sort_by_key(|event| event.time_s);
    let job = Job::parse(&world.job, "job.toml").unwrap();
    let zone = job.zone("Hall").unwrap();
    let limits = Limits::resolve(&job);
    let assessment = assess(&job, &limits, &[(zone, &history)], world.step, world.at_s);
    (job, assessment)
}

/// What belongs together: milestone, mark, agreement and seconds between.
type Told = (Option<MarkKind>, Option<MarkKind>, Agreement, Option<i64>);

fn told(marks: &[(MarkKind, i64)]) -> Vec<Told> {
    let (_, assessment) = marked(&World::glued(Step::Sanding), marks);
    let pairings = assessment.zones[0].marks.iter();
    pairings
        .map(|it| (it.milestone.map(|m| m.0), it.mark.map(|m| m.0), it.agreement(), it.off_s()))
        // The wood and the barrier have none in these tests.
        .filter(|it| !matches!(it.0, Some(MarkKind::Delivered | MarkKind::BarrierRolled)))
        .collect()
}

use Agreement::{Agrees, Differs, NoMark, NotInJob};
use MarkKind::{Button, GlueFinished, GlueStarted, HeatOn};

const STARTED: i64 = 14 * 24 * 60;

/// A time of the day of gluing.
fn at(hour: i64, minute: i64) -> i64 {
    t(0, 0, 0) + STARTED * MIN + hour * HOUR + minute * MIN
}

fn finished_alone() -> Told {
    (Some(GlueFinished), None, NoMark, None)
}

#[test]
fn a_mark_that_names_a_milestone_belongs_to_it_however_far_it_is() {
    let one = |hour, minute, s| told(&[(GlueStarted, at(hour, minute) + s)]);
    let pair = |agreement, off_s| (Some(GlueStarted), Some(GlueStarted), agreement, Some(off_s));
    assert_eq!(one(8, 30, 0), [pair(Agrees, TOLERANCE_S), finished_alone()]);
    assert_eq!(one(7, 30, 0), [pair(Agrees, -TOLERANCE_S), finished_alone()]);
    assert_eq!(one(8, 30, 1), [pair(Differs, TOLERANCE_S + 1), finished_alone()]);
    assert_eq!(one(7, 29, 59), [pair(Differs, -TOLERANCE_S - 1), finished_alone()]);
    assert_eq!(one(17, 0, 0), [finished_alone(), pair(Differs, 9 * HOUR)]);
    // A press nearer by does not take its place.
    let both = told(&[(Button, at(8, 0)), (GlueStarted, at(10, 0))]);
    assert_eq!(both[0], (None, Some(Button), NotInJob, None));
    assert_eq!(both[1], pair(Differs, 2 * HOUR));
}

#[test]
fn of_several_marks_the_nearest_belongs_and_the_others_are_told() {
    let told = told(&[(GlueStarted, at(7, 0)), (GlueStarted, at(8, 20)), (HeatOn, at(9, 0))]);
    assert_eq!(
        told,
        [
            (None, Some(GlueStarted), NotInJob, None),
            (Some(GlueStarted), Some(GlueStarted), Agrees, Some(20 * MIN)),
            (None, Some(HeatOn), NotInJob, None),
            finished_alone(),
        ]
    );
}

#[test]
fn a_press_belongs_to_the_nearest_milestone_within_its_reach() {
    let pair =
        |milestone, agreement, off_s| (Some(milestone), Some(Button), agreement, Some(off_s));
    assert_eq!(
        told(&[(Button, at(8, 0) + REACH_S)]),
        [pair(GlueStarted, Differs, REACH_S), finished_alone()]
    );
    let alone = [
        (Some(GlueStarted), None, NoMark, None),
        (None, Some(Button), NotInJob, None),
        finished_alone(),
    ];
    assert_eq!(told(&[(Button, at(8, 0) + REACH_S + 1)]), alone);
    // Each press to one milestone, the closest pair first.
    let two = told(&[(Button, at(8, 40)), (Button, at(8, 10)), (Button, at(15, 50))]);
    assert_eq!(
        two,
        [
            pair(GlueStarted, Agrees, 10 * MIN),
            (None, Some(Button), NotInJob, None),
            pair(GlueFinished, Agrees, -10 * MIN),
        ]
    );
}

#[test]
fn what_has_not_come_and_what_is_of_another_job_is_left_out() {
    let mut world = World::glued(Step::Sanding);
    world.at_s = at(12, 0);
    // Work that goes on until 16 h, a mark from after the question, and one from before the pour.
    let marks = [(GlueStarted, at(8, 0)), (Button, at(12, 1)), (Button, t(-60, 0, 0))];
    let (_, assessment) = marked(&world, &marks);
    let pairings = &assessment.zones[0].marks;
    assert_eq!(pairings.len(), 3, "{pairings:?}");
    assert!(pairings.iter().all(|it| it.mark.is_none_or(|mark| mark.0 == GlueStarted)));
    assert!(pairings.iter().all(|it| it.milestone.is_some_and(|m| m.0 != GlueFinished)));
    // A mark of what the job file puts later is compared with it all the same.
    let (_, assessment) = marked(&world, &[(GlueFinished, at(11, 0))]);
    let early = assessment.zones[0].marks.iter().find(|it| it.agreement() == Differs).unwrap();
    assert_eq!(early.off_s(), Some(-5 * HOUR));
}

/// The output is what the file holds.
#[track_caller]
fn assert_golden(name: &str, text: &str) {
    let text = without_styles(text);
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/text").join(format!("{name}.txt"));
    if std::env::var_os("GLUEDAY_REWRITE_TEXTS").is_some() {
        std::fs::write(&path, &text).unwrap();
        return;
    }
    let golden = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(golden == text, "{name}.txt differs\n--- was\n{golden}\n--- is\n{text}");
}

fn spoilt() -> Vec<(MarkKind, i64)> {
    vec![
        (MarkKind::Delivered, t(9, 0, 4)),
        (Button, t(12, 1, 5)),
        (GlueStarted, at(8, 4)),
        (Button, at(12, 10)),
        (HeatOn, t(20, 7, 30)),
    ]
}

#[test]
fn the_texts_at_80_and_120_columns() {
    let world = World::glued(Step::Sanding);
    let (job, assessment) = marked(&world, &spoilt());
    let limits = Limits::resolve(&job);
    for width in [80, 120] {
        assert_golden(&format!("marks-{width}"), &view::marks::text(&assessment, &job, width));
        let check = view::text::check(&assessment, &job, &limits, width);
        assert_golden(&format!("marks-check-{width}"), &check);
    }
    assert_eq!(
        without_marks(&assessment.zones[0].marks).as_deref(),
        Some("no mark in the log bears out glue-finished")
    );
}

#[test]
fn the_json_of_check_and_marks_tells_the_same_pairs() {
    let (_, assessment) = marked(&World::glued(Step::Sanding), &spoilt());
    let read = |text: String| serde_json::from_str::<serde_json::Value>(&text).unwrap();
    let check = read(view::json::check(&assessment).unwrap());
    let marks = read(view::marks::json(&assessment).unwrap());
    assert_eq!(check["zones"][0]["marks"], marks["rooms"][0]["marks"]);
    let all = marks["rooms"][0]["marks"].as_array().unwrap();
    let word = |i: usize, key: &str| all[i][key].as_str().unwrap_or("-").to_owned();
    let found: Vec<String> = (0..all.len())
        .map(|i| format!("{} {} {}", word(i, "milestone"), word(i, "mark"), word(i, "agreement")))
        .collect();
    assert_eq!(
        found,
        [
            "delivered delivered agrees",
            "barrier-rolled button differs",
            "glue-started glue-started agrees",
            "- button not-in-job",
            "glue-finished - no-mark",
            "- heat-on not-in-job",
        ]
    );
    assert_eq!(all[1]["off_s"], 65 * MIN);
    assert_eq!(all[1]["marked"], "2026-03-14T01:05:00Z");
    let notes = check["zones"][0]["log_notes"].as_array().unwrap();
    assert_eq!(notes.len(), 3, "{notes:?}");
    assert!(notes[0].as_str().unwrap().contains("the job file counts"), "{notes:?}");
}

const KINDS: [MarkKind; 7] = [
    Button,
    MarkKind::Delivered,
    MarkKind::BarrierRolled,
    GlueStarted,
    GlueFinished,
    MarkKind::Sanded,
    HeatOn,
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    /// Whatever stands in the log as a mark, every finding stays as it is.
    #[test]
    fn no_mark_changes_a_finding(
        step in 0..Step::ALL.len(),
        damp in any::<bool>(),
        marks in prop::collection::vec((0..KINDS.len(), 0..22 * 24 * 60_i64), 0..12),
    ) {
        let mut world = World::glued(Step::ALL[step]);
        if damp {
            // Too damp for the wood before it is glued, and too cold a slab while it is.
            world.set(Of::Rh, t(11, 4, 0), t(11, 9, 0), 82.5);
            world.set(Of::Slab, t(14, 9, 0), t(14, 14, 0), 9.0);
            world.set(Of::Slab, t(20, 9, 0), t(20, 14, 0), 9.0);
        }
        let marks: Vec<_> = marks.iter().map(|&(kind, min)| (KINDS[kind], t(0, 0, min))).collect();
        let (_, plain) = marked(&world, &[]);
        // Else there would be nothing for a mark to mend.
        prop_assert!(!(damp && plain.is_go()), "{:?} is a go", world.step);
        let (_, with) = marked(&world, &marks);
        prop_assert_eq!(with.is_go(), plain.is_go());
        prop_assert_eq!(with.earliest_go_s(), plain.earliest_go_s());
        let findings = |a: &Assessment| -> Vec<_> {
            a.zones[0].judged.iter().map(|judged| judged.finding.clone()).collect()
        };
        prop_assert_eq!(findings(&with), findings(&plain));
        // No mark is lost, and none is told twice.
        let pairings = &with.zones[0].marks;
        let mut told: Vec<_> = pairings.iter().filter_map(|it| it.mark).collect();
        let mut known = marks;
        told.sort_unstable();
        known.sort_unstable();
        prop_assert_eq!(told, known);
        prop_assert_eq!(pairings.iter().filter(|it| it.milestone.is_some()).count(), 4);
    }
}

/// From the command to the archive, over a real pty.
#[cfg(unix)]
#[test]
fn a_mark_goes_through_the_logger_into_the_archive() {
    use glueday_desk::{Desk, Port, Script, Settings};
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};

    let folder = tempfile::tempdir().unwrap();
    let archive = folder.path().join("archive.sqlite");
    let image = folder.path().join("logger.flash");
    let id = glueday_types::LoggerId(*b"marked01");
    let settings = Settings { scale: 0.0, ..Settings::default() };
    let mut desk =
        Desk::create_or_open(image, 16, id, Box::new(Script::steady(3)), &settings).unwrap();
    desk.advance_to(7200).unwrap();
    let port = Port::open_pty(None).unwrap();
    let name = port.name().to_owned();
    let stop = Arc::new(AtomicBool::new(false));
    let thread = {
        let stop = Arc::clone(&stop);
        std::thread::spawn(move || desk.serve(vec![port], &stop).unwrap())
    };
    let run = |args: &[&str]| -> Said { glueday(&archive, args) };
    let on_port = |args: &[&str]| run(&[args, &["--port", &name]].concat());
    assert_eq!(on_port(&["adopt", "--name", "hall logger"]).code, Some(0));
    let said = on_port(&["mark", "glue-started"]);
    assert_eq!(said.code, Some(0), "{said:?}");
    assert!(said.out.starts_with("glue-started stands in the log of 6d61726b65643031"), "{said:?}");
    assert!(said.err.contains("[milestones]: glue-started = 20"), "{said:?}");
    let said = on_port(&["mark", "button", "--json"]);
    let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    assert_eq!((&document["mark"], &document["copies"]), (&"button".into(), &1.into()));
    assert_eq!((&document["boot"], &document["at_s"]), (&1.into(), &7200.into()));
    assert_eq!(on_port(&["pull"]).code, Some(0));
    stop.store(true, Ordering::Relaxed);
    thread.join().unwrap();

    let now = jiff::Timestamp::now();
    let early = now.as_second() - 3 * HOUR;
    let early = jiff::Timestamp::from_second(early).unwrap();
    let job = folder.path().join("job.toml");
    let mut text = World::ready().job.replace("[[room]]", "[[room]]\nlogger = \"hall logger\"");
    text = text.replace("delivered = 2026-03-11T00:00\n", "");
    text = text.replace("barrier-rolled = 2026-03-14T00:00", &format!("glue-started = {early}"));
    std::fs::write(&job, text).unwrap();
    let job = job.to_str().unwrap();
    let said = run(&["marks", job, "--json"]);
    assert_eq!(said.code, Some(1), "{said:?}");
    let document: serde_json::Value = serde_json::from_str(&said.out).unwrap();
    let marks = document["rooms"][0]["marks"].as_array().unwrap();
    assert_eq!(marks.len(), 2, "{document}");
    assert_eq!(
        (&marks[0]["mark"], &marks[0]["agreement"]),
        (&"glue-started".into(), &"differs".into())
    );
    assert_eq!(
        (&marks[1]["mark"], &marks[1]["agreement"]),
        (&"button".into(), &"not-in-job".into())
    );
    let check = run(&["check", job, "--json"]);
    let check: serde_json::Value = serde_json::from_str(&check.out).unwrap();
    assert_eq!(check["zones"][0]["marks"], document["rooms"][0]["marks"]);
    let text = run(&["marks", job]);
    assert!(
        text.out.contains("glue-started: marked ") && text.out.contains("3.0 h later: differs")
    );
    assert!(!text.out.contains('\u{1b}'), "{text:?}");
    let unknown = run(&["mark", "glued", "--port", "nowhere"]);
    assert_eq!(unknown.code, Some(2), "{unknown:?}");
    assert!(unknown.err.contains("glue-started"), "{unknown:?}");
}

fn without_styles(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    out + rest
}
