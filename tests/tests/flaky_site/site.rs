//! A site with a logger on it, from its probes to the verdict: the real sampler and ring on a flash in
//! RAM, its blocks in an archive, the history of these, and the assessment of the job.

use glueday::archive::Archive;
use glueday::assess::{Assessment, assess};
use glueday::history::{History, build};
use glueday::job::Job;
use glueday::limits::Limits;
use glueday_firmware::logger::{Logger, Settings};
use glueday_firmware::probes::{Probes, Readings};
use glueday_tests::flash::{Cut, Failure, Outcome, SimFlash};
use glueday_types::{Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, LoggerId};
use std::cell::Cell;
use std::rc::Rc;

use super::assess_world::{D0, Reads, STEP_S, World};

pub(crate) const LOGGER: LoggerId = LoggerId(*b"flaky-01");

/// Which of slab, air, RH and supply.
pub(crate) type Channels = [bool; 4];

/// One thing that goes wrong. Times are by a right clock.
#[derive(Clone, Debug)]
pub(crate) enum Flake {
    /// Of the samples of a span every so many, counted from its start, has no reading.
    Absent { of: Channels, from_s: i64, to_s: i64, every: i64, why: Absent },
    /// The probes read what they read at the start of the span.
    Stuck { of: Channels, from_s: i64, to_s: i64 },
    /// The logger starts again and is down for so long; `torn` while it writes. Its clock is set so
    /// far off, or not at all.
    Restart { at_s: i64, down_s: i64, torn: bool, sync: Option<i64> },
    /// The clock of the first boot is set so far off at its start, or not at all.
    First(Option<i64>),
    /// The clock is set so far off.
    Sync { at_s: i64, off_s: i64 },
    /// Somebody changes the interval.
    Interval { at_s: i64, interval_s: u16 },
    /// The ring has so many blocks only.
    Slots(usize),
    /// Bits of the flash turn over before it is read: byte and bit of what is written, in a million.
    Rot(Vec<u32>),
    /// Half a day is kept by no archive: of the blocks so many thousandths on, this many are missing.
    Unpulled { share: u32, blocks: u32 },
}

/// What the probes read just now.
#[derive(Clone, Debug, Default)]
struct Scripted(Rc<Cell<Option<Readings>>>);

impl Probes for Scripted {
    fn read(&mut self) -> Readings {
        let silent = Readings {
            slab: Err(Absent::NoAnswer),
            air: Err(Absent::NoAnswer),
            air_rh: Err(Absent::NoAnswer),
            supply: Err(Absent::NoAnswer),
        };
        self.0.get().unwrap_or(silent)
    }
}

/// What came of a site.
pub(crate) struct Outcomes {
    pub(crate) flash: Vec<u8>,
    pub(crate) slots: usize,
    pub(crate) history: History,
    pub(crate) assessment: Assessment,
}

/// What the site is at a time: the reading of the world that was the last.
fn truth(world: &World, time_s: i64) -> Reads {
    let after = world.samples.partition_point(|reads| reads.time_s <= time_s);
    world.samples[after.saturating_sub(1)]
}

/// What the probes make of it.
fn probed(world: &World, flakes: &[Flake], time_s: i64) -> Readings {
    let now = truth(world, time_s);
    let values = |reads: Reads| [reads.slab, reads.air, reads.rh, reads.supply];
    let mut read = values(now).map(|value| value.ok_or(Absent::NoAnswer));
    for flake in flakes {
        match flake {
            Flake::Stuck { of, from_s, to_s } if (*from_s..=*to_s).contains(&time_s) => {
                let stuck = values(truth(world, *from_s));
                for i in (0..4).filter(|i| of[*i]) {
                    read[i] = stuck[i].ok_or(Absent::NoAnswer);
                }
            }
            Flake::Absent { of, from_s, to_s, every, why }
                if (*from_s..=*to_s).contains(&time_s)
                    && (time_s - from_s).div_euclid(STEP_S) % every == 0 =>
            {
                (0..4).filter(|i| of[*i]).for_each(|i| read[i] = Err(*why));
            }
            _ => {}
        }
    }
    let celsius = |value: Result<f64, Absent>| {
        value.and_then(|value| CentiCelsius::from_celsius(value).ok_or(Absent::OutOfRange))
    };
    Readings {
        slab: celsius(read[0]),
        air: celsius(read[1]),
        air_rh: read[2]
            .and_then(|value| CentiPercent::from_percent(value).ok_or(Absent::OutOfRange)),
        supply: celsius(read[3]),
    }
}

struct Site {
    flash: SimFlash<4>,
    logger: Logger<SimFlash<4>, Scripted>,
    probes: Scripted,
    booted_s: i64,
}

impl Site {
    fn start(flash: SimFlash<4>, booted_s: i64, reason: BootReason) -> Self {
        let settings = Settings { logger: LOGGER, interval_s: 600, power_low_mv: None };
        let probes = Scripted::default();
        let logger = Logger::start(flash.handle(), probes.clone(), &settings, 0, reason).unwrap();
        Self { flash, logger, probes, booted_s }
    }

    fn uptime_s(&self, time_s: i64) -> u32 {
        u32::try_from(time_s - self.booted_s).unwrap()
    }

    /// Samples when it is due, up to a time.
    fn run(&mut self, world: &World, flakes: &[Flake], until_s: i64) {
        loop {
            let due_s = self.booted_s + i64::from(self.logger.next_due_s().unwrap());
            if due_s >= until_s {
                return;
            }
            self.probes.0.set(Some(probed(world, flakes, due_s)));
            self.logger.tick(self.uptime_s(due_s)).unwrap();
        }
    }

    fn set_clock(&mut self, time_s: i64, off_s: i64) {
        self.logger.set_clock(self.uptime_s(time_s), time_s + off_s).unwrap();
    }

    fn restart(&mut self, at_s: i64, down_s: i64, torn: bool) {
        if torn {
            self.flash.cut(Cut { after: 0, outcome: Outcome::First(3), failure: Failure::Power });
            let interval_s = self.logger.ring().interval_s();
            self.logger.set_interval(self.uptime_s(at_s), interval_s).expect_err("no power");
            self.flash.power_on();
        }
        *self = Self::start(self.flash.handle(), at_s + down_s, BootReason::BrownOut);
    }
}

/// Lets a world happen with all that goes wrong, and asks its question at its end.
pub(crate) fn happen(world: &World, flakes: &[Flake]) -> Outcomes {
    let slots = flakes.iter().find_map(|flake| match flake {
        Flake::Slots(slots) => Some(*slots),
        _ => None,
    });
    let slots = slots.unwrap_or(16);
    let mut site = Site::start(SimFlash::new(slots), D0, BootReason::PowerOn);
    let first = flakes.iter().find_map(|flake| match flake {
        Flake::First(sync) => Some(*sync),
        _ => None,
    });
    if let Some(off_s) = first.unwrap_or(Some(0)) {
        site.set_clock(D0, off_s);
    }
    let mut events: Vec<(i64, &Flake)> = flakes
        .iter()
        .filter_map(|flake| match flake {
            Flake::Restart { at_s, .. }
            | Flake::Sync { at_s, .. }
            | Flake::Interval { at_s, .. } => Some((*at_s, flake)),
            _ => None,
        })
        .collect();
    events.sort_by_key(|(at_s, _)| *at_s);
    for (at_s, event) in events {
        // Two events may meet while the logger is down.
        if at_s <= site.booted_s || at_s > world.at_s {
            continue;
        }
        site.run(world, flakes, at_s);
        match event {
            Flake::Restart { down_s, torn, sync, .. } => {
                site.restart(at_s, *down_s, *torn);
                if let Some(off_s) = sync {
                    site.set_clock(at_s + down_s, *off_s);
                }
            }
            Flake::Sync { off_s, .. } => site.set_clock(at_s, *off_s),
            Flake::Interval { interval_s, .. } => {
                let at_s = site.uptime_s(at_s);
                site.logger.set_interval(at_s, *interval_s).unwrap();
            }
            _ => {}
        }
    }
    site.run(world, flakes, world.at_s + 1);
    let ring = site.logger.ring();
    let (oldest, open, open_len) = (ring.oldest_block(), ring.open_block(), ring.open_len());
    let mut flash = site.flash.bytes();
    rot(&mut flash, flakes);
    let archive = keep(&flash, slots, (oldest, open, open_len), flakes);
    let blocks = archive.blocks(LOGGER).unwrap();
    let mut history = build(blocks.iter().map(|block| block.bytes.as_slice()));
    // As `check` does when it is asked about now.
    history.distrust_future(world.at_s);
    let assessment = judge(world, &history);
    Outcomes { flash, slots, history, assessment }
}

fn rot(flash: &mut [u8], flakes: &[Flake]) {
    let written: Vec<usize> = (0..flash.len()).filter(|at| flash[*at] != 0xFF).collect();
    for flake in flakes {
        let Flake::Rot(places) = flake else { continue };
        for place in places {
            let at = usize::try_from(*place).unwrap() * written.len() / 1_000_000;
            flash[written[at]] ^= 1 << (place % 8);
        }
    }
}

/// Puts the blocks of a ring into an archive, as a pull does.
fn keep(flash: &[u8], slots: usize, ring: (u32, u32, u16), flakes: &[Flake]) -> Archive {
    let (oldest, open, open_len) = ring;
    let unpulled = flakes.iter().find_map(|flake| match flake {
        Flake::Unpulled { share, blocks } => {
            let first = oldest + (open - oldest) * share / 1000;
            Some(first..first + blocks)
        }
        _ => None,
    });
    let mut archive = Archive::in_memory().unwrap();
    archive.note_logger(LOGGER, None, 0).unwrap();
    for block in
        (oldest..=open).filter(|block| !unpulled.as_ref().is_some_and(|u| u.contains(block)))
    {
        let at = usize::try_from(block).unwrap() % slots * BLOCK_LEN;
        let bytes = &flash[at..at + BLOCK_LEN];
        // A block whose header rotted is refused, as a pull gives it up.
        let kept = if block < open {
            archive.put_block(LOGGER, bytes, "", 0)
        } else {
            archive.extend_open_block(LOGGER, &bytes[..usize::from(open_len)], "", 0)
        };
        drop(kept);
    }
    archive
}

/// The verdict on a history.
pub(crate) fn judge(world: &World, history: &History) -> Assessment {
    let job = Job::parse(&world.job, "job.toml").unwrap();
    let zone = job.zone("Hall").expect("the room");
    assess(&job, &Limits::resolve(&job), &[(zone, history)], world.step, world.at_s)
}
