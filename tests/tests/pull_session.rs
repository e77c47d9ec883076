//! Pulls from a simulated logger over a line that drops, doubles, damages, cuts and delays.

//!
//! Whatever happens, a pull ends complete, or with an error; the archive never holds a byte that the
//! logger did not write.
// What helpers of tests find wrong fails the test: clippy exempts only the test functions themselves.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use glueday::archive::{Archive, Held};
use glueday::port::{PortError, Transport as _};
use glueday::pull::{
    Event, Finding, Link, LinkError, NoProgress, Pace, PullError, PullReport, Session, Target,
};
use glueday_tests::faulty_link::{Faults, FaultyLink, ToyLogger, frame};
use glueday_types::block::{Item, Reader};
use glueday_types::wire::{Message, Reply, Request};
use glueday_types::{Entry, MarkKind};
use proptest::prelude::*;
use std::time::Duration;

const NOW_S: i64 = 1_790_000_000;

fn logger(samples: u32) -> ToyLogger {
    let mut logger = ToyLogger::new(*b"toy-0001", 500, 4);
    logger.sample(samples, 5);
    logger
}

fn pull(line: &mut Link<FaultyLink>, archive: &mut Archive) -> Result<PullReport, PullError> {
    line.pull(archive, NOW_S, &mut NoProgress)
}

fn archive() -> Archive {
    Archive::in_memory().unwrap()
}

/// The line again, with another session number.
fn again(line: FaultyLink, number: u16) -> Link<FaultyLink> {
    Link::new(line, number)
}

/// Every byte held is one that the logger wrote; returns how many blocks are held whole.
fn assert_nothing_false(archive: &Archive, logger: &ToyLogger) -> usize {
    let mut sealed = 0;
    for block in archive.blocks(logger.id).unwrap() {
        if let Some(written) = logger.blocks.get(&block.number) {
            assert!(written.starts_with(&block.bytes), "block {} differs", block.number);
            assert!(!block.sealed || block.number < *logger.blocks.last_key_value().unwrap().0);
            sealed += usize::from(block.sealed);
        }
    }
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
    sealed
}

/// The archive holds the log to its last byte, and decodes to what was written.
fn assert_complete(archive: &Archive, logger: &ToyLogger) {
    let held = archive.blocks(logger.id).unwrap();
    for (number, bytes) in &logger.blocks {
        let block = held.iter().find(|block| block.number == *number).expect("block is held");
        assert!(
            block.bytes == *bytes,
            "block {number}: {} of {} B",
            block.bytes.len(),
            bytes.len()
        );
    }
    let decoded: Vec<_> = held
        .iter()
        .flat_map(|block| Reader::new(&block.bytes).unwrap())
        .map(|item| match item {
            Item::Entry { number, boot, entry } => (number, boot, entry),
            other => panic!("{other:?}"),
        })
        .collect();
    let first = decoded.first().expect("entries").0;
    let written: Vec<_> =
        logger.entries.iter().copied().filter(|(number, ..)| *number >= first).collect();
    assert!(decoded == written, "{} of {} entries", decoded.len(), written.len());
    assert_eq!(archive.conflicts(logger.id).unwrap(), []);
}

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
fn a_pull_asks_for_nothing_that_changes_the_logger() {
    let mut link = Link::new(FaultyLink::new(logger(500)), 1);
    pull(&mut link, &mut archive()).unwrap();
    let requests = link.into_port().logger.requests;
    assert!(requests.iter().all(|request| matches!(
        request,
        Request::Hello | Request::Status | Request::Blocks { .. }
    )));
}

#[test]
fn a_lost_reply_writes_no_second_mark() {
    for lost in 0..3 {
        let mut link = Link::new(FaultyLink::new(logger(300)), 1);
        let identity = link.hello().unwrap();
        let mut line = link.into_port();
        let kind = MarkKind::GlueStarted;
        // An older mark of the kind does not count.
        line.logger.append(Entry::Mark { at_s: 1, kind });
        line.logger.sample(1, 1);
        let before = line.logger.status();
        line.logger.mute = lost;
        let mut link = again(line, 50);
        let marked = link.mark(identity.logger, kind);
        let logger = link.into_port().logger;
        let written = logger
            .entries
            .iter()
            .filter(|(_, _, entry)| {
                matches!(entry, Entry::Mark { kind: found, at_s } if *found == kind && *at_s > 1)
            })
            .count();
        let marked = marked.unwrap();
        assert_eq!((written, marked.copies), (1, 1), "{lost} replies lost");
        assert_eq!((marked.boot, marked.at_s), (before.boot, before.uptime_s));
    }
}

#[test]
fn the_clock_is_set_to_the_time_of_the_try_that_counts() {
    let mut line = FaultyLink::new(logger(3));
    line.logger.mute = 2;
    let mut link = Link::new(line, 1);
    let mut now_s = NOW_S;
    link.set_clock(|| {
        now_s += 1;
        now_s
    })
    .unwrap();
    let logger = link.into_port().logger;
    let set: Vec<_> = logger
        .requests
        .iter()
        .filter_map(|request| match request {
            Request::SetClock { utc_s } => Some(*utc_s - NOW_S),
            _ => None,
        })
        .collect();
    assert_eq!(set, [1, 2, 3]);
}

#[test]
fn simple_requests_get_their_answers() {
    let mut link = Link::new(FaultyLink::new(logger(3)), 1);
    assert_eq!(link.status().unwrap().entries, 4);
    let (boot, uptime_s, sample) = link.latest().unwrap();
    assert_eq!((boot, uptime_s, sample.unwrap().at_s), (1, 1800, 1800));
    assert_eq!(link.set_interval(300).unwrap(), (1, 1800));
    let refused = link.set_interval(0).expect_err("no interval").to_string();
    assert!(refused.contains("refused the new interval"), "{refused}");
    let refused = link.attest([0; 16]).expect_err("no key").to_string();
    assert!(refused.contains("no key"), "{refused}");
    assert_eq!(link.status().unwrap().interval_s, 300);
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
