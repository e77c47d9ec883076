//! The loop that every board runs, on a board whose time passes only while it rests.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]

use glueday_firmware::{Board, Logger, Probes, Readings, Settings, Station};
use glueday_tests::flash::{Cut, Failure, Outcome, SimFlash};
use glueday_tests::log;
use glueday_types::frame::Collector;
use glueday_types::wire::{self, Message, REPLY_FRAME_LEN_MAX, Reply, Request};
use glueday_types::{BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, MarkKind};
use std::collections::VecDeque;

/// Steady readings.
struct Steady;

impl Probes for Steady {
    fn read(&mut self) -> Readings {
        Readings {
            slab: Ok(CentiCelsius(2150)),
            air: Ok(CentiCelsius(2050)),
            air_rh: Ok(CentiPercent(4500)),
            supply: Ok(CentiCelsius(3000)),
        }
    }
}

/// A board in virtual time.
#[derive(Default)]
struct Bench {
    now_ms: u64,
    /// What comes in, and when.
    incoming: VecDeque<(u64, Vec<u8>)>,
    /// What went out.
    outgoing: Vec<u8>,
    /// Bytes that the line takes in one call.
    takes: usize,
    /// When the button is down.
    down: Vec<std::ops::Range<u64>>,
    peer_gone: bool,
    /// When the LED changed, and to what.
    led: Vec<(u64, bool)>,
    rests: usize,
    fed: usize,
    /// Woken at this time in any case, as by an interrupt of no meaning.
    woken_ms: u64,
}

impl Board for Bench {
    fn now_ms(&mut self) -> u64 {
        self.now_ms
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        let Some((at_ms, bytes)) = self.incoming.front_mut() else { return 0 };
        if *at_ms > self.now_ms {
            return 0;
        }
        let len = bytes.len().min(into.len());
        into[..len].copy_from_slice(&bytes[..len]);
        bytes.drain(..len);
        if bytes.is_empty() {
            self.incoming.pop_front();
        }
        len
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        let len = bytes.len().min(self.takes);
        self.outgoing.extend(&bytes[..len]);
        len
    }

    fn has_peer(&mut self) -> bool {
        !self.peer_gone
    }

    fn set_led(&mut self, lit: bool) {
        if self.led.last().is_none_or(|(_, before)| *before != lit) {
            self.led.push((self.now_ms, lit));
        }
    }

    fn button_is_down(&mut self) -> bool {
        self.down.iter().any(|range| range.contains(&self.now_ms))
    }

    fn feed_watchdog(&mut self) {
        self.fed += 1;
    }

    fn rest(&mut self, until_ms: u64) {
        assert!(until_ms > self.now_ms, "a rest that ends before it begins burns the battery");
        self.rests += 1;
        let edges = self.down.iter().flat_map(|range| [range.start, range.end]);
        let arrivals = self.incoming.iter().map(|(at_ms, _)| *at_ms);
        let events =
            edges.chain(arrivals).chain([self.woken_ms]).filter(|at_ms| *at_ms > self.now_ms);
        self.now_ms = events.min().map_or(until_ms, |event_ms| event_ms.min(until_ms));
    }
}

fn station(flash: &SimFlash<1>, interval_s: u16) -> Station<SimFlash<1>, Steady> {
    let settings = Settings { logger: LoggerId(*b"loopTest"), interval_s, power_low_mv: None };
    let logger = Logger::start(flash.handle(), Steady, &settings, 0, BootReason::PowerOn).unwrap();
    Station::new(logger)
}

fn run(board: &mut Bench, station: &mut Station<SimFlash<1>, Steady>, until_ms: u64) {
    board.woken_ms = until_ms;
    while board.now_ms < until_ms {
        station.turn(board);
    }
}

fn entries(flash: &SimFlash<1>) -> Vec<Entry> {
    log::entries(&flash.bytes()).into_iter().map(|(_, entry)| entry).collect()
}

fn frame(number: u16, request: Request) -> Vec<u8> {
    let mut out = [0; 64];
    Message::new(number, request).write(&mut out).unwrap().to_vec()
}

/// The replies in `bytes`, as a word each.
fn replies(bytes: &[u8]) -> Vec<(u16, String)> {
    let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
    let mut replies = Vec::new();
    for byte in bytes {
        if let Some(payload) = collector.push(*byte) {
            let message: Message<Reply<'_>> = wire::read(payload.unwrap()).unwrap();
            let word = match message.body {
                Reply::Chunk { block, offset, bytes } => {
                    format!("chunk {block} {offset} {}", bytes.len())
                }
                other => format!("{other:?}").split(['(', ' ']).next().unwrap().to_owned(),
            };
            replies.push((message.number, word));
        }
    }
    replies
}

#[test]
fn it_samples_on_time_and_sleeps_between() {
    let flash = SimFlash::new(8);
    let mut station = station(&flash, 600);
    let mut board = Bench { takes: 64, ..Bench::default() };
    run(&mut board, &mut station, 86_400_000);
    let times: Vec<u32> = entries(&flash)
        .iter()
        .filter_map(|entry| match entry {
            Entry::Sample(sample) => Some(sample.at_s),
            _ => None,
        })
        .collect();
    assert_eq!(times, (0..144).map(|i| i * 600).collect::<Vec<u32>>());
    // The LED of an unsynced logger flashes twice in 5 s: it wakes for their edges only.
    let periods = 86_400 / 5;
    assert!((4 * periods..4 * periods + 200).contains(&board.rests), "{} rests", board.rests);
    assert!(board.fed >= board.rests);
    assert_eq!(board.led.len(), 4 * periods, "LED edges in a day");
}

#[test]
fn the_button_puts_one_mark_into_the_log_and_the_led_says_so() {
    let flash = SimFlash::new(8);
    let mut station = station(&flash, 600);
    let mut board = Bench { takes: 64, ..Bench::default() };
    // A press with a bounce at each edge, and a spark.
    board.down = vec![61_000..61_002, 61_005..61_400, 61_403..61_404, 90_000..90_004];
    run(&mut board, &mut station, 120_000);
    let marks: Vec<Entry> =
        entries(&flash).into_iter().filter(|entry| matches!(entry, Entry::Mark { .. })).collect();
    assert_eq!(marks, [Entry::Mark { at_s: 61, kind: MarkKind::Button }]);
    let lit_ms = |from: u64, to: u64| -> u64 {
        (from..to)
            .filter(|ms| {
                let before = board.led.partition_point(|(at_ms, _)| at_ms <= ms);
                before > 0 && board.led[before - 1].1
            })
            .count() as u64
    };
    assert_eq!(lit_ms(61_035, 62_035), 1000, "lit for a second once the mark is written");
    assert_eq!(lit_ms(90_000, 95_000), 40, "a spark is not acknowledged");
}

#[test]
fn a_mark_that_cannot_be_written_is_not_acknowledged() {
    let flash = SimFlash::new(8);
    let mut station = station(&flash, 600);
    let mut board = Bench { takes: 64, ..Bench::default() };
    run(&mut board, &mut station, 60_000);
    flash.cut(Cut { after: 0, outcome: Outcome::Nothing, failure: Failure::Reported });
    board.down.push(61_000..61_500);
    board.led.clear();
    run(&mut board, &mut station, 63_000);
    // The fast blink of a log that failed, from the failure on: never lit for longer than 100 ms.
    let edges: Vec<u64> = board.led.iter().map(|(at_ms, _)| *at_ms).collect();
    assert!(edges.len() > 15, "{:?}", board.led);
    let longest = board.led.windows(2).filter(|pair| pair[0].1).map(|pair| pair[1].0 - pair[0].0);
    assert!(longest.max().unwrap() <= 100, "{:?}", board.led);
    assert_eq!(station.logger().status(63).lost_entries, 1);
}

#[test]
fn requests_are_answered_while_it_samples_whatever_the_line_takes() {
    let mut answers = Vec::new();
    for takes in [1, 7, 64, 4096] {
        let flash = SimFlash::new(8);
        let mut station = station(&flash, 60);
        let mut board = Bench { takes, ..Bench::default() };
        let ask = [
            (30_000, frame(1, Request::Hello)),
            (30_500, frame(2, Request::SetClock { utc_s: 1_750_000_000 })),
            (3_600_100, frame(3, Request::Blocks { first: 0, offset: 0, count: 8 })),
            (7_200_000, frame(4, Request::Latest)),
        ];
        board.incoming.extend(ask);
        run(&mut board, &mut station, 7_300_000);
        let said = replies(&board.outgoing);
        let words: Vec<&str> = said.iter().map(|(_, word)| word.as_str()).collect();
        assert_eq!(said.iter().map(|(n, _)| *n).collect::<Vec<u16>>(), [1, 2, 3, 3, 4]);
        assert_eq!(words[..2], ["Hello", "Done"]);
        assert!(words[2].starts_with("chunk 0 0 "), "{words:?}");
        assert_eq!(words[3..], ["BlocksEnd", "Latest"]);
        let samples = entries(&flash).iter().filter(|e| matches!(e, Entry::Sample(_))).count();
        assert_eq!(samples, 122, "one a minute, at 0 s and at 7260 s too");
        answers.push(board.outgoing);
    }
    assert!(answers.windows(2).all(|pair| pair[0] == pair[1]));
}

#[test]
fn what_waits_for_nobody_is_dropped() {
    let flash = SimFlash::new(8);
    let mut station = station(&flash, 60);
    let mut board = Bench { takes: 0, ..Bench::default() };
    board.incoming.push_back((1_000, frame(1, Request::Hello)));
    run(&mut board, &mut station, 2_000);
    // The cable is pulled with a reply and half a request under way; then somebody else comes.
    board.incoming.push_back((2_500, frame(2, Request::Status)[..5].to_vec()));
    run(&mut board, &mut station, 3_000);
    board.peer_gone = true;
    run(&mut board, &mut station, 6_000);
    board.peer_gone = false;
    board.takes = 64;
    let from = board.outgoing.len();
    board.incoming.push_back((8_000, frame(3, Request::Hello)));
    run(&mut board, &mut station, 10_000);
    assert_eq!(replies(&board.outgoing[from..]), [(3, "Hello".to_owned())]);
}
