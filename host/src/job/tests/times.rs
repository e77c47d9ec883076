//! Dates, times, and the order of things.

use jiff::civil::date;

use super::{errors, expect_error, only_error, read, utc};
use crate::job::Job;

#[test]
fn local_times_are_on_the_clock_of_the_site() {
    let job = read(
        "[milestones]\ndelivered = 2026-03-02T08:30\nbarrier-rolled = \"2026-03-16 08:30\"\n\
         glue-started = 2026-03-18 08:00:00Z\nglue-finished = \"2026-03-18 16:00-06:00\"\n",
    );
    // Denver is UTC-7 until 8 March 2026 and UTC-6 after it (US rule: second Sunday of March).
    assert_eq!(job.milestones.delivered, utc("2026-03-02T15:30:00Z"));
    assert_eq!(job.milestones.barrier_rolled, utc("2026-03-16T14:30:00Z"));
    assert_eq!(job.milestones.glue_started, utc("2026-03-18T08:00:00Z"));
    assert_eq!(job.milestones.glue_finished, utc("2026-03-18T22:00:00Z"));
    let delivered = job.milestones.delivered.unwrap();
    assert_eq!(job.local(delivered).datetime(), date(2026, 3, 2).at(8, 30, 0, 0));
}

#[test]
fn a_local_time_that_does_not_exist_or_came_twice_asks_for_the_offset() {
    expect_error(
        "[milestones]\nheat-on = 2026-03-08T02:30\n",
        (5, 11),
        "2026-03-08 02:30 does not exist in America/Denver: clocks skipped it",
        "2026-03-08T02:30-07:00 or 2026-03-08T02:30-06:00",
    );
    expect_error(
        "[milestones]\nheat-on = \"2026-11-01 01:30\"\n",
        (5, 11),
        "2026-11-01 01:30 came twice in America/Denver: clocks went back",
        "2026-11-01T01:30-06:00 or 2026-11-01T01:30-07:00",
    );
    let job = read("[milestones]\nheat-on = 2026-11-01T01:30-07:00\n");
    assert_eq!(job.milestones.heat_on, utc("2026-11-01T08:30:00Z"));
}

#[test]
fn dates_and_times_are_not_mixed_up() {
    expect_error(
        "[milestones]\nsanded = 2026-03-08\n",
        (5, 10),
        "`2026-03-08` is not a time",
        "2026-03-02T08:30",
    );
    for text in ["\"2026-03-08\"", "\"3/8/2026 8:30\"", "8", "\"2026-03-08 08:30[Europe/Berlin]\""]
    {
        let (.., problem, _) = only_error(&format!("[milestones]\nsanded = {text}\n"));
        assert!(problem.ends_with("is not a time"), "{problem}");
    }
    for text in ["2026-03-08T08:30", "\"2026-03-08 08:30\"", "\"March 8\"", "2026"] {
        let (.., problem, _) = only_error(&format!("[concrete]\npoured = {text}\n"));
        assert!(problem.ends_with("is not a date"), "{problem}");
    }
    assert_eq!(
        read("[concrete]\npoured = \"2026-01-12\"\n").concrete.poured,
        Some(date(2026, 1, 12))
    );
    expect_error(
        "[concrete]\npoured = 0206-01-12\n",
        (5, 10),
        "the year 206 cannot be meant",
        "check the year",
    );
}

#[test]
fn time_zones_are_iana_places() {
    let zone =
        |zone: &str| errors(&format!("[site]\nname = \"a\"\ntime-zone = {zone}\n")).remove(0);
    for (wrong, right) in [
        ("America/Dever", "America/Denver"),
        ("Denver", "America/Denver"),
        ("new york", "America/New_York"),
        ("Europe/Berln", "Europe/Berlin"),
    ] {
        let error = zone(&format!("\"{wrong}\""));
        assert_eq!(error.problem, format!("`{wrong}` is not an IANA time zone"));
        assert_eq!(error.fix, format!("did you mean `{right}`?"));
        assert_eq!((error.line, error.column), (3, 13));
    }
    // A fixed offset by the name of a zone that has summer time.
    assert_eq!(zone("\"MST\"").problem, "`MST` is not an IANA time zone");
    assert_eq!(zone("-7").problem, "`time-zone` is `-7`, not a name");
    let text = "[site]\nname = \"a\"\ntime-zone = \"UTC\"\n";
    assert_eq!(Job::parse(text, "f").unwrap().site.time_zone.iana_name(), Some("UTC"));
}

#[test]
fn steps_come_in_their_order() {
    for (first, then) in [
        ("delivered", "glue-started"),
        ("barrier-rolled", "glue-started"),
        ("glue-started", "glue-finished"),
        ("glue-started", "sanded"),
        ("glue-finished", "sanded"),
        ("glue-finished", "heat-on"),
    ] {
        expect_error(
            &format!("[milestones]\n{first} = 2026-03-18T08:00\n{then} = 2026-03-18T07:59\n"),
            (6, then.len() + 4),
            &format!("`{then}` is earlier than `{first}`"),
            "check both",
        );
        read(&format!("[milestones]\n{first} = 2026-03-18T08:00\n{then} = 2026-03-18T08:00\n"));
    }
}

#[test]
fn nothing_is_tested_or_glued_before_the_pour() {
    let pour = "[concrete]\npoured = 2026-03-03\nthickness = \"120 mm\"\n";
    expect_error(
        &format!("{pour}[[in-situ-test]]\nhole = \"1\"\nread = 2026-03-02T08:30\n"),
        (9, 8),
        "`read` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    expect_error(
        &format!("{pour}[[calcium-chloride-test]]\ndish = \"1\"\nstart = 2026-03-02T23:59\n"),
        (9, 9),
        "`start` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    expect_error(
        &format!("{pour}[milestones]\nglue-started = 2026-03-02T08:30\n"),
        (8, 16),
        "`glue-started` is on 2026-03-02, before the concrete was poured (2026-03-03)",
        "`poured` in [concrete]",
    );
    // The day counts where the site is: this is still 2 March in UTC terms of another day.
    read(&format!("{pour}[milestones]\nglue-started = 2026-03-03T00:00\n"));
}

#[test]
fn a_room_has_its_own_milestones_and_shares_the_others() {
    let job = read(
        "[milestones]\ndelivered = 2026-03-09T09:00\nglue-started = 2026-03-18T08:00\n\
         [[room]]\nname = \"a\"\n[[room]]\nname = \"b\"\n\
         [room.milestones]\nglue-started = 2026-03-19T08:00\n",
    );
    assert_eq!(job.zones[0].milestones, job.milestones);
    assert_eq!(job.zones[1].milestones.delivered, job.milestones.delivered);
    assert_eq!(job.zones[1].milestones.glue_started, utc("2026-03-19T14:00:00Z"));
    // Compared with what the room takes over from the job.
    expect_error(
        "[milestones]\ndelivered = 2026-03-09T09:00\n\
         [[room]]\nname = \"a\"\n[room.milestones]\nglue-started = 2026-03-08T08:00\n",
        (9, 16),
        "`glue-started` is earlier than `delivered`",
        "check both",
    );
}

#[test]
fn an_error_that_a_room_takes_over_is_told_once() {
    expect_error(
        "[milestones]\nglue-started = 2026-03-18T08:00\nglue-finished = 2026-03-17T08:00\n\
         [[room]]\nname = \"a\"\n[room.milestones]\ndelivered = 2026-03-09T09:00\n",
        (6, 17),
        "`glue-finished` is earlier than `glue-started`",
        "check both",
    );
}
