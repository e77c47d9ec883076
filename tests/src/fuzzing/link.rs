//! The logger's side: whatever comes in, what goes out is well formed, and the log stays whole.

use super::input::{Input, sound_frame};
use crate::flash::{Cut, Failure, Outcome, SECTOR_LEN, SimFlash};
use glueday_firmware::link::Link;
use glueday_firmware::probes::{Probes, Readings};
use glueday_firmware::ring::RingLog;
use glueday_firmware::{Logger, Settings};
use glueday_types::block::{Item, Reader};
use glueday_types::frame::Collector;
use glueday_types::wire::{
    self, Message, MessageError, REPLY_FRAME_LEN_MAX, REQUEST_FRAME_LEN_MAX, Reply, Request,
};
use glueday_types::{Absent, BLOCK_LEN, BootReason, Entry, LoggerId, digest};
use std::collections::BTreeSet;

const ID: LoggerId = LoggerId(*b"fuzzLink");

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

struct Site<const W: usize> {
    flash: SimFlash<W>,
    link: Link,
    logger: Logger<SimFlash<W>, Told>,
    now_s: u32,
    /// Takes apart what is sent, to know what may be answered.
    listener: Collector<REQUEST_FRAME_LEN_MAX>,
    asked: BTreeSet<u16>,
    faults: usize,
}

/// A logger on a small flash, with requests, time, restarts and faults of its flash in any order. It
/// answers only what was asked, in frames that can be read, with the bytes that are on its flash;
/// whatever it wrote is there after a restart, in one chain.
pub fn link(data: &[u8]) {
    let mut input = Input::new(data);
    match input.below(4) {
        0 => Site::<1>::new(2).run(&mut input),
        1 => Site::<4>::new(2).run(&mut input),
        2 => Site::<8>::new(3).run(&mut input),
        _ => Site::<32>::new(3).run(&mut input),
    }
}

fn start<const W: usize>(
    flash: &SimFlash<W>,
    now_s: u32,
) -> Result<Logger<SimFlash<W>, Told>, glueday_firmware::ring::Error> {
    let none = Err(Absent::NotFitted);
    let readings = Readings { slab: none, air: none, air_rh: Err(Absent::NotFitted), supply: none };
    let settings = Settings { logger: ID, interval_s: 600, power_low_mv: Some(3300) };
    let probes = Told { readings, supply_mv: None };
    Logger::start(flash.handle(), probes, &settings, now_s, BootReason::PowerOn)
}

impl<const W: usize> Site<W> {
    fn new(sectors: usize) -> Self {
        let flash = SimFlash::new(sectors);
        Self {
            logger: start(&flash, 0).expect("an empty flash"),
            flash,
            link: Link::new(),
            now_s: 0,
            listener: Collector::new(),
            asked: BTreeSet::new(),
            faults: 0,
        }
    }

    fn run(mut self, input: &mut Input<'_>) {
        // A run of the whole log takes a dozen frames: inputs are short, and so is this.
        for _ in 0..200 {
            if input.is_empty() {
                break;
            }
            self.step(input);
        }
        self.restart();
        assert_eq!(self.flash.counters().violations, 0, "a rule of the flash was broken");
    }

    fn step(&mut self, input: &mut Input<'_>) {
        match input.below(10) {
            0 => self.receive(input.some_bytes()),
            1 => {
                let frame = sound_frame(input.some_bytes());
                self.receive(&frame);
            }
            2..=4 => {
                let mut out = [0; REQUEST_FRAME_LEN_MAX];
                let frame = request(input).write(&mut out).expect("every request fits").to_vec();
                self.receive(&frame);
            }
            5 => {
                self.now_s = self.now_s.saturating_add(input.take::<u16>().into());
                self.sample(input);
            }
            // Many samples, so that the ring goes round.
            6 => {
                let seed = input.take::<u8>();
                for i in 0..50_u8 {
                    let noise = i.wrapping_mul(seed | 1);
                    self.now_s = self.now_s.saturating_add(600);
                    let readings = &mut self.logger.probes_mut().readings;
                    readings.slab = Ok(glueday_types::CentiCelsius(2200 + i16::from(noise)));
                    let _ = self.logger.tick(self.now_s);
                }
            }
            7 => self.restart(),
            8 => {
                self.link.hang_up();
                self.listener = Collector::new();
            }
            _ => {
                let outcome =
                    Outcome::Bits { seed: input.take::<u8>().into(), share: input.take() };
                let after = u64::from(input.below(8));
                let failure = if input.below(2) == 0 { Failure::Reported } else { Failure::Power };
                self.flash.cut(Cut { after, outcome, failure });
                self.faults += 1;
            }
        }
        for _ in 0..input.below(3) * 20 {
            if !self.reply() {
                break;
            }
        }
    }

    fn sample(&mut self, input: &mut Input<'_>) {
        self.logger.probes_mut().readings = Readings {
            slab: input.celsius(),
            air: input.celsius(),
            air_rh: input.percent(),
            supply: input.celsius(),
        };
        self.logger.probes_mut().supply_mv = Some(input.take());
        // Fails when the flash was told to.
        let _ = self.logger.tick(self.now_s);
    }

    fn receive(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.link.receive(*byte);
            let Some(Ok(payload)) = self.listener.push(*byte) else { continue };
            self.asked.insert(match wire::read::<Request>(payload) {
                Ok(message) => message.number,
                Err(
                    MessageError::Version { number, .. } | MessageError::NotUnderstood { number },
                ) => number,
            });
        }
    }

    /// Takes one reply and checks it; whether there was one.
    fn reply(&mut self) -> bool {
        let mut out = [0; REPLY_FRAME_LEN_MAX];
        let may = self.link.has_reply();
        let Some(len) = self.link.next_reply(self.now_s, &mut self.logger, &mut out) else {
            return false;
        };
        assert!(may, "a reply out of nothing");
        let mut collector = Collector::<REPLY_FRAME_LEN_MAX>::new();
        let (end, body) = out[..len].split_last().expect("a frame");
        assert!(body.iter().all(|byte| collector.push(*byte).is_none()), "two frames in one");
        let payload = collector.push(*end).expect("a whole frame").expect("a sound frame");
        let message = wire::read::<Reply<'_>>(payload).expect("a reply of this version");
        assert!(self.asked.contains(&message.number), "nobody asked for {message:?}");
        if let Reply::Chunk { block, offset, bytes } = message.body {
            let ring = self.logger.ring();
            assert!((ring.oldest_block()..=ring.open_block()).contains(&block), "block {block}");
            let at = (block % ring.slots()) as usize * SECTOR_LEN + usize::from(offset);
            assert!(usize::from(offset) + bytes.len() <= BLOCK_LEN);
            assert_eq!(bytes, &self.flash.bytes()[at..at + bytes.len()]);
        }
        true
    }

    /// Starts again on the same flash, with the power back.
    fn restart(&mut self) {
        let before = (self.logger.ring().entries(), self.logger.ring().boot());
        self.flash.power_on();
        self.link.hang_up();
        self.asked.clear();
        // A frame begun before the restart is not taken for one behind it.
        self.listener = Collector::new();
        self.now_s = 0;
        self.logger = start(&self.flash, 0).expect("its own log");
        let after = (self.logger.ring().entries(), self.logger.ring().boot());
        if self.faults == 0 {
            assert_eq!(after, (before.0 + 1, before.1 + 1));
        }
        // An entry whose writing failed may be there all the same; none that was acknowledged is not.
        assert!(after.0 > before.0 && after.1 > before.1, "{after:?} after {before:?}");
        self.check_log();
    }

    /// Goes through the log: one chain, numbers without a gap, the boot at its end.
    fn check_log(&mut self) {
        let (oldest, open) = (self.logger.ring().oldest_block(), self.logger.ring().open_block());
        let mut previous = None;
        let mut last: Option<(u32, Entry)> = None;
        for block in oldest..=open {
            let mut bytes = [0; BLOCK_LEN];
            self.logger.read(block, 0, &mut bytes).expect("it is in the ring");
            let reader = Reader::new(&bytes).expect("a header");
            assert!(previous.is_none_or(|digest| digest == reader.header().previous), "the chain");
            previous = Some(digest(&bytes));
            for item in reader {
                match item {
                    Item::Entry { number, entry, .. } => {
                        assert!(last.is_none_or(|(before, _)| number == before + 1), "{number}");
                        last = Some((number, entry));
                    }
                    Item::Damaged { .. } if self.faults > 0 => {}
                    other => panic!("{other:?}"),
                }
            }
        }
        let (number, entry) = last.expect("a boot at least");
        assert!(matches!(entry, Entry::Boot { .. }), "{entry:?}");
        assert_eq!(number + 1, RingLog::entries(self.logger.ring()));
    }
}

fn request(input: &mut Input<'_>) -> Message<Request> {
    let body = match input.below(8) {
        0 => Request::Hello,
        1 => Request::Status,
        2 => {
            let first = u32::from(input.take::<u8>());
            Request::Blocks { first, offset: input.take(), count: input.take() }
        }
        3 => Request::SetClock { utc_s: input.take() },
        4 => Request::SetInterval { interval_s: input.take() },
        5 => Request::Mark { kind: input.mark() },
        6 => Request::Latest,
        _ => Request::Attest { nonce: input.take() },
    };
    Message { version: input.of(&[1, 1, 1, 0, 2]), number: input.take(), body }
}
