//! Random logs as plain lists of readings, and the worlds that real judging sees them through.

use std::fmt;

use glueday::assess::{Finding, Step};
use proptest::prelude::*;

use super::assess_world::{D0, DAY, Reads, World};

/// A list of samples in order of time, and the interval at which they were due.
#[derive(Clone)]
pub(crate) struct Log {
    pub(crate) interval_s: u16,
    pub(crate) samples: Vec<Reads>,
}

/// What the channels of a log usually read and where its rules have their edges, in hundredths;
/// in the order slab, air, RH, supply.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shape {
    pub(crate) good: [(i32, i32); 4],
    /// A channel with only one is not looked at by the rule, and left alone.
    pub(crate) edges: [&'static [i32]; 4],
    pub(crate) intervals_s: &'static [u16],
    pub(crate) samples: (usize, usize),
}

/// One sample before it is dated: the time since the one before, and what the channels read.
type Row = (i64, [Option<i32>; 4]);

/// A stretch of one channel that reads the same, or nothing: its first sample, how many, what.
type Stretch = (prop::sample::Index, usize, usize, Option<i32>);

/// Short logs with all kinds of flaws, and long ones with few.
pub(crate) fn any_log(shape: Shape) -> impl Strategy<Value = Log> {
    prop_oneof![5 => any_short_log(shape), 2 => any_long_log(shape)]
}

pub(crate) fn any_short_log(shape: Shape) -> impl Strategy<Value = Log> {
    // How many samples in ten thousand have a flaw differs from log to log: most rules ask for none.
    let rate = prop::sample::select(vec![1_u32, 20, 100, 500]);
    (prop::sample::select(shape.intervals_s), rate).prop_flat_map(move |(interval_s, rate)| {
        let (least, most) = shape.samples;
        // Most logs are long, so that there is something to look back on.
        let count = prop_oneof![1 => least..most, 3 => (least + most) / 2..most];
        let rows = count.prop_flat_map(move |count| {
            prop::collection::vec(any_row(shape, interval_s, rate), count)
        });
        let stretches = prop::collection::vec(any_stretch(shape), 0..3);
        let stretches = prop_oneof![1 => Just(Vec::new()), 1 => stretches];
        (rows, stretches).prop_map(move |(rows, stretches)| dated(interval_s, rows, &stretches))
    })
}

/// The samples that the program looks at together: flaws stand mostly at the borders of these.
const TOGETHER: usize = 64;

/// One flaw of a long log: its first sample, how many, and what.
#[derive(Clone, Debug)]
enum Flaw {
    /// So many seconds more since the sample before.
    Late(usize, i64),
    /// What a channel reads.
    Reads(usize, usize, usize, Option<i32>),
}

/// Logs that are good but for a few flaws, so long that most of their samples need no closer look. The
/// good readings are as any log's.
fn any_long_log(shape: Shape) -> impl Strategy<Value = Log> {
    let flaws = prop::collection::vec(any_flaw(shape), 0..8);
    let interval_s = prop::sample::select(shape.intervals_s);
    (interval_s, 130_usize..330, any::<u64>(), flaws).prop_map(
        move |(interval_s, count, seed, flaws)| {
            let mut random = seed;
            let mut next = |(low, high): (i32, i32)| {
                random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(seed | 1);
                let wide = u64::try_from(high - low + 1).unwrap_or(1);
                low + i32::try_from((random >> 33) % wide).unwrap_or(0)
            };
            let mut row = || (i64::from(interval_s), shape.good.map(|good| Some(next(good))));
            let mut rows: Vec<Row> = (0..count).map(|_| row()).collect();
            for flaw in flaws {
                match flaw {
                    Flaw::Late(at, by_s) => rows
                        .iter_mut()
                        .skip(at)
                        .take(1)
                        .for_each(|row| row.0 = (row.0 + by_s).max(0)),
                    Flaw::Reads(at, len, of, what) => {
                        rows.iter_mut().skip(at).take(len).for_each(|row| row.1[of] = what);
                    }
                }
            }
            dated(interval_s, rows, &[])
        },
    )
}

fn any_flaw(shape: Shape) -> impl Strategy<Value = Flaw> {
    let at = prop_oneof![
        3 => (1_usize..5, 0_usize..5).prop_map(|(border, by)| border * TOGETHER + by - 2),
        1 => 0_usize..330,
    ];
    let late = prop::sample::select(vec![-600_i64, -1, 1, 300, 301, 1800, 3000, 3001, 5400]);
    let live: Vec<usize> = (0..4).filter(|of| shape.edges[*of].len() > 1).collect();
    let reads = (prop::sample::select(live), prop_oneof![Just(1), 1_usize..80]).prop_flat_map(
        move |(of, len)| {
            let edge = prop::sample::select(shape.edges[of]).prop_map(Some);
            (Just(of), Just(len), prop_oneof![3 => edge, 1 => Just(None)])
        },
    );
    (at, late, reads, 0..3).prop_map(|(at, by_s, (of, len, what), kind)| {
        if kind == 0 { Flaw::Late(at, by_s) } else { Flaw::Reads(at, len, of, what) }
    })
}

fn any_row(shape: Shape, interval_s: u16, rate: u32) -> impl Strategy<Value = Row> {
    let odd = prop_oneof![
        prop::sample::select(vec![0_i64, 1, 59, 900, 901, 2700, 2701, 3599, 3600, 3601, 7200]),
        0_i64..4_500,
        3_601_i64..30_000,
    ];
    let step = prop_oneof![10_000 - rate => Just(i64::from(interval_s)), rate => odd];
    let [slab, air, rh, supply] = [0, 1, 2, 3].map(|of| any_value(shape, of, rate));
    (step, (slab, air, rh, supply)).prop_map(|(step, (a, b, c, d))| (step, [a, b, c, d]))
}

fn any_value(shape: Shape, of: usize, rate: u32) -> impl Strategy<Value = Option<i32>> {
    let (low, high) = shape.good[of];
    prop_oneof![
        10_000 - rate => (low..=high).prop_map(Some),
        rate.div_ceil(2) => prop::sample::select(shape.edges[of]).prop_map(Some),
        rate.div_ceil(2) => Just(None),
    ]
}

fn any_stretch(shape: Shape) -> impl Strategy<Value = Stretch> {
    let live: Vec<usize> = (0..4).filter(|of| shape.edges[*of].len() > 1).collect();
    let of = prop::sample::select(live);
    (any::<prop::sample::Index>(), 1_usize..30, of).prop_flat_map(move |(at, len, of)| {
        let edge = prop::sample::select(shape.edges[of]).prop_map(Some);
        let what = prop_oneof![2 => edge, 1 => Just(None)];
        what.prop_map(move |what| (at, len, of, what))
    })
}

fn dated(interval_s: u16, mut rows: Vec<Row>, stretches: &[Stretch]) -> Log {
    for (at, len, of, what) in stretches {
        let from = at.index(rows.len());
        rows.iter_mut().skip(from).take(*len).for_each(|row| row.1[*of] = *what);
    }
    let mut time_s = D0;
    let hundredths = |value: Option<i32>| value.map(|value| f64::from(value) / 100.0);
    let sample = |(step_s, [slab, air, rh, supply]): Row| {
        time_s += step_s;
        Reads {
            time_s,
            slab: hundredths(slab),
            air: hundredths(air),
            rh: hundredths(rh),
            supply: hundredths(supply),
        }
    };
    Log { interval_s, samples: rows.into_iter().map(sample).collect() }
}

/// A moment of a log: so many seconds after a sample.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Moment {
    AtAny(prop::sample::Index, i64),
    InFirstThird(prop::sample::Index, i64),
    AtLast(i64),
}

fn beside() -> impl Strategy<Value = i64> {
    let beside = prop::sample::select(vec![-1_i64, 0, 0, 0, 1, 600, 3600, 3601]);
    prop_oneof![3 => beside, 1 => -20_000_i64..20_000]
}

/// The time asked about: mostly a late one, so that there is something to look back on.
pub(crate) fn any_moment() -> impl Strategy<Value = Moment> {
    prop_oneof![
        (any::<prop::sample::Index>(), beside()).prop_map(|(at, by)| Moment::AtAny(at, by)),
        beside().prop_map(Moment::AtLast),
    ]
}

/// When something was done: mostly early, so that there is something to look at since.
pub(crate) fn any_early_moment() -> impl Strategy<Value = Moment> {
    prop_oneof![
        1 => (any::<prop::sample::Index>(), beside()).prop_map(|(at, by)| Moment::AtAny(at, by)),
        3 => (any::<prop::sample::Index>(), beside()).prop_map(|(at, by)| Moment::InFirstThird(at, by)),
    ]
}

impl Log {
    pub(crate) fn at(&self, moment: Moment) -> i64 {
        let count = self.samples.len();
        let (i, by_s) = match moment {
            Moment::AtAny(at, by_s) => (at.index(count), by_s),
            Moment::InFirstThird(at, by_s) => (at.index(count.div_ceil(3)), by_s),
            Moment::AtLast(by_s) => (count - 1, by_s),
        };
        (self.samples[i].time_s + by_s).max(D0)
    }

    /// The samples up to a time.
    pub(crate) fn until(&self, now_s: i64) -> Vec<Reads> {
        self.samples.iter().copied().filter(|sample| sample.time_s <= now_s).collect()
    }

    /// What `assess` finds of a requirement.
    pub(crate) fn finding(&self, id: &str, job: &str, step: Step, at_s: i64) -> Finding {
        let mut world = World::ready();
        world.job = job.to_owned();
        world.samples.clone_from(&self.samples);
        world.intervals = vec![(D0, self.interval_s)];
        world.step = step;
        world.at_s = at_s;
        world.finding(id)
    }
}

/// Readings of one channel: those that are there.
pub(crate) fn readings(samples: &[Reads], of: fn(&Reads) -> Option<f64>) -> Vec<(i64, f64)> {
    samples.iter().filter_map(|sample| Some((sample.time_s, of(sample)?))).collect()
}

/// The samples up to `now_s`, and then good ones each ten minutes up to `until_s`.
pub(crate) fn grown(samples: &[Reads], now_s: i64, until_s: i64, good: Reads) -> Vec<Reads> {
    let mut grown: Vec<Reads> = samples.iter().copied().filter(|s| s.time_s <= now_s).collect();
    grown.extend((now_s..=until_s).step_by(600).map(|time_s| Reads { time_s, ..good }));
    grown
}

/// A time as a job writes it. The logs are of March 2026.
pub(crate) fn stamp(time_s: i64) -> String {
    let (day, second) = ((time_s - D0).div_euclid(DAY) + 2, (time_s - D0).rem_euclid(DAY));
    assert!((1..=31).contains(&day), "not in March");
    let (hour, minute, second) = (second / 3600, second / 60 % 60, second % 60);
    format!("2026-03-{day:02}T{hour:02}:{minute:02}:{second:02}")
}

/// A job with nothing but a site and a room.
pub(crate) fn bare_job() -> String {
    "[site]\nname = \"Test house\"\ntime-zone = \"UTC\"\n[[room]]\nname = \"Hall\"\n".to_owned()
}

/// Limits as a job sets them.
pub(crate) fn limits(of: &[(&str, &str)]) -> String {
    let limit = |(id, value): &(&str, &str)| {
        format!("[[limit]]\nid = \"{id}\"\nvalue = \"{value}\"\nreason = \"test\"\n")
    };
    of.iter().map(limit).collect()
}

impl fmt::Debug for Log {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "each {} s; seconds, slab, air, RH, supply:", self.interval_s)?;
        let shown = |value: Option<f64>| value.map_or("-".to_owned(), |value| format!("{value}"));
        for s in &self.samples {
            let row = [s.slab, s.air, s.rh, s.supply].map(shown).join(" ");
            writeln!(f, "  {} {row}", s.time_s - D0)?;
        }
        Ok(())
    }
}
