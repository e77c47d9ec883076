//! Faults of the line.

use glueday::archive::Held;
use glueday::port::{PortError, Transport as _};
use glueday::pull::{Event, Finding, Link, LinkError, Pace, PullError, Session, Target};
use glueday_tests::faulty_link::{Faults, FaultyLink, ToyLogger, frame};
use glueday_types::wire::{Message, Reply, Request};
use proptest::prelude::*;
use std::time::Duration;

use super::{again, archive, assert_complete, assert_nothing_false, logger, pull};

#[test]
fn a_clean_line_moves_each_byte_once_at_nine_tenths_of_its_speed() {
    for (write_unit, trims) in [(1, false), (4, true), (32, false)] {
        let mut logger = ToyLogger::new(*b"toy-0001", 500, write_unit);
        logger.sample(24_000, 5);
        logger.trims = trims;
        let mut archive = archive();
        let mut link = Link::new(FaultyLink::new(logger), 1);
        let report = pull(&mut link, &mut archive).unwrap();
        let line = link.into_port();
        assert_complete(&archive, &line.logger);
        assert_eq!(report.findings, []);
        let log: u64 = line.logger.blocks.values().map(|block| block.len() as u64).sum();
        if !trims {
            assert_eq!((report.tally.bytes, report.tally.bytes_total), (log, log));
        }
        // Counted, not timed: bytes at 10 bits each, both ways one after the other, and 16 ms for
        // each request. Hello and status are in it.
        let line_s =
            (line.sent + line.received) as f64 * 10.0 / 115_200.0 + line.turnarounds as f64 * 0.016;
        let goodput = report.tally.bytes as f64 / line_s;
        println!(
            "unit {write_unit}, trims {trims}: {} blocks, {log} B in {} requests: {goodput:.0} B/s, {:.1} % of 11520",
            line.logger.blocks.len(),
            line.turnarounds,
            goodput / 115.2
        );
        assert!(goodput >= 0.9 * 11_520.0, "{goodput}");
    }
}

#[test]
fn a_slow_line_is_given_the_time_it_needs() {
    for baud in [1200, 9600, 115_200, 921_600] {
        let mut line = FaultyLink::new(logger(1500));
        line.baud = baud;
        let mut link = Link::new(line, 1);
        pull(&mut link, &mut archive()).unwrap();
        let line = link.into_port();
        assert_eq!(line.logger.requests.len(), 3, "{baud}: {:?}", line.logger.requests);
    }
}

#[test]
fn a_second_pull_moves_only_what_is_new() {
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger(3000)), 1);
    pull(&mut link, &mut archive).unwrap();
    let mut line = link.into_port();
    let before = line.received;

    let mut link = again(line, 100);
    assert_eq!(pull(&mut link, &mut archive).unwrap().tally.bytes, 0);
    line = link.into_port();
    assert!(line.received - before < 150, "hello and status only, not {}", line.received - before);

    let (open, len) = (line.logger.status().open_block, line.logger.status().open_len);
    line.logger.sample(3, 5);
    let grown = line.logger.status();
    assert_eq!(grown.open_block, open, "the test wants the same block");
    let before = line.received;
    let mut link = again(line, 200);
    let report = pull(&mut link, &mut archive).unwrap();
    assert_eq!(report.tally.bytes, u64::from(grown.open_len - len));
    line = link.into_port();
    assert!(line.received - before < 300, "not the whole block");
    assert_complete(&archive, &line.logger);

    line.logger.sample(2000, 6);
    let mut link = again(line, 300);
    assert_eq!(pull(&mut link, &mut archive).unwrap().findings, []);
    assert_complete(&archive, &link.into_port().logger);
}

#[test]
fn the_log_may_grow_while_it_is_pulled() {
    let mut logger = logger(3000);
    logger.busy = true;
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger), 1);
    assert_eq!(pull(&mut link, &mut archive).unwrap().findings, []);
    let mut line = link.into_port();
    line.logger.busy = false;
    let mut link = again(line, 100);
    assert_eq!(pull(&mut link, &mut archive).unwrap().findings, []);
    assert_complete(&archive, &link.into_port().logger);
}

#[test]
fn unplugged_at_any_byte_it_goes_on_from_there() {
    let clean = logger(900);
    let mut whole = Link::new(FaultyLink::new(clean.clone()), 1);
    pull(&mut whole, &mut archive()).unwrap();
    let bytes = whole.into_port().received;
    let mut cuts = 0;
    for at in (0..bytes).step_by(13) {
        let mut archive = archive();
        let mut line = FaultyLink::new(clean.clone());
        line.lives = Some(at);
        let mut link = Link::new(line, 1);
        let error = pull(&mut link, &mut archive).expect_err("unplugged");
        let PullError::Link(LinkError::Port(PortError::Gone { .. })) = error else {
            panic!("at {at}: {error}")
        };
        let mut line = link.into_port();
        assert_nothing_false(&archive, &line.logger);
        let held: usize = archive.blocks(clean.id).unwrap().iter().map(|b| b.bytes.len()).sum();
        line.lives = None;
        let mut link = again(line, 500);
        let report = pull(&mut link, &mut archive).unwrap();
        assert_eq!(report.findings, [], "at {at}");
        let log: usize = clean.blocks.values().map(Vec::len).sum();
        assert_eq!(report.tally.bytes, (log - held) as u64, "at {at}: each byte once");
        assert_complete(&archive, &link.into_port().logger);
        cuts += 1;
    }
    println!("{cuts} cuts over {bytes} bytes");
    assert!(cuts > 600);
}

#[test]
fn unplugged_over_and_over_it_still_comes_to_the_end() {
    let clean = logger(900);
    let mut archive = archive();
    let mut pulls = 0;
    loop {
        pulls += 1;
        assert!(pulls < 40, "no progress");
        let mut line = FaultyLink::new(clean.clone());
        line.lives = Some(1500);
        match pull(&mut Link::new(line, pulls * 50), &mut archive) {
            Ok(_) => break,
            Err(PullError::Link(LinkError::Port(_))) => {
                assert_nothing_false(&archive, &clean);
            }
            Err(error) => panic!("{error}"),
        }
    }
    assert_complete(&archive, &clean);
}

#[test]
fn a_restart_in_the_middle_is_overcome() {
    for after in [0, 50, 200, 3000, 9000] {
        for quiet_ms in [0, 400, 1500] {
            let mut line = FaultyLink::new(logger(2000));
            line.restart = Some((after, Duration::from_millis(quiet_ms)));
            let mut archive = archive();
            let mut link = Link::new(line, 1);
            let report = pull(&mut link, &mut archive).unwrap();
            assert_eq!(report.findings, [], "after {after} B, {quiet_ms} ms");
            let mut link = again(link.into_port(), 100);
            pull(&mut link, &mut archive).unwrap();
            assert_complete(&archive, &link.into_port().logger);
        }
    }
}

#[test]
fn a_logger_that_stays_silent_in_the_middle_is_an_error_and_loses_nothing() {
    let mut line = FaultyLink::new(logger(2000));
    line.restart = Some((7000, Duration::from_secs(1_000_000)));
    let mut archive = archive();
    let mut link = Link::new(line, 1);
    let error = pull(&mut link, &mut archive).expect_err("silent");
    assert!(error.to_string().contains("stopped answering"), "{error}");
    let line = link.into_port();
    assert!(line.elapsed() < Duration::from_secs(60), "gave up after {:?}", line.elapsed());
    let held: usize =
        archive.blocks(line.logger.id).unwrap().iter().map(|block| block.bytes.len()).sum();
    assert!(held > 5000, "{held} B");
    assert_nothing_false(&archive, &line.logger);
    assert!(archive.pulls(line.logger.id).unwrap()[0].result.contains("stopped answering"));
}

#[test]
fn late_replies_of_another_session_are_not_taken() {
    let mut stale = ToyLogger::new(*b"toy-0002", 500, 4);
    let mut number_2 = [0; 64];
    stale.receive(Message::new(2, Request::Hello).write(&mut number_2).unwrap());
    let mut line = FaultyLink::new(logger(900));
    // The same number, but from before the port was opened.
    line.leave(&stale.next_frame().unwrap());
    assert_eq!(Link::new(line, 1).hello().unwrap().logger, logger(900).id);

    // Bytes of a run that was asked for earlier do not go into this one.
    let clean = logger(900);
    let target = Target::of_status(clean.id, &clean.status());
    let mut session = Session::new(target, Held::default(), Pace::of_line(Some(115_200)), 10);
    assert!(matches!(session.poll(Duration::ZERO), Event::Send(_)));
    let false_bytes = Reply::Chunk { block: 0, offset: 64, bytes: &[7; 500] };
    session.receive(&frame(9, &false_bytes), Duration::ZERO);
    assert_eq!(session.tally().bytes, 0);
    session.receive(&frame(10, &false_bytes), Duration::ZERO);
    assert_eq!(session.tally().bytes, 500);
}

fn faults(per_mille: u32) -> impl Strategy<Value = Faults> {
    let one = 0..per_mille;
    (one.clone(), one.clone(), one.clone(), one.clone(), one.clone(), one).prop_map(
        |(dropped, doubled, flipped, cut, noisy, late)| Faults {
            dropped,
            doubled,
            flipped,
            cut,
            noisy,
            late,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_bad_line_never_puts_a_false_byte_into_the_archive(
        faults in faults(120),
        seed: u64,
        trims: bool,
        restart in proptest::option::of((0_u64..40_000, 0_u64..2000)),
    ) {
        let mut toy = logger(2500);
        toy.trims = trims;
        let mut line = FaultyLink::with_faults(toy, faults, seed);
        line.restart = restart.map(|(after, ms)| (after, Duration::from_millis(ms)));
        let mut archive = archive();
        let mut number = 1;
        let mut complete = false;
        for _ in 0..40 {
            let mut link = Link::new(line, number);
            let ended = pull(&mut link, &mut archive);
            line = link.into_port();
            assert_nothing_false(&archive, &line.logger);
            number += 1000;
            match ended {
                Ok(report) => {
                    prop_assert!(
                        report.findings.iter().all(|f| matches!(f, Finding::BadBlock { .. })),
                        "{:?}", report.findings
                    );
                    complete = report.findings.is_empty();
                    if complete { break; }
                }
                Err(PullError::Link(_)) => {}
                Err(error) => prop_assert!(false, "{error}"),
            }
        }
        prop_assert!(complete, "not even after many pulls");
        line.calm();
        let mut link = Link::new(line, 40_000);
        pull(&mut link, &mut archive).unwrap();
        assert_complete(&archive, &link.into_port().logger);
    }
}
