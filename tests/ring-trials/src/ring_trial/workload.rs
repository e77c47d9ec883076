//! What loggers do, in the places where it is hardest on the log.

use glueday_types::{Absent, CentiCelsius, CentiPercent, Entry, MarkKind, Probe, Reading, Sample};

/// One thing that a logger does.
#[derive(Clone, Copy, Debug)]
pub(super) enum Op {
    Append(Entry),
    Restart {
        at_s: u32,
    },
    /// Appends samples until this many bytes of the open block are left. Never cut.
    Fill {
        room: usize,
        from_s: u32,
    },
    /// Appends an entry with this ending, made from this time on.
    Ending {
        ending: Ending,
        from_s: u32,
    },
    /// The power fails in the middle of an entry, and the logger restarts. Never cut itself.
    Torn {
        entry: Entry,
        at_s: u32,
    },
}

/// How an entry ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ending {
    /// With the first byte of a resume mark, which a mark right behind it would supply if the entry
    /// was torn there.
    MarksFirst,
    /// With a unit of ones, which looks erased when it was programmed.
    UnitOfOnes,
}

/// Makes entries that are all different, so that none can be taken for another.
#[derive(Default)]
pub(super) struct Source {
    pub(super) at_s: u32,
}

impl Source {
    pub(super) fn sample(&mut self, wobble: i16) -> Op {
        self.at_s += 600;
        Op::Append(sample(self.at_s, wobble))
    }

    /// A sample of the most bytes: in full, with values that take three.
    fn long(&mut self) -> Op {
        self.at_s += 300_000_007;
        let sign = if self.at_s.is_multiple_of(2) { 1 } else { -1 };
        Op::Append(Entry::Sample(Sample {
            at_s: self.at_s,
            slab: Ok(CentiCelsius(32_000 * sign)),
            air: Ok(CentiCelsius(-32_001 * sign)),
            air_rh: Ok(CentiPercent(65_000)),
            supply: Ok(CentiCelsius(32_002 * sign)),
        }))
    }

    fn other(&mut self) -> Op {
        self.at_s += 600;
        Op::Append(other(self.at_s))
    }

    fn interval(&mut self, interval_s: u16) -> Op {
        self.at_s += 600;
        Op::Append(Entry::SettingsChanged { at_s: self.at_s, interval_s })
    }

    fn restart(&mut self) -> Op {
        self.at_s += 600;
        Op::Restart { at_s: self.at_s }
    }

    fn fill(&mut self, room: usize) -> Op {
        let from_s = self.at_s;
        self.at_s += 600 * 4096;
        Op::Fill { room, from_s }
    }

    fn ending(&mut self, ending: Ending) -> Op {
        let from_s = self.at_s;
        self.at_s += 600 * 1024;
        Op::Ending { ending, from_s }
    }

    fn torn(&mut self) -> Op {
        self.at_s += 600;
        Op::Torn { entry: sample(self.at_s, 300), at_s: self.at_s + 1 }
    }

    fn twice(&mut self, op: fn(&mut Self) -> Op) -> [Op; 2] {
        [op(self), op(self)]
    }
}

pub(super) fn sample(at_s: u32, wobble: i16) -> Entry {
    let t = (at_s / 60 % 97) as i16;
    let supply: Reading<CentiCelsius> =
        if t % 29 == 0 { Err(Absent::NoAnswer) } else { Ok(CentiCelsius(2800 - t)) };
    Entry::Sample(Sample {
        at_s,
        slab: Ok(CentiCelsius(2200 + t % 5)),
        air: Ok(CentiCelsius(2000 + t % 7 * wobble)),
        air_rh: Ok(CentiPercent(4500 + (t % 11) as u16)),
        supply,
    })
}

pub(super) fn other(at_s: u32) -> Entry {
    match at_s / 60 % 5 {
        0 => Entry::Mark { at_s, kind: MarkKind::GlueStarted },
        1 => Entry::ClockSet { at_s, utc_s: 1_790_000_000 + i64::from(at_s) },
        2 => Entry::PowerLow { at_s, supply_mv: 3300 },
        3 => Entry::ProbeChanged { at_s, probe: Probe::Air, state: Err(Absent::BadChecksum) },
        _ => Entry::ProbeChanged { at_s, probe: Probe::Slab, state: Ok(()) },
    }
}

/// A flash and what is done to it.
pub(super) struct Workload {
    pub(super) name: &'static str,
    pub(super) slots: usize,
    /// Written before the first cut: samples until the block with this number is this full. Without
    /// it the flash is new.
    pub(super) until: Option<(u32, u16)>,
    pub(super) ops: fn(&mut Source) -> Vec<Op>,
}

const fn workload(
    name: &'static str,
    slots: usize,
    until: Option<(u32, u16)>,
    ops: fn(&mut Source) -> Vec<Op>,
) -> Workload {
    Workload { name, slots, until, ops }
}

fn samples(source: &mut Source) -> Vec<Op> {
    (0..10).map(|_| source.sample(1)).collect()
}

fn mixed(source: &mut Source) -> Vec<Op> {
    (0..10).map(|i| if i % 2 == 0 { source.other() } else { source.sample(300) }).collect()
}

fn restarts(source: &mut Source) -> Vec<Op> {
    (0..9).map(|i| if i % 3 == 1 { source.restart() } else { source.sample(1) }).collect()
}

/// A long entry and short ones, for the end of a block that has room for the short ones only.
fn long_then_short(source: &mut Source) -> Vec<Op> {
    vec![source.long(), source.restart(), source.sample(1)]
}

/// Opens a block in each round of a ring of two slots, and goes round it twice.
fn wrap_twice(source: &mut Source) -> Vec<Op> {
    (0..5)
        .flat_map(|_| [vec![source.fill(12)], source.twice(Source::other).to_vec()].concat())
        .collect()
}

fn interval(source: &mut Source) -> Vec<Op> {
    let mut ops = vec![source.interval(60), source.sample(1), source.sample(1), source.restart()];
    ops.extend([source.interval(600), source.sample(1), source.sample(1), source.sample(1)]);
    ops
}

fn longest(source: &mut Source) -> Vec<Op> {
    (0..4).map(|_| source.long()).collect()
}

/// A supply that flaps, next to damage that is there already.
fn flapping(source: &mut Source) -> Vec<Op> {
    let mut ops = vec![source.torn()];
    ops.extend((0..4).map(|_| source.restart()));
    ops.extend([source.torn(), source.sample(1), source.restart(), source.other()]);
    ops
}

/// Entries that are easily misread when they are torn.
fn endings(source: &mut Source) -> Vec<Op> {
    vec![
        source.ending(Ending::UnitOfOnes),
        source.ending(Ending::MarksFirst),
        source.sample(1),
        source.ending(Ending::MarksFirst),
        source.other(),
    ]
}

/// Few operations over the edge of a block, one of each kind.
fn edge(source: &mut Source) -> Vec<Op> {
    vec![source.other(), source.sample(1), source.restart()]
}

/// A first log, and a restart.
fn first(source: &mut Source) -> Vec<Op> {
    vec![source.restart(), source.other(), source.restart()]
}

fn short(source: &mut Source) -> Vec<Op> {
    vec![source.other(), source.sample(1), source.interval(60), source.restart()]
}

/// Restarts where there is room for a torn entry and for little else.
fn flapping_edge(source: &mut Source) -> Vec<Op> {
    vec![source.restart(), source.restart(), source.other()]
}

fn new_log(source: &mut Source) -> Vec<Op> {
    [vec![source.restart()], mixed(source)].concat()
}

/// For one cut.
pub(super) const WORKLOADS: [Workload; 20] = [
    workload("new", 3, None, new_log),
    workload("samples", 3, Some((0, 300)), samples),
    workload("mixed", 2, Some((0, 500)), mixed),
    workload("restarts", 2, Some((0, 100)), restarts),
    workload("samples-edge", 3, Some((0, 4040)), samples),
    workload("mixed-edge", 2, Some((0, 4020)), mixed),
    workload("wrap-2", 2, Some((1, 4050)), mixed),
    workload("wrap-3", 3, Some((5, 4060)), samples),
    workload("wrap-twice", 2, Some((1, 3000)), wrap_twice),
    workload("room-30", 2, Some((2, 4066)), long_then_short),
    workload("room-26", 2, Some((3, 4070)), long_then_short),
    workload("room-22", 3, Some((4, 4074)), long_then_short),
    workload("room-18", 2, Some((5, 4078)), long_then_short),
    workload("restarts-edge", 2, Some((2, 4030)), restarts),
    workload("interval", 2, Some((1, 1000)), interval),
    workload("interval-edge", 3, Some((3, 4070)), interval),
    workload("longest", 4, Some((4, 4020)), longest),
    workload("endings", 2, Some((1, 2000)), endings),
    workload("flapping", 2, Some((1, 200)), flapping),
    workload("flapping-edge", 2, Some((2, 3950)), flapping),
];

/// For two cuts, so that they are short; on two slots.
pub(super) const PAIRED: [Workload; 4] = [
    workload("two-first", 2, None, first),
    workload("two-within", 2, Some((1, 200)), short),
    workload("two-edge", 2, Some((1, 4076)), edge),
    workload("two-flapping", 2, Some((2, 4000)), flapping_edge),
];

/// The workload with this name.
pub(super) fn named(name: &str) -> Option<&'static Workload> {
    const ALL: [&[Workload]; 2] = [&WORKLOADS, &PAIRED];
    ALL.into_iter().flatten().find(|workload| workload.name == name)
}

/// Whether it is a workload for two cuts.
pub(super) fn is_paired(name: &str) -> bool {
    PAIRED.iter().any(|workload| workload.name == name)
}
