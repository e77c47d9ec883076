//! The power fails at every step of writing the log, and the log is as it must be afterwards.
//!
//! The oracle is a list of what was acknowledged; it reads the flash through the block reader of the
//! formats, not through the ring. After every cut and remount:
//! - what was acknowledged is there, exact and in order, but for what the ring has overwritten;
//! - what was being written when the power failed is there as a whole or not at all;
//! - nothing else is there, and numbers have no gap;
//! - each block names the digest of the one before;
//! - the next entry is written, and is there after one more mount, which finds nothing to repair.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_firmware::ring::{Boot, Error, RingLog};
use glueday_tests::flash::{Cut, Failure, Outcome, SimFlash, Step};
use glueday_types::block::{Item, Reader};
use glueday_types::{
    Absent, BLOCK_LEN, BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, MarkKind, Probe,
    Sample, digest,
};
use std::cell::Cell;

const ID: LoggerId = LoggerId(*b"powerCut");
const FIRMWARE: (u8, u8, u8) = (1, 2, 3);

/// What was written, as whoever wrote it knows.
#[derive(Clone, Debug)]
enum Written {
    Acknowledged(Entry),
    /// The power failed meanwhile.
    InFlight(Entry),
    /// A boot that did not come through; its number is not known.
    BootInFlight {
        at_s: u32,
    },
}

/// One thing that a logger does.
#[derive(Clone, Copy, Debug)]
enum Op {
    Append(Entry),
    Restart { at_s: u32 },
}

fn mount<const W: usize>(flash: &SimFlash<W>, at_s: u32) -> Result<RingLog<SimFlash<W>>, Error> {
    let boot = Boot { reason: BootReason::PowerOn, at_s, firmware: FIRMWARE };
    RingLog::mount(flash.handle(), ID, 600, boot)
}

fn boot_entry<const W: usize>(ring: &RingLog<SimFlash<W>>, at_s: u32) -> Entry {
    Entry::Boot { boot: ring.boot(), at_s, reason: BootReason::PowerOn, firmware: FIRMWARE }
}

/// Makes entries that are all different, so that none can be taken for another.
struct Maker {
    at_s: u32,
}

impl Maker {
    fn sample(&mut self, wobble: i16) -> Entry {
        self.at_s += 600;
        let t = (self.at_s / 600 % 97) as i16;
        Entry::Sample(Sample {
            at_s: self.at_s,
            slab: Ok(CentiCelsius(2200 + t % 5)),
            air: Ok(CentiCelsius(2000 + t % 7 * wobble)),
            air_rh: Ok(CentiPercent(4500 + (t % 11) as u16)),
            supply: if t % 29 == 0 { Err(Absent::NoAnswer) } else { Ok(CentiCelsius(2800 - t)) },
        })
    }

    fn other(&mut self) -> Entry {
        self.at_s += 600;
        let at_s = self.at_s;
        match at_s / 600 % 5 {
            0 => Entry::Mark { at_s, kind: MarkKind::GlueStarted },
            1 => Entry::ClockSet { at_s, utc_s: 1_790_000_000 + i64::from(at_s) },
            2 => Entry::SettingsChanged { at_s, interval_s: 600 },
            3 => Entry::ProbeChanged { at_s, probe: Probe::Air, state: Err(Absent::BadChecksum) },
            _ => Entry::PowerLow { at_s, supply_mv: 3300 },
        }
    }

    fn restart(&mut self) -> Op {
        self.at_s += 600;
        Op::Restart { at_s: self.at_s }
    }
}

struct Workload {
    name: &'static str,
    sectors: usize,
    /// Written before the first cut: samples until the block with this number is this full.
    until: Option<(u32, u16)>,
    ops: fn(&mut Maker) -> Vec<Op>,
}

fn samples(maker: &mut Maker) -> Vec<Op> {
    (0..14).map(|_| Op::Append(maker.sample(1))).collect()
}

fn mixed(maker: &mut Maker) -> Vec<Op> {
    (0..14)
        .map(|i| Op::Append(if i % 2 == 0 { maker.other() } else { maker.sample(300) }))
        .collect()
}

fn restarts(maker: &mut Maker) -> Vec<Op> {
    (0..9).map(|i| if i % 3 == 1 { maker.restart() } else { Op::Append(maker.sample(1)) }).collect()
}

/// A long entry and short ones, for the end of a block that has room for the short ones only.
fn long_then_short(maker: &mut Maker) -> Vec<Op> {
    maker.at_s += 600;
    vec![Op::Append(maker.sample(300)), maker.restart(), Op::Append(maker.sample(1))]
}

const WORKLOADS: [Workload; 13] = [
    Workload { name: "a new log", sectors: 3, until: None, ops: mixed },
    Workload { name: "samples", sectors: 3, until: Some((0, 300)), ops: samples },
    Workload { name: "mixed", sectors: 2, until: Some((0, 500)), ops: mixed },
    Workload { name: "restarts", sectors: 2, until: Some((0, 100)), ops: restarts },
    Workload { name: "samples into block 1", sectors: 3, until: Some((0, 4040)), ops: samples },
    Workload { name: "mixed into block 1", sectors: 2, until: Some((0, 4020)), ops: mixed },
    Workload { name: "over the oldest of 2", sectors: 2, until: Some((1, 4050)), ops: mixed },
    Workload { name: "over the oldest of 3", sectors: 3, until: Some((5, 4060)), ops: samples },
    Workload { name: "room 30", sectors: 2, until: Some((2, 4066)), ops: long_then_short },
    Workload { name: "room 26", sectors: 2, until: Some((3, 4070)), ops: long_then_short },
    Workload { name: "room 22", sectors: 3, until: Some((4, 4074)), ops: long_then_short },
    Workload { name: "room 18", sectors: 2, until: Some((5, 4078)), ops: long_then_short },
    Workload { name: "restarts at the edge", sectors: 2, until: Some((2, 4030)), ops: restarts },
];

/// The log in the middle of a workload.
#[derive(Clone)]
struct Run<const W: usize> {
    ring: RingLog<SimFlash<W>>,
    written: Vec<Written>,
}

impl<const W: usize> Run<W> {
    fn begin(workload: &Workload, maker: &mut Maker) -> Self {
        let flash = SimFlash::new(workload.sectors);
        let ring = mount(&flash, 0).unwrap();
        let boot = boot_entry(&ring, 0);
        let mut run = Self { ring, written: vec![Written::Acknowledged(boot)] };
        if let Some(until) = workload.until {
            while (run.ring.open_block(), run.ring.open_len()) < until {
                run.append(maker.sample(1)).unwrap();
            }
        }
        run
    }

    fn append(&mut self, entry: Entry) -> Result<(), Error> {
        self.ring.append(&entry).map(|_| self.written.push(Written::Acknowledged(entry)))
    }

    /// Does `op`. If the power fails in it, notes what was in flight and gives the dark flash back.
    fn perform(mut self, op: Op) -> Result<Self, (SimFlash<W>, Vec<Written>)> {
        match op {
            Op::Append(entry) => match self.append(entry) {
                Ok(()) => Ok(self),
                Err(_) => {
                    self.written.push(Written::InFlight(entry));
                    Err((self.ring.release(), self.written))
                }
            },
            Op::Restart { at_s } => {
                let flash = self.ring.release();
                match mount(&flash, at_s) {
                    Ok(ring) => {
                        self.written.push(Written::Acknowledged(boot_entry(&ring, at_s)));
                        Ok(Self { ring, ..self })
                    }
                    Err(_) => {
                        self.written.push(Written::BootInFlight { at_s });
                        Err((flash, self.written))
                    }
                }
            }
        }
    }
}

/// All that the flash holds, read with the block reader alone.
fn read_all<const W: usize>(
    ring: &mut RingLog<SimFlash<W>>,
    cuts: usize,
) -> Vec<(u32, u32, Entry)> {
    let mut entries: Vec<(u32, u32, Entry)> = Vec::new();
    let mut before: Option<[u8; 32]> = None;
    let mut damaged = 0;
    for block in ring.oldest_block()..=ring.open_block() {
        let mut bytes = vec![0; BLOCK_LEN];
        ring.read(block, 0, &mut bytes).unwrap();
        let reader = Reader::new(&bytes).unwrap();
        assert_eq!((reader.header().block, reader.header().logger), (block, ID));
        if let Some(before) = before {
            assert_eq!(reader.header().previous, before, "the chain breaks at block {block}");
        }
        if let Some((last, ..)) = entries.last() {
            assert_eq!(reader.header().first_entry, last + 1, "at block {block}");
        }
        before = Some(digest(&bytes));
        for item in reader {
            match item {
                Item::Entry { number, boot, entry } => {
                    if let Some((last, ..)) = entries.last() {
                        assert_eq!(number, last + 1, "a gap in the numbers");
                    }
                    entries.push((number, boot, entry));
                }
                Item::Damaged { .. } => damaged += 1,
                Item::Unknown { .. } => panic!("an unknown entry"),
            }
        }
    }
    assert!(damaged <= cuts, "{damaged} damaged spans after {cuts} cuts");
    let last = entries.last().expect("a log has at least its boot");
    assert_eq!(last.0 + 1, ring.entries());
    entries
}

/// Compares what is there with what was written.
fn verify<const W: usize>(ring: &mut RingLog<SimFlash<W>>, written: &[Written], cuts: usize) {
    let found = read_all(ring, cuts);
    let mut expected = written.iter().rev();
    let mut boots = Vec::new();
    for (_, boot, entry) in found.iter().rev() {
        loop {
            match expected.next().unwrap_or_else(|| panic!("a phantom: {entry:?}")) {
                Written::Acknowledged(wanted) => {
                    assert_eq!(entry, wanted, "acknowledged, but not there");
                    break;
                }
                Written::InFlight(wanted) if entry == wanted => break,
                Written::BootInFlight { at_s: wanted } => match entry {
                    Entry::Boot { at_s, .. } if at_s == wanted => break,
                    _ => {}
                },
                Written::InFlight(_) => {}
            }
        }
        if let Entry::Boot { boot: number, .. } = entry {
            assert_eq!(number, boot);
            boots.push(*number);
        }
    }
    assert!(boots.windows(2).all(|pair| pair[0] == pair[1] + 1), "boots {boots:?} backwards");
    let lost = expected.filter(|written| matches!(written, Written::Acknowledged(_))).count();
    let blocks = ring.open_block() - ring.oldest_block() + 1;
    if lost > 0 {
        assert!(ring.oldest_block() > 0, "{lost} acknowledged entries are gone without a wrap");
        assert!(blocks + 1 >= ring.slots(), "only {blocks} blocks are left");
    }
    assert_eq!(ring.lost(), 0);
}

/// What happens after the power is back: mount, check, write, mount, check.
fn recover<const W: usize>(flash: &SimFlash<W>, mut written: Vec<Written>, cuts: usize, at_s: u32) {
    flash.power_on();
    let mut ring = mount(flash, at_s).unwrap();
    written.push(Written::Acknowledged(boot_entry(&ring, at_s)));
    verify(&mut ring, &written, cuts);
    let next = Entry::Mark { at_s: at_s + 1, kind: MarkKind::Button };
    ring.append(&next).unwrap();
    written.push(Written::Acknowledged(next));
    drop(ring);
    let mut again = mount(flash, at_s + 2).unwrap();
    assert_eq!(again.resumed(), 0, "the second mount found something to repair");
    written.push(Written::Acknowledged(boot_entry(&again, at_s + 2)));
    verify(&mut again, &written, cuts);
    assert_eq!(flash.counters().violations, 0, "a rule of the flash was broken");
}

fn outcomes(step: Step, write_unit: usize, seed: u64) -> Vec<Outcome> {
    let bits = |share| Outcome::Bits { seed, share };
    let mut outcomes = vec![Outcome::Nothing, Outcome::Done, bits(128)];
    match step {
        Step::Program => {
            outcomes.extend((1..write_unit).step_by(write_unit.div_ceil(8)).map(Outcome::First));
            outcomes.push(bits(25));
        }
        Step::Erase => outcomes.extend([
            Outcome::First(64),
            Outcome::First(2048),
            Outcome::Last(2048),
            Outcome::Last(4096 - 64),
            bits(250),
            bits(3),
        ]),
    }
    outcomes
}

/// Steps of `action` on a copy of `flash`.
fn steps_of<const W: usize>(flash: &SimFlash<W>, action: impl FnOnce()) -> Vec<Step> {
    flash.record();
    action();
    flash.recorded()
}

#[derive(Default)]
struct Count {
    single: Cell<usize>,
    double: Cell<usize>,
    faults: Cell<usize>,
    erases_cut: Cell<usize>,
}

fn raise(cell: &Cell<usize>) {
    cell.set(cell.get() + 1);
}

/// Cuts the power at every step of a workload; with `twice`, again at every step of the recovery.
fn campaign<const W: usize>(workload: &Workload, twice: bool, count: &Count) {
    let mut maker = Maker { at_s: 0 };
    let mut run = Run::<W>::begin(workload, &mut maker);
    if workload.until.is_none() {
        first_mount::<W>(workload.sectors, count);
    }
    for (index, op) in (workload.ops)(&mut maker).into_iter().enumerate() {
        let steps = {
            let copy = run.clone();
            let flash = handle(&copy);
            steps_of(&flash, || drop(copy.perform(op).map_err(|_| "no power was cut").unwrap()))
        };
        for (after, step) in steps.iter().enumerate() {
            for outcome in outcomes(*step, W, (index * 1000 + after) as u64) {
                let place =
                    format!("{}, unit {W}, op {index}, step {after}: {outcome:?}", workload.name);
                let cut = Cut { after: after as u64, outcome, failure: Failure::Power };
                let copy = run.clone();
                handle(&copy).cut(cut);
                let Err((flash, written)) = copy.perform(op) else { panic!("{place}: no cut") };
                if twice {
                    recover_twice(&flash, &written, count, &place);
                }
                guarded(&place, || recover(&flash, written, 1, 10_000_000));
                raise(&count.single);
                if *step == Step::Erase {
                    raise(&count.erases_cut);
                }
                let Op::Append(entry) = op else { continue };
                for failure in [Failure::Reported, Failure::Silent] {
                    if failure == Failure::Silent && outcome == Outcome::Done {
                        continue;
                    }
                    let place = format!("{place}, {failure:?}");
                    guarded(&place, || fault(run.clone(), entry, Cut { failure, ..cut }));
                    raise(&count.faults);
                }
            }
        }
        run = run.perform(op).map_err(|_| "no power was cut").unwrap();
    }
    verify(&mut run.ring, &run.written, 0);
    assert_eq!(handle(&run).counters().violations, 0);
}

/// The flash of a run, the same one and not a copy.
fn handle<const W: usize>(run: &Run<W>) -> SimFlash<W> {
    run.ring.flash().handle()
}

/// The very first mount, with the power failing at each of its steps.
fn first_mount<const W: usize>(sectors: usize, count: &Count) {
    let new = SimFlash::<W>::new(sectors);
    let dry = new.clone();
    let steps = steps_of(&dry, || drop(mount(&dry, 0).unwrap()));
    for (after, step) in steps.iter().enumerate() {
        for outcome in outcomes(*step, W, after as u64) {
            let place = format!("first mount, unit {W}, step {after}: {outcome:?}");
            let flash = new.clone();
            flash.cut(Cut { after: after as u64, outcome, failure: Failure::Power });
            assert!(mount(&flash, 0).is_err(), "{place}");
            let written = vec![Written::BootInFlight { at_s: 0 }];
            guarded(&place, || recover(&flash, written, 1, 10));
            raise(&count.single);
        }
    }
}

/// Cuts the power again at every step of the mount after the first cut.
fn recover_twice<const W: usize>(
    flash: &SimFlash<W>,
    written: &[Written],
    count: &Count,
    place: &str,
) {
    flash.power_on();
    let dry = flash.clone();
    let steps = steps_of(&dry, || drop(mount(&dry, 9_000_000).unwrap()));
    for (after, step) in steps.iter().enumerate() {
        for outcome in outcomes(*step, W, after as u64 ^ 0x5555) {
            let place = format!("{place}; then step {after}: {outcome:?}");
            let again = flash.clone();
            again.cut(Cut { after: after as u64, outcome, failure: Failure::Power });
            assert!(mount(&again, 9_000_000).is_err(), "{place}: no cut");
            let mut written = written.to_vec();
            written.push(Written::BootInFlight { at_s: 9_000_000 });
            guarded(&place, || recover(&again, written, 2, 10_000_000));
            raise(&count.double);
        }
    }
}

/// The flash fails once while the power stays: the ring goes on without a restart.
fn fault<const W: usize>(mut run: Run<W>, entry: Entry, cut: Cut) {
    handle(&run).cut(cut);
    let noticed = run.append(entry).is_err();
    if noticed {
        run.written.push(Written::InFlight(entry));
    } else {
        // Bits that were not to change cannot go wrong, so that a silent failure may be none.
        assert_eq!(cut.failure, Failure::Silent, "the failure went unnoticed");
    }
    let next = Entry::Mark { at_s: 20_000_000, kind: MarkKind::Sanded };
    run.append(next).unwrap();
    let there = read_all(&mut run.ring, 1).iter().any(|(_, _, found)| *found == entry);
    assert!(noticed || there, "the failure went unnoticed");
    assert_eq!(run.ring.lost(), u32::from(!there), "lost entries are not counted right");
    let flash = handle(&run);
    recover(&flash, run.written, 1, 30_000_000);
}

/// Says where it was when an assertion fails.
fn guarded(place: &str, check: impl FnOnce()) {
    if let Err(failure) = std::panic::catch_unwind(std::panic::AssertUnwindSafe(check)) {
        eprintln!("at {place}");
        std::panic::resume_unwind(failure);
    }
}

fn all_workloads<const W: usize>(floor: usize) {
    let count = Count::default();
    for workload in &WORKLOADS {
        campaign::<W>(workload, false, &count);
    }
    println!(
        "unit {W}: {} cuts, {} of them in an erase; {} faults without a cut",
        count.single.get(),
        count.erases_cut.get(),
        count.faults.get()
    );
    assert!(count.single.get() >= floor, "only {} cuts", count.single.get());
    assert!(count.erases_cut.get() >= 20, "only {} erases cut", count.erases_cut.get());
}

#[test]
fn every_step_with_a_write_unit_of_1() {
    all_workloads::<1>(3000);
}

#[test]
fn every_step_with_a_write_unit_of_4() {
    all_workloads::<4>(1500);
}

#[test]
fn every_step_with_a_write_unit_of_8() {
    all_workloads::<8>(1500);
}

#[test]
fn every_step_with_a_write_unit_of_32() {
    all_workloads::<32>(1000);
}

#[test]
fn a_second_cut_during_recovery() {
    let count = Count::default();
    let small = Workload {
        name: "twice",
        sectors: 2,
        until: Some((1, 4060)),
        ops: |maker| {
            vec![
                Op::Append(maker.sample(1)),
                Op::Append(maker.other()),
                Op::Append(maker.other()),
                maker.restart(),
            ]
        },
    };
    campaign::<8>(&small, true, &count);
    println!("unit 8: {} pairs of cuts", count.double.get());
    assert!(count.double.get() >= 3000, "only {} pairs", count.double.get());
}
