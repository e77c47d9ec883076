//! The power fails while an entry is written, and one oracle looks at what either store holds then.

use super::queue::Queue;
use super::samples::whole_body;
use super::{BOOT, ID};
use glueday_firmware::ring::RingLog;
use glueday_tests::flash::{Cut, Failure, Outcome, Random, SECTOR_LEN, SimFlash, Step};
use glueday_types::block::{Item, Reader};
use glueday_types::{BLOCK_LEN, CentiCelsius, CentiPercent, Entry, Sample};
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};

const CUTS: u32 = 2000;
const CUTS_EACH: u32 = 40;
const SECTORS: usize = 4;
/// More entries than any page holds: each takes 16 bytes at least, with what the store adds.
const PAGE_ENTRIES_MAX: u32 = 4096 / 16;

/// A store that entries with a number go into. It is made anew after each start.
trait Store<const W: usize>: Sized {
    const NAME: &'static str;
    fn mount(flash: &SimFlash<W>) -> Option<Self>;
    fn push(&mut self, number: u32) -> bool;
    /// The numbers that are there, the oldest first.
    fn numbers(&mut self) -> Option<Vec<u32>>;
}

/// An entry that bears its number. No two are an interval apart: each is written as it stands.
fn entry(number: u32) -> Entry {
    let [low, high, ..] = number.to_le_bytes();
    Entry::Sample(Sample {
        at_s: number * 7,
        slab: Ok(CentiCelsius(2000 + i16::from(low))),
        air: Ok(CentiCelsius(2100 + i16::from(high))),
        air_rh: Ok(CentiPercent(4500 + u16::from(low))),
        supply: Ok(CentiCelsius(3000 - i16::from(low))),
    })
}

/// The number of an entry; what was never written counts as a phantom.
fn number(found: &Entry) -> u32 {
    let number = found.at_s() / 7;
    if *found == entry(number) { number } else { u32::MAX }
}

impl<const W: usize> Store<W> for RingLog<SimFlash<W>> {
    const NAME: &'static str = "ring";

    fn mount(flash: &SimFlash<W>) -> Option<Self> {
        Self::mount(flash.handle(), ID, 600, BOOT).ok()
    }

    fn push(&mut self, number: u32) -> bool {
        self.append(&entry(number)).is_ok()
    }

    fn numbers(&mut self) -> Option<Vec<u32>> {
        let mut numbers = Vec::new();
        for block in self.oldest_block()..=self.open_block() {
            let mut bytes = [0; BLOCK_LEN];
            self.read(block, 0, &mut bytes).ok()?;
            numbers.extend(Reader::new(&bytes).ok()?.filter_map(|item| match item {
                // Every start writes one of its own.
                Item::Entry { entry: Entry::Boot { .. }, .. } | Item::Damaged { .. } => None,
                Item::Entry { entry, .. } => Some(number(&entry)),
                Item::Unknown { .. } => Some(u32::MAX),
            }));
        }
        Some(numbers)
    }
}

impl<const W: usize> Store<W> for Queue<W> {
    const NAME: &'static str = "queue";

    fn mount(flash: &SimFlash<W>) -> Option<Self> {
        Some(Self::cached(flash.handle()))
    }

    fn push(&mut self, number: u32) -> bool {
        self.push(&whole_body(&entry(number))).is_ok()
    }

    fn numbers(&mut self) -> Option<Vec<u32>> {
        let read = |item: Vec<u8>| postcard::from_bytes(&item).map_or(u32::MAX, |e| number(&e));
        Some(self.read_all(usize::MAX).ok()?.into_iter().map(read).collect())
    }
}

/// How often each thing went wrong.
#[derive(Clone, Copy, Debug, Default)]
struct Wrong {
    cuts: u32,
    /// The power failed in an erase, not while programming.
    in_erase: u32,
    acknowledged_lost: u32,
    out_of_order: u32,
    phantom: u32,
    /// The next entry could not be written at the first try.
    next_push_failed: u32,
    /// Nor at three more.
    push_fails_for_good: u32,
    /// It was acknowledged, and is not the last one after the next start.
    next_push_lost: u32,
    more_lost_later: u32,
    read_failed: u32,
    /// A unit that was not erased was programmed, which the flash refused.
    rule_broken: u32,
    panicked: u32,
}

pub(crate) fn campaigns() {
    println!("\npower cuts, {CUTS} each: the same oracle, outcomes and places");
    one::<1>();
    one::<4>();
    one::<8>();
    one::<32>();
}

fn one<const W: usize>() {
    print_wrong::<W, RingLog<SimFlash<W>>>();
    print_wrong::<W, Queue<W>>();
}

fn print_wrong<const W: usize, S: Store<W>>() {
    let wrong = campaign::<W, S>();
    let text = format!("{wrong:?}").replace("Wrong { ", "").replace(" }", "").replace('_', " ");
    println!("{:5} unit {W:2}: {text}", S::NAME);
}

/// A log to cut the power in.
struct Base<const W: usize> {
    flash: SimFlash<W>,
    /// Entries that were written.
    count: u32,
    /// Steps up to the next erase behind them, when that is near.
    to_erase: Option<u64>,
}

fn campaign<const W: usize, S: Store<W>>() -> Wrong {
    let mut random = Random(7);
    let mut wrong = Wrong::default();
    // What a panic would print for each cut.
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    while wrong.cuts < CUTS {
        // Up to twice round. Every other one up to where the next page is opened: the hard part.
        let count = (random.bits() % 1600) as u32;
        let base = base::<W, S>(count, random.bits().is_multiple_of(2));
        for _ in 0..CUTS_EACH {
            cut_once::<W, S>(&base, &mut random, &mut wrong);
        }
    }
    std::panic::set_hook(hook);
    wrong
}

fn base<const W: usize, S: Store<W>>(mut count: u32, to_page: bool) -> Base<W> {
    let flash = SimFlash::<W>::new(SECTORS);
    let mut store = S::mount(&flash).unwrap();
    (0..count).for_each(|number| assert!(store.push(number)));
    if !to_page {
        return Base { flash, count, to_erase: None };
    }
    let erases = flash.counters().erases;
    let mut earlier = [(flash.clone(), count), (flash.clone(), count)];
    while flash.counters().erases == erases {
        assert!(store.push(count));
        count += 1;
        if count.is_multiple_of(4) {
            earlier = [earlier[1].clone(), (flash.clone(), count)];
        }
    }
    // The last one may be behind the erase already.
    let [(flash, count), _] = earlier;
    let dry = flash.clone();
    let mut store = S::mount(&dry).unwrap();
    dry.record();
    let (erases, mut number) = (dry.counters().erases, count);
    while dry.counters().erases == erases {
        assert!(store.push(number));
        number += 1;
    }
    let steps = dry.recorded();
    let to_erase = steps.iter().position(|step| *step == Step::Erase).map(|at| at as u64);
    Base { flash, count, to_erase }
}

fn cut_once<const W: usize, S: Store<W>>(base: &Base<W>, random: &mut Random, wrong: &mut Wrong) {
    let flash = base.flash.clone();
    let mut store = S::mount(&flash).unwrap();
    let before = store.numbers().unwrap();
    let after = match base.to_erase {
        // Around the erase half the time, and anywhere up to a little behind it.
        Some(at) if random.bits().is_multiple_of(2) => at.saturating_sub(2) + random.bits() % 6,
        Some(at) => random.bits() % (at + 6),
        None => random.bits() % (160 / W as u64 + 4),
    };
    flash.cut(Cut { after, outcome: outcome(W, random), failure: Failure::Power });
    flash.record();
    let mut in_flight = base.count;
    while store.push(in_flight) {
        in_flight += 1;
    }
    wrong.cuts += 1;
    wrong.in_erase += u32::from(flash.recorded().last() == Some(&Step::Erase));
    drop(store);
    flash.power_on();
    let judged = catch_unwind(AssertUnwindSafe(|| {
        let mut seen = *wrong;
        judge::<W, S>(&flash, &before, in_flight, &mut seen);
        seen
    }));
    match judged {
        Ok(seen) => *wrong = seen,
        Err(_) => wrong.panicked += 1,
    }
    wrong.rule_broken += u32::from(flash.counters().violations > 0);
}

fn outcome(write_unit: usize, random: &mut Random) -> Outcome {
    let seed = random.bits();
    match random.bits() % 7 {
        0 => Outcome::Nothing,
        1 => Outcome::Done,
        2 => Outcome::First((random.bits() % write_unit.max(64) as u64) as usize),
        3 => Outcome::Last((random.bits() % SECTOR_LEN as u64) as usize),
        4 => Outcome::Bits { seed, share: 128 },
        5 => Outcome::Bits { seed, share: 250 },
        _ => Outcome::Bits { seed, share: 25 },
    }
}

/// What a store has to hold after the power was back.
fn judge<const W: usize, S: Store<W>>(
    flash: &SimFlash<W>,
    before: &[u32],
    in_flight: u32,
    wrong: &mut Wrong,
) {
    let start = || S::mount(flash).and_then(|mut store| store.numbers().map(|held| (store, held)));
    let Some((mut store, held)) = start() else {
        wrong.read_failed += 1;
        return;
    };
    let there: BTreeSet<u32> = held.iter().copied().collect();
    wrong.phantom += u32::from(held.iter().any(|number| *number > in_flight));
    wrong.out_of_order += u32::from(!held.is_sorted_by(|a, b| a < b));
    // A page goes for the next entry, and one more when the start writes something; no others.
    let oldest = before.first().copied().unwrap_or(0);
    let first = there.first().copied().unwrap_or(in_flight);
    let missing = (first..in_flight).any(|number| !there.contains(&number));
    let too_many = first > oldest + 2 * PAGE_ENTRIES_MAX;
    wrong.acknowledged_lost += u32::from(missing || too_many);
    let next = in_flight + 1;
    if !store.push(next) {
        wrong.next_push_failed += 1;
        if !(0..3).any(|_| store.push(next)) {
            wrong.push_fails_for_good += 1;
            return;
        }
    }
    drop(store);
    let Some((_, later)) = start() else {
        wrong.read_failed += 1;
        return;
    };
    wrong.next_push_lost += u32::from(later.last() != Some(&next));
    let later: BTreeSet<u32> = later.into_iter().collect();
    let kept = there.range(first + 2 * PAGE_ENTRIES_MAX..);
    wrong.more_lost_later += u32::from(kept.into_iter().any(|number| !later.contains(number)));
}
