//! The logger as a whole, with a simulated flash and probes that do as they are told: what it writes
//! down, what it answers, what it shows.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_firmware::indicator::State;
use glueday_firmware::{Link, Logger, Probes, Readings, Settings, VERSION};
use glueday_tests::flash::{Cut, Failure, Outcome, Random, SimFlash};
use glueday_types::block::{Item, Reader};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, Message, REPLY_FRAME_LEN_MAX, Refusal, Reply, Request, WIRE_VERSION, WIRE_VERSION_MIN,
};
use glueday_types::{
    Absent, BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, MarkKind, Probe,
};

const ID: LoggerId = LoggerId(*b"wholeOne");
const SETTINGS: Settings = Settings { logger: ID, interval_s: 600, power_low_mv: Some(3300) };

struct Told {
    readings: Readings,
    supply_mv: Option<u16>,
}

impl Probes for Told {
    fn read(&mut self) -> Readings {
        self.readings
    }

    fn supply_mv(&mut self) -> Option<u16> {
        self.supply_mv
    }
}

fn well() -> Readings {
    Readings {
        slab: Ok(CentiCelsius(2210)),
        air: Ok(CentiCelsius(2050)),
        air_rh: Ok(CentiPercent(4420)),
        supply: Ok(CentiCelsius(2900)),
    }
}

type Sim = Logger<SimFlash<4>, Told>;

fn start(flash: &SimFlash<4>) -> Sim {
    let told = Told { readings: well(), supply_mv: Some(3700) };
    Logger::start(flash.handle(), told, &SETTINGS, 0, BootReason::PowerOn).unwrap()
}

fn log(logger: &mut Sim) -> Vec<Entry> {
    let (oldest, open) = (logger.ring().oldest_block(), logger.ring().open_block());
    let mut entries = Vec::new();
    for block in oldest..=open {
        let mut bytes = [0; 4096];
        logger.read(block, 0, &mut bytes).unwrap();
        entries.extend(Reader::new(&bytes).unwrap().map(|item| match item {
            Item::Entry { entry, .. } => entry,
            other => panic!("{other:?}"),
        }));
    }
    entries
}

fn ask(link: &mut Link, number: u16, request: Request) {
    let mut out = [0; 64];
    for byte in &*Message::new(number, request).write(&mut out).unwrap() {
        link.receive(*byte);
    }
}

/// The next reply as text, with the number of its request.
fn reply(link: &mut Link, now_s: u32, logger: &mut Sim) -> Option<(u16, String)> {
    read_reply(link, now_s, logger, |number, reply| (number, format!("{reply:?}")))
}

fn read_reply<T>(
    link: &mut Link,
    now_s: u32,
    logger: &mut Sim,
    read: impl FnOnce(u16, Reply<'_>) -> T,
) -> Option<T> {
    let mut out = [0; REPLY_FRAME_LEN_MAX];
    let len = link.next_reply(now_s, logger, &mut out)?;
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let (last, body) = out[..len].split_last().unwrap();
    assert!(body.iter().all(|byte| collector.push(*byte).is_none()));
    let payload = collector.push(*last).unwrap().unwrap();
    let message: Message<Reply<'_>> = wire::read(payload).unwrap();
    Some(read(message.number, message.body))
}

fn answer(link: &mut Link, now_s: u32, logger: &mut Sim, request: Request) -> String {
    ask(link, 7, request);
    let (number, text) = reply(link, now_s, logger).unwrap();
    assert_eq!(number, 7);
    assert_eq!(reply(link, now_s, logger), None);
    text
}

#[test]
fn probes_that_fail_and_come_back_are_written_down_once() {
    let flash = SimFlash::new(3);
    let mut logger = start(&flash);
    let change = |at_s, probe, state| Entry::ProbeChanged { at_s, probe, state };
    for (at_s, air_rh, slab) in [
        (0, Ok(CentiPercent(4400)), Ok(CentiCelsius(2200))),
        (600, Err(Absent::BadChecksum), Ok(CentiCelsius(2200))),
        (1200, Err(Absent::BadChecksum), Err(Absent::NoAnswer)),
        (1800, Ok(CentiPercent(4400)), Err(Absent::BusFault)),
        (2400, Ok(CentiPercent(4400)), Ok(CentiCelsius(2200))),
    ] {
        logger.probes_mut().readings = Readings { air_rh, slab, ..well() };
        assert_eq!(logger.tick(at_s), Ok(true));
        assert_eq!(logger.tick(at_s), Ok(false), "a second is sampled once");
    }
    let entries = log(&mut logger);
    let changes: Vec<_> =
        entries.iter().filter(|entry| matches!(entry, Entry::ProbeChanged { .. })).collect();
    assert_eq!(
        changes,
        [
            &change(600, Probe::Air, Err(Absent::BadChecksum)),
            &change(1200, Probe::Slab, Err(Absent::NoAnswer)),
            &change(1800, Probe::Slab, Err(Absent::BusFault)),
            &change(1800, Probe::Air, Ok(())),
            &change(2400, Probe::Slab, Ok(())),
        ]
    );
    let samples = entries.iter().filter(|entry| matches!(entry, Entry::Sample(_))).count();
    assert_eq!((samples, entries.len()), (5, 5 + 5 + 1));
    assert_eq!(
        entries[0],
        Entry::Boot { boot: 1, at_s: 0, reason: BootReason::PowerOn, firmware: VERSION }
    );
}

#[test]
fn low_power_is_written_down_once_for_each_fall() {
    let flash = SimFlash::new(3);
    let mut logger = start(&flash);
    for (i, supply_mv) in [3400, 3299, 3250, 3350, 3290, 3400, 3299].into_iter().enumerate() {
        logger.probes_mut().supply_mv = Some(supply_mv);
        logger.tick(i as u32 * 600).unwrap();
    }
    let falls: Vec<_> = log(&mut logger)
        .into_iter()
        .filter_map(|entry| match entry {
            Entry::PowerLow { at_s, supply_mv } => Some((at_s, supply_mv)),
            _ => None,
        })
        .collect();
    assert_eq!(falls, [(600, 3299), (3600, 3299)]);
    assert_eq!(logger.state(), State::PowerLow);
    assert_eq!(logger.status(3600).supply_mv, Some(3299));
}

#[test]
fn the_worst_state_shows() {
    let flash = SimFlash::new(3);
    let mut logger = start(&flash);
    logger.tick(0).unwrap();
    assert_eq!(logger.state(), State::NeverSynced);
    logger.set_clock(1, 1_790_000_000).unwrap();
    assert_eq!(logger.state(), State::Logging);
    logger.probes_mut().supply_mv = Some(3000);
    logger.probes_mut().readings.supply = Err(Absent::NotFitted);
    logger.tick(600).unwrap();
    assert_eq!(logger.state(), State::PowerLow, "a probe that is not fitted is no fault");
    logger.probes_mut().readings.slab = Err(Absent::NoAnswer);
    logger.tick(1200).unwrap();
    assert_eq!(logger.state(), State::ProbeFault);
    flash.cut(Cut {
        after: 0,
        outcome: Outcome::Bits { seed: 1, share: 100 },
        failure: Failure::Reported,
    });
    assert!(logger.tick(1800).is_err());
    assert_eq!(logger.state(), State::LogFailed);
    assert_eq!(logger.status(1800).lost_entries, 1);
    logger.tick(2400).unwrap();
    assert_eq!(logger.state(), State::ProbeFault);
    let status = logger.status(2400);
    assert_eq!((status.lost_entries, status.resumed), (1, 1));
}

#[test]
fn requests_are_answered_and_stand_in_the_log() {
    let flash = SimFlash::new(3);
    let (mut logger, mut link) = (start(&flash), Link::new());
    logger.tick(0).unwrap();
    let mut ask = |now_s, request| answer(&mut link, now_s, &mut logger, request);
    assert!(ask(1, Request::Hello).contains("logger: LoggerId(77686f6c654f6e65)"));
    let done = |at_s| format!("Done {{ boot: 1, at_s: {at_s} }}");
    assert_eq!(ask(10, Request::SetClock { utc_s: 1_790_000_000 }), done(10));
    assert_eq!(ask(20, Request::SetInterval { interval_s: 60 }), done(20));
    assert_eq!(ask(30, Request::Mark { kind: MarkKind::GlueStarted }), done(30));
    let refused = |refusal: Refusal| format!("Refused({refusal:?})");
    let bad = refused(Refusal::BadValue);
    assert_eq!(ask(31, Request::SetInterval { interval_s: 0 }), bad);
    assert_eq!(ask(31, Request::SetClock { utc_s: -1 }), bad);
    assert_eq!(ask(31, Request::SetClock { utc_s: i64::MAX }), bad);
    assert_eq!(ask(31, Request::Attest { nonce: [1; 16] }), refused(Refusal::NoKey));
    let missing = refused(Refusal::NoSuchBlock { oldest: 0, newest: 0 });
    assert_eq!(ask(31, Request::Blocks { first: 1, offset: 0, count: 1 }), missing);
    assert_eq!(ask(31, Request::Blocks { first: 0, offset: 4000, count: 1 }), bad);
    assert!(ask(32, Request::Latest).contains("uptime_s: 32, sample: Some(Sample { at_s: 0"));
    assert!(ask(33, Request::Status).contains("entries: 5"));

    assert_eq!(logger.next_due_s(), Some(60), "the new interval holds at once");
    let entries = log(&mut logger);
    assert_eq!(
        entries[2..],
        [
            Entry::ClockSet { at_s: 10, utc_s: 1_790_000_000 },
            Entry::SettingsChanged { at_s: 20, interval_s: 60 },
            Entry::Mark { at_s: 30, kind: MarkKind::GlueStarted },
        ]
    );
    flash.cut(Cut { after: 0, outcome: Outcome::Nothing, failure: Failure::Reported });
    let failed = answer(&mut link, 40, &mut logger, Request::Mark { kind: MarkKind::Sanded });
    assert_eq!(failed, refused(Refusal::FlashFailed));
}

#[test]
fn noise_is_passed_over_and_strange_requests_are_refused() {
    let flash = SimFlash::new(3);
    let (mut logger, mut link) = (start(&flash), Link::new());
    let mut random = Random(5);
    let mut frames = 0;
    for _ in 0..20_000 {
        let byte = random.byte();
        frames += u32::from(byte == 0);
        link.receive(byte);
        assert_eq!(reply(&mut link, 0, &mut logger), None);
    }
    link.receive(0);
    assert!(link.bad_frames() > 0 && link.bad_frames() <= frames + 1);

    let mut send = |payload: &[u8]| {
        let mut framed = payload.to_vec();
        let check = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(payload);
        framed.extend(check.to_le_bytes());
        let mut out = vec![0; framed.len() + 8];
        let len = cobs::encode(&framed, &mut out);
        out[..len].iter().chain(&[0]).for_each(|byte| link.receive(*byte));
        reply(&mut link, 0, &mut logger)
    };
    let version = Refusal::Version { min: WIRE_VERSION_MIN, max: WIRE_VERSION };
    // Version, message number as a varint, body.
    assert_eq!(send(&[WIRE_VERSION + 1, 9, 200, 1]), Some((9, format!("Refused({version:?})"))));
    let strange = format!("Refused({:?})", Refusal::NotUnderstood);
    assert_eq!(send(&[WIRE_VERSION, 10, 99]), Some((10, strange.clone())), "no such request");
    assert_eq!(send(&[WIRE_VERSION, 11, 0, 0]), Some((11, strange)), "a byte too many");
    assert_eq!(log(&mut logger).len(), 1, "nothing of it was written down");
}

#[test]
fn a_run_begins_anywhere_and_ends_with_what_to_ask_next() {
    let flash = SimFlash::new(8);
    let (mut logger, mut link) = (start(&flash), Link::new());
    for i in 0..2000 {
        logger.tick(i * 600).unwrap();
    }
    let (open, open_len) = (logger.ring().open_block(), logger.ring().open_len());
    assert!(open >= 3);
    let image = flash.bytes();
    let end_of = open as usize * 4096 + usize::from(open_len);
    for (first, offset, count, expected) in [
        (0, 0, u16::MAX, (open, open_len, false)),
        (1, 4000, 1, (2, 0, true)),
        (1, 4096, 2, (3, 0, true)),
        (2, 5, 0, (2, 5, true)),
        (open, open_len, 9, (open, open_len, false)),
        (open, 70, 9, (open, open_len, false)),
    ] {
        ask(&mut link, 3, Request::Blocks { first, offset, count });
        let mut at = first as usize * 4096 + usize::from(offset);
        let end = loop {
            let end = read_reply(&mut link, 0, &mut logger, |number, reply| {
                assert_eq!(number, 3);
                match reply {
                    Reply::Chunk { block, offset, bytes } => {
                        assert_eq!(block as usize * 4096 + usize::from(offset), at);
                        assert_eq!(bytes, &image[at..at + bytes.len()]);
                        at += bytes.len();
                        None
                    }
                    Reply::BlocksEnd { next, offset, more } => Some((next, offset, more)),
                    other => panic!("{other:?}"),
                }
            });
            if let Some(end) = end.unwrap() {
                break end;
            }
        };
        assert_eq!(end, expected, "from block {first}, byte {offset}, {count} blocks");
        assert_eq!(at, end.0 as usize * 4096 + usize::from(end.1));
        assert!(at <= end_of);
        assert!(!link.has_reply());
    }
}

#[test]
fn any_request_ends_a_run_and_each_is_answered() {
    let flash = SimFlash::new(8);
    let (mut logger, mut link) = (start(&flash), Link::new());
    for i in 0..2000 {
        logger.tick(i * 600).unwrap();
    }
    ask(&mut link, 1, Request::Blocks { first: 0, offset: 0, count: 9 });
    assert!(reply(&mut link, 0, &mut logger).unwrap().1.starts_with("Chunk"));
    ask(&mut link, 2, Request::Latest);
    assert_eq!(reply(&mut link, 0, &mut logger).unwrap().0, 2);
    assert_eq!(reply(&mut link, 0, &mut logger), None, "the run went on");
    ask(&mut link, 2, Request::Latest);
    ask(&mut link, 3, Request::Blocks { first: 2, offset: 0, count: 1 });
    ask(&mut link, 4, Request::Status);
    let numbers: Vec<u16> =
        std::iter::from_fn(|| reply(&mut link, 0, &mut logger)).map(|(number, _)| number).collect();
    assert_eq!(numbers, [2, 4], "the run of request 3 ended before it began");
    ask(&mut link, 5, Request::Blocks { first: 0, offset: 0, count: 9 });
    link.hang_up();
    assert!(!link.has_reply());
}

#[test]
fn a_run_stops_where_the_ring_has_overtaken_it() {
    let flash = SimFlash::new(2);
    let (mut logger, mut link) = (start(&flash), Link::new());
    let mut now_s = 0;
    while logger.ring().open_block() < 2 {
        logger.tick(now_s).unwrap();
        now_s += 600;
    }
    ask(&mut link, 1, Request::Blocks { first: 1, offset: 0, count: 9 });
    assert!(reply(&mut link, 0, &mut logger).unwrap().1.starts_with("Chunk { block: 1, offset: 0"));
    while logger.ring().open_block() < 3 {
        logger.tick(now_s).unwrap();
        now_s += 600;
    }
    let end = reply(&mut link, 0, &mut logger).unwrap().1;
    assert_eq!(end, "BlocksEnd { next: 1, offset: 1024, more: true }");
}
