//! Faults of the log, and other loggers than the one that was pulled before.

use glueday::archive::{Held, HeldBlock};
use glueday::port::Transport as _;
use glueday::pull::{Event, Finding, Link, Pace, Session, Target};
use glueday_tests::faulty_link::{FaultyLink, ToyLogger};
use glueday_types::LoggerId;
use std::time::Duration;

use super::{again, archive, assert_complete, assert_nothing_false, logger, pull};

#[test]
fn another_logger_in_the_middle_of_a_block_is_noticed() {
    for after in (100..9000).step_by(400) {
        let (one, mut other) = (logger(2000), ToyLogger::new(*b"toy-0002", 500, 4));
        other.sample(2500, 77);
        let mut line = FaultyLink::new(one.clone());
        line.restart = Some((after, Duration::from_millis(800)));
        line.swap = Some(Box::new(other));
        let mut archive = archive();
        let error = pull(&mut Link::new(line, 1), &mut archive).expect_err("another logger");
        assert!(
            error.to_string().contains("another logger (746f792d30303032)"),
            "{after}: {error}"
        );
        assert_nothing_false(&archive, &one);
    }
}

#[test]
fn another_logger_in_the_middle_is_noticed() {
    let mut archive = archive();
    let mut line = FaultyLink::new(logger(2000));
    line.lives = Some(7000);
    let mut link = Link::new(line, 1);
    pull(&mut link, &mut archive).expect_err("unplugged");
    // Another logger at the same port, asked as if it were the same: its id is its own, and its log
    // goes beside the other.
    let mut other = ToyLogger::new(*b"toy-0002", 500, 4);
    other.sample(2500, 77);
    let mut link = Link::new(FaultyLink::new(other), 60);
    pull(&mut link, &mut archive).unwrap();
    let other = link.into_port().logger;
    assert_complete(&archive, &other);
    assert_nothing_false(&archive, &logger(2000));
    assert_eq!(archive.loggers().unwrap().len(), 2);
}

#[test]
fn what_the_ring_overwrote_is_reported() {
    let mut logger = ToyLogger::new(*b"toy-0003", 6, 4);
    logger.sample(2000, 5);
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger), 1);
    let report = pull(&mut link, &mut archive).unwrap();
    let oldest = report.status.oldest_block;
    let expected =
        (oldest > 0).then(|| Finding::Overwritten { first: 0, last: oldest - 1, begun: false });
    assert_eq!(report.findings, expected.into_iter().collect::<Vec<_>>());

    let mut line = link.into_port();
    let open = line.logger.status().open_block;
    line.logger.sample(5000, 8);
    let mut link = again(line, 100);
    let report = pull(&mut link, &mut archive).unwrap();
    let oldest = report.status.oldest_block;
    assert!(oldest > open + 1, "the test wants a gap");
    let lost = Finding::Overwritten { first: open, last: oldest - 1, begun: true };
    assert_eq!(report.findings, std::slice::from_ref(&lost));
    assert!(lost.to_string().contains(&format!("blocks {open} to {}", oldest - 1)));

    // It is still said the next time, and what is held did not change.
    let mut link = again(link.into_port(), 200);
    let report = pull(&mut link, &mut archive).unwrap();
    assert_eq!((report.findings, report.tally.bytes), (vec![lost], 0));
    assert_nothing_false(&archive, &link.into_port().logger);
}

#[test]
fn the_ring_may_go_round_while_it_is_pulled() {
    let mut logger = ToyLogger::new(*b"toy-0004", 3, 4);
    logger.sample(2000, 5);
    let mut archive = archive();
    let mut line = FaultyLink::new(logger);
    line.lives = Some(1500);
    pull(&mut Link::new(line.clone(), 1), &mut archive).expect_err("unplugged");
    // The status is from before, the blocks from after: as if the logger wrote three blocks between.
    let target = Target::of_status(line.logger.id, &line.logger.status());
    let held = archive.held(line.logger.id).unwrap();
    let mut session = Session::new(target, held, Pace::of_line(Some(115_200)), 1000);
    line.logger.sample(1500, 8);
    line.lives = None;
    let mut findings = Vec::new();
    let mut kept = Vec::new();
    let ended = loop {
        match session.poll(line.elapsed()) {
            Event::Send(bytes) => line.write_all(&bytes).unwrap(),
            Event::Wait(until) => {
                let mut buffer = [0; 100];
                let len = line.read(&mut buffer, until.saturating_sub(line.elapsed())).unwrap();
                session.receive(&buffer[..len], line.elapsed());
            }
            Event::Found(finding) => findings.push(finding),
            Event::Sealed { number, .. } | Event::Open { number, .. } => kept.push(number),
            Event::Over(ended) => break ended,
        }
    };
    ended.unwrap();
    let lost: Vec<_> = findings
        .iter()
        .map(|finding| match finding {
            Finding::Overwritten { first, last, .. } => (*first, *last),
            other => panic!("{other}"),
        })
        .collect();
    // Every block up to the target was kept whole or in part, or reported.
    for block in target.oldest_block..=target.open_block {
        assert!(
            kept.contains(&block) || lost.iter().any(|(a, b)| (*a..=*b).contains(&block)),
            "block {block}: kept {kept:?}, lost {lost:?}"
        );
    }
    assert!(!lost.is_empty());
}

#[test]
fn a_reset_logger_raises_the_alarm_and_both_logs_are_kept() {
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger(2000)), 1);
    pull(&mut link, &mut archive).unwrap();
    let first = link.into_port().logger;
    // The same id with an erased flash and a new log, shorter than the old.
    for samples in [100, 900] {
        let mut second = ToyLogger::new(*b"toy-0001", 500, 4);
        second.sample(samples, 99);
        let mut link = Link::new(FaultyLink::new(second), 100);
        let report = pull(&mut link, &mut archive).unwrap();
        let second = link.into_port().logger;
        assert!(
            matches!(report.findings[0], Finding::WentBack { .. }),
            "{samples}: {:?}",
            report.findings
        );
        let conflicts = archive.conflicts(second.id).unwrap();
        for (number, bytes) in &second.blocks {
            assert!(report.findings.contains(&Finding::Conflict { block: *number }));
            assert!(conflicts.iter().any(|c| c.number == *number && c.bytes == *bytes));
        }
    }
    let held = archive.blocks(first.id).unwrap();
    assert!(first.blocks.iter().all(|(n, bytes)| held[*n as usize].bytes == *bytes));
}

#[test]
fn a_reset_logger_that_caught_up_raises_the_alarm_too() {
    for (before, after) in [(200, 250), (200, 2000), (900, 2000), (900, 950)] {
        let mut archive = archive();
        let mut link = Link::new(FaultyLink::new(logger(before)), 1);
        pull(&mut link, &mut archive).unwrap();
        let first = link.into_port().logger;
        let mut second = ToyLogger::new(*b"toy-0001", 500, 4);
        second.sample(after, 99);
        let mut link = Link::new(FaultyLink::new(second), 100);
        let report = pull(&mut link, &mut archive).unwrap();
        let open = first.status().open_block;
        let alarmed = report.findings.iter().any(|finding| {
            matches!(finding, Finding::Conflict { block } | Finding::ChainBroken { block }
                if *block <= open + 1)
        });
        assert!(alarmed, "{before} then {after}: {:?}", report.findings);
        // Nothing of the first was changed, and no block is half of one and half of the other.
        let second = link.into_port().logger;
        for block in archive.blocks(first.id).unwrap() {
            let of = |logger: &ToyLogger| {
                logger.blocks.get(&block.number).is_some_and(|b| b.starts_with(&block.bytes))
            };
            assert!(of(&first) || of(&second), "{before} then {after}: block {}", block.number);
        }
    }
}

#[test]
fn a_block_that_rotted_in_the_logger_is_kept_and_reported() {
    let mut logger = logger(2000);
    logger.blocks.get_mut(&2).unwrap()[2000] ^= 4;
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger), 1);
    let report = pull(&mut link, &mut archive).unwrap();
    assert_eq!(report.findings, [Finding::ChainBroken { block: 3 }]);
    let logger = link.into_port().logger;
    assert_eq!(archive.blocks(logger.id).unwrap()[2].bytes, logger.blocks[&2]);
}

#[test]
fn a_block_without_a_sound_header_is_reported_and_the_rest_is_pulled() {
    let mut logger = logger(2000);
    logger.blocks.get_mut(&2).unwrap()[30] ^= 4;
    let mut archive = archive();
    let mut link = Link::new(FaultyLink::new(logger), 1);
    let report = pull(&mut link, &mut archive).unwrap();
    assert!(
        matches!(&report.findings[..], [Finding::BadBlock { block: 2, .. }]),
        "{:?}",
        report.findings
    );
    let logger = link.into_port().logger;
    let held: Vec<u32> = archive.blocks(logger.id).unwrap().iter().map(|b| b.number).collect();
    let expected: Vec<u32> = logger.blocks.keys().copied().filter(|n| *n != 2).collect();
    assert_eq!(held, expected);
}

#[test]
fn a_changed_key_is_found() {
    let mut archive = archive();
    let mut logger = logger(20);
    logger.public_key = Some([1; 32]);
    let mut link = Link::new(FaultyLink::new(logger), 1);
    assert_eq!(pull(&mut link, &mut archive).unwrap().findings, []);
    let mut line = link.into_port();
    line.logger.public_key = Some([2; 32]);
    let logger = line.logger.id;
    let report = pull(&mut again(line, 100), &mut archive).unwrap();
    assert_eq!(report.findings, [Finding::KeyChanged { logger }]);
}

#[test]
fn a_log_that_begins_billions_of_blocks_on_is_answered_at_once() {
    // Whatever a logger says of its log: going through what is lost block by block took minutes, and
    // the pull neither asked nor ended meanwhile.
    let held = |block: u32| (block, HeldBlock { digest: [1; 32], previous: [0; 32] });
    let sealed = [held(2), held(3), held(9)].into_iter().collect();
    let held = Held { sealed, ..Held::default() };
    let logger = LoggerId(*b"toy-0004");
    let target = Target { logger, oldest_block: u32::MAX - 1, open_block: u32::MAX, open_len: 64 };
    let mut session = Session::new(target, held, Pace::of_line(None), 1);
    let lost = |first, last| Event::Found(Finding::Overwritten { first, last, begun: false });
    assert_eq!(session.poll(Duration::ZERO), lost(4, 8));
    assert_eq!(session.poll(Duration::ZERO), lost(10, u32::MAX - 2));
    assert!(matches!(session.poll(Duration::ZERO), Event::Send(_)));
}
