//! What goes wrong on a site, drawn by lot for each kind of trouble.

use glueday_tests::flash::Random;
use glueday_types::Absent;

use super::assess_world::{D0, DAY, HOUR, MIN, STEP_S};
use super::site::{Channels, Flake};
use super::truths::Truth;

/// What a kind of trouble can do to what is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Harm {
    /// Readings, dates or blocks are lost, and nothing false is told.
    Loss,
    /// A probe tells something false.
    FalseReading,
    /// The clock is told something false, and nothing contradicts it.
    FalseTime,
}

pub(crate) struct Kind {
    pub(crate) name: &'static str,
    pub(crate) harm: Harm,
    pub(crate) draw: fn(&Truth, &mut Draw) -> Vec<Flake>,
}

/// Draws what a kind of trouble needs.
pub(crate) struct Draw(pub(crate) Random);

const REASONS: [Absent; 6] = [
    Absent::NotFitted,
    Absent::NoAnswer,
    Absent::BadChecksum,
    Absent::OutOfRange,
    Absent::BusFault,
    Absent::EmptyCell,
];
const ALL: Channels = [true; 4];

impl Draw {
    fn below(&mut self, limit: i64) -> i64 {
        (self.0.bits() >> 1) as i64 % limit.max(1)
    }

    fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below(high - low + 1)
    }

    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len() as i64) as usize]
    }

    fn why(&mut self) -> Absent {
        self.of(&REASONS)
    }

    fn one(&mut self) -> Channels {
        let mut one = [false; 4];
        one[self.below(4) as usize] = true;
        one
    }

    /// The channel of the breach most of the time, another or all the others.
    fn channels(&mut self, truth: &Truth) -> Channels {
        match (truth.breach, self.below(4)) {
            (Some(breach), 0 | 1) => breach.of,
            (_, 2) => ALL,
            _ => self.one(),
        }
    }

    /// A time of the last days, or of the whole log.
    fn time_s(&mut self, truth: &Truth) -> i64 {
        let end_s = truth.world.at_s;
        let from_s = if self.below(3) == 0 { D0 } else { end_s - 3 * DAY };
        self.between(from_s + HOUR, end_s - 1)
    }

    /// A time in the breach or shortly before it, else one of the last day.
    fn at_breach_s(&mut self, truth: &Truth) -> i64 {
        match truth.breach {
            Some(breach) => self.between(breach.from_s - HOUR, breach.to_s),
            None => self.between(truth.world.at_s - DAY, truth.world.at_s - 1),
        }
    }
}

fn absent(of: Channels, from_s: i64, to_s: i64, every: i64, why: Absent) -> Flake {
    Flake::Absent { of, from_s, to_s, every, why }
}

fn singles(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let count = draw.between(1, 12);
    (0..count)
        .map(|_| {
            let at_s =
                if draw.below(2) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) };
            absent(draw.channels(truth), at_s - STEP_S / 2, at_s + STEP_S / 2, 1, draw.why())
        })
        .collect()
}

fn bursts(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let count = draw.between(1, 3);
    (0..count)
        .map(|_| {
            let from_s = draw.time_s(truth);
            let length_s = draw.between(HOUR, 12 * HOUR);
            absent(draw.channels(truth), from_s, from_s + length_s, 1, draw.why())
        })
        .collect()
}

fn alternating(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let from_s = D0 + (draw.time_s(truth) - D0) / STEP_S * STEP_S;
    let length_s = draw.between(6 * HOUR, 3 * DAY);
    let every = draw.of(&[2, 2, 3, 5]);
    vec![absent(draw.channels(truth), from_s, from_s + length_s, every, draw.why())]
}

/// Just the breach, or more: what somebody would cut out who wants a go.
fn around_the_breach(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let Some(breach) = truth.breach else { return bursts(truth, draw) };
    let margin = draw.of(&[0, 0, STEP_S, HOUR, 6 * HOUR]);
    let of = if draw.below(2) == 0 { breach.of } else { ALL };
    vec![absent(of, breach.from_s - margin, breach.to_s + margin, 1, draw.why())]
}

/// A part of the breach, its end or its beginning.
fn part_of_the_breach(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let Some(breach) = truth.breach else { return singles(truth, draw) };
    let cut_s = draw.between(breach.from_s, breach.to_s);
    let (from_s, to_s) =
        if draw.below(2) == 0 { (breach.from_s, cut_s) } else { (cut_s, breach.to_s) };
    vec![absent(breach.of, from_s, to_s, 1, draw.why())]
}

fn dead_from_then_on(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let from_s = if draw.below(2) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) };
    vec![absent(draw.channels(truth), from_s, i64::MAX / 2, 1, draw.why())]
}

fn dead_until_then(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let to_s = if draw.below(2) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) };
    vec![absent(draw.channels(truth), D0, to_s, 1, draw.why())]
}

fn stuck(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let from_s = if draw.below(2) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) };
    let length_s = draw.between(HOUR, 2 * DAY);
    vec![Flake::Stuck { of: draw.channels(truth), from_s, to_s: from_s + length_s }]
}

fn restarts(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let count = draw.between(1, 6);
    (0..count)
        .map(|_| Flake::Restart {
            at_s: if draw.below(2) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) },
            down_s: draw.of(&[2, 30, 20 * MIN, 50 * MIN, 3 * HOUR]),
            torn: draw.below(2) == 0,
            sync: Some(0),
        })
        .collect()
}

/// Restarts after which nobody sets the clock: a boot without a date, up to the end or a next restart.
fn undated(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let at_s = if draw.below(3) == 0 { draw.time_s(truth) } else { draw.at_breach_s(truth) };
    let mut flakes =
        vec![Flake::Restart { at_s, down_s: 30, torn: draw.below(2) == 0, sync: None }];
    if draw.below(2) == 0 {
        let back_s = at_s + draw.of(&[30 * MIN, 2 * HOUR, 7 * HOUR, DAY]);
        flakes.push(Flake::Restart { at_s: back_s, down_s: 30, torn: false, sync: Some(0) });
    }
    flakes
}

fn never_dated(_: &Truth, _: &mut Draw) -> Vec<Flake> {
    vec![Flake::First(None)]
}

/// By how much a clock is wrong: a time zone, summer time, a date, a minute.
const WRONG_S: [i64; 14] = [
    -HOUR,
    HOUR,
    -7 * HOUR,
    7 * HOUR,
    -2 * HOUR,
    2 * HOUR,
    30 * MIN,
    -30 * MIN,
    DAY,
    -DAY,
    3 * DAY,
    -30 * DAY,
    365 * DAY,
    -9600 * DAY,
];

/// Wrong first, and put right later.
fn wrong_then_right(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let mut flakes = vec![Flake::First(Some(draw.of(&WRONG_S)))];
    for _ in 0..draw.below(3) {
        let at_s = draw.between(D0 + HOUR, truth.world.at_s - HOUR);
        flakes.push(Flake::Sync { at_s, off_s: draw.of(&WRONG_S) });
    }
    let at_s = draw.between(truth.world.at_s - HOUR, truth.world.at_s);
    flakes.push(Flake::Sync { at_s, off_s: 0 });
    flakes
}

fn first_time_right_later(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let at_s = draw.between(D0 + HOUR, truth.world.at_s);
    vec![Flake::First(None), Flake::Sync { at_s, off_s: 0 }]
}

fn false_time(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let off_s = draw.of(&WRONG_S);
    match draw.below(3) {
        0 => vec![Flake::First(Some(off_s))],
        1 => vec![Flake::Sync { at_s: draw.time_s(truth), off_s }],
        _ => {
            let at_s = draw.at_breach_s(truth);
            vec![Flake::Restart { at_s, down_s: 30, torn: false, sync: Some(off_s) }]
        }
    }
}

fn intervals(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let at_s = draw.at_breach_s(truth) - draw.of(&[0, HOUR, 5 * HOUR]);
    let interval_s = draw.of(&[300, 1200, 1800, 3600, 5400, 7200, 21_600]);
    let mut flakes = vec![Flake::Interval { at_s, interval_s }];
    if draw.below(2) == 0 {
        let at_s = at_s + draw.of(&[2 * HOUR, 8 * HOUR]);
        flakes.push(Flake::Interval { at_s, interval_s: 600 });
    }
    flakes
}

fn wrapped(_: &Truth, draw: &mut Draw) -> Vec<Flake> {
    vec![Flake::Slots(draw.between(2, 4) as usize)]
}

fn rotten(_: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let count = draw.between(1, 4);
    vec![Flake::Rot((0..count).map(|_| draw.below(1_000_000) as u32).collect())]
}

fn unpulled(_: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let blocks = draw.between(1, 2) as u32;
    vec![Flake::Unpulled { share: draw.below(1001) as u32, blocks }]
}

/// Several troubles at once.
fn all_sorts(truth: &Truth, draw: &mut Draw) -> Vec<Flake> {
    let few: [fn(&Truth, &mut Draw) -> Vec<Flake>; 6] =
        [singles, bursts, alternating, restarts, undated, part_of_the_breach];
    let count = draw.between(2, 4);
    (0..count).flat_map(|_| draw.of(&few)(truth, draw)).collect()
}

pub(crate) const KINDS: &[Kind] = &[
    Kind { name: "single samples", harm: Harm::Loss, draw: singles },
    Kind { name: "bursts", harm: Harm::Loss, draw: bursts },
    Kind { name: "alternating", harm: Harm::Loss, draw: alternating },
    Kind { name: "around the breach", harm: Harm::Loss, draw: around_the_breach },
    Kind { name: "part of the breach", harm: Harm::Loss, draw: part_of_the_breach },
    Kind { name: "dead from then on", harm: Harm::Loss, draw: dead_from_then_on },
    Kind { name: "dead until then", harm: Harm::Loss, draw: dead_until_then },
    Kind { name: "stuck", harm: Harm::FalseReading, draw: stuck },
    Kind { name: "restarts and power cuts", harm: Harm::Loss, draw: restarts },
    Kind { name: "undated boots", harm: Harm::Loss, draw: undated },
    Kind { name: "never dated", harm: Harm::Loss, draw: never_dated },
    Kind { name: "dated later", harm: Harm::Loss, draw: first_time_right_later },
    Kind { name: "wrong clock put right", harm: Harm::Loss, draw: wrong_then_right },
    Kind { name: "wrong clock", harm: Harm::FalseTime, draw: false_time },
    Kind { name: "intervals", harm: Harm::Loss, draw: intervals },
    Kind { name: "ring went round", harm: Harm::Loss, draw: wrapped },
    Kind { name: "rot", harm: Harm::Loss, draw: rotten },
    Kind { name: "blocks not pulled", harm: Harm::Loss, draw: unpulled },
    Kind { name: "all sorts", harm: Harm::Loss, draw: all_sorts },
];
