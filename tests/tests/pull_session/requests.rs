//! What else is asked of a logger, over a line that loses replies.

use glueday::pull::Link;
use glueday_tests::faulty_link::FaultyLink;
use glueday_types::wire::Request;
use glueday_types::{Entry, MarkKind};

use super::{NOW_S, again, archive, logger, pull};

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
fn each_try_states_its_own_time_and_the_clock_is_set_once() {
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
    let written = logger.entries.iter().filter_map(|(.., entry)| match entry {
        Entry::ClockSet { utc_s, .. } => Some(*utc_s - NOW_S),
        _ => None,
    });
    assert_eq!(written.collect::<Vec<_>>(), [1]);
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
