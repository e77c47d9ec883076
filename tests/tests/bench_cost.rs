//! What running costs on the emulated board: instructions and stack. Figures that tell when something
//! has become dearer, not joules: the emulator knows nothing of wait states and currents.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::print_stdout,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday_bench_tunnel::switchboard::{
    IDLE_TICKS, IDLE_TURNS, INTERVAL_S, LED_COVERED, SAMPLE_TICKS, SAMPLE_TURNS, STACK_FLOOR,
    STACK_PAINT, STACK_TOP,
};
use glueday_tests::emulator::{AirProbe, LineKind, Machine, Memory, PATIENCE, Pace, within};
use glueday_types::wire::{Reply, Request};
use glueday_types::{LoggerId, MarkKind};

const LOGGER: LoggerId = LoggerId(*b"benchCst");
/// Not a multiple of the 5 s of the LED: a sample would now and then take as long as the flash that it
/// falls on, and the board would not wake to put it out.
const INTERVAL: u32 = 59;
/// RAM of the board, for static data and stack.
const RAM_LEN: u32 = 16 * 1024;
const RAM_AT: u32 = 0x2000_0000;

/// How far a count may be from the one in the energy budget of the battery board. Beyond that find out
/// what has changed, and put the new count there.
const DRIFT: f64 = 0.1;
/// What goes deepest is signing, with 6.7 KiB.
const STACK_MAX: u32 = 7 * 1024;

#[derive(Clone, Copy, Debug)]
struct Cost {
    per_sample: f64,
    per_idle_s: f64,
    turns_per_idle_s: f64,
}

fn cost(shift: u32) -> Cost {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 64, LOGGER);
    memory.set(INTERVAL_S, INTERVAL);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift }, LineKind::Tcp);
    machine.set_milli_c("slab", 21_437);
    machine.set_milli_c("supply", 31_062);
    let mut line = machine.line();
    machine.go();
    // The LED of a logger that is well: one flash every 5 s.
    line.done(Request::SetClock { utc_s: 1_789_948_800 });
    let mut read = |at_least| {
        within(PATIENCE, "samples", || memory.get(SAMPLE_TURNS) >= at_least);
        machine.pause();
        let counts = (
            memory.get(SAMPLE_TURNS),
            memory.get(IDLE_TURNS),
            memory.get_wide(SAMPLE_TICKS),
            memory.get_wide(IDLE_TICKS),
        );
        machine.go();
        counts
    };
    let before = read(2);
    let after = read(before.0 + 300);
    let samples = f64::from(after.0 - before.0);
    let idle_s = samples * f64::from(INTERVAL);
    // A tick is 40 ns, an instruction 2^shift ns.
    let instructions = |ticks: u64| ticks as f64 * 40.0 / f64::from(1 << shift);
    Cost {
        per_sample: instructions(after.2 - before.2) / samples,
        per_idle_s: instructions(after.3 - before.3) / idle_s,
        turns_per_idle_s: f64::from(after.1 - before.1) / idle_s,
    }
}

/// A count of the energy budget.
fn budgeted(count: &str) -> f64 {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../firmware/boards/battery/README.md");
    let text = std::fs::read_to_string(path).unwrap();
    let row = text.lines().find_map(|line| line.strip_prefix(&format!("| {count} | ")));
    row.unwrap().split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn instructions_do_not_depend_on_the_speed_and_are_those_of_the_energy_budget() {
    let costs = [6, 8].map(|shift| (shift, cost(shift)));
    println!("shift  instructions/sample  instructions/idle second  wakes/idle second");
    for (shift, cost) in costs {
        println!(
            "{shift:5}  {:19.0}  {:24.1}  {:17.2}",
            cost.per_sample, cost.per_idle_s, cost.turns_per_idle_s
        );
        for (measured, count) in [
            (cost.per_sample, "INSTRUCTIONS_PER_SAMPLE"),
            (cost.per_idle_s, "INSTRUCTIONS_PER_IDLE_SECOND"),
        ] {
            let budgeted = budgeted(count);
            assert!((measured / budgeted - 1.0).abs() < DRIFT, "{count}: {measured}, {budgeted}");
        }
    }
    let [(_, a), (_, b)] = costs;
    assert!((a.per_sample / b.per_sample - 1.0).abs() < 0.02, "{costs:?}");
    assert!((a.per_idle_s / b.per_idle_s - 1.0).abs() < 0.02, "{costs:?}");
}

/// Instructions of one signature, with the digest of a short open block, beyond those of another
/// question that is answered. Turns in which nothing is asked cost the same throughout: time goes so
/// fast that there are thousands of them.
fn signing(shift: u32) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 64, LOGGER);
    memory.set(INTERVAL_S, u16::MAX.into());
    memory.set(LED_COVERED, 1);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift }, LineKind::Tcp);
    let mut line = machine.line();
    machine.go();
    line.ask(Request::Status, |_| ());
    let mut ticks = |questions: &[Request]| {
        let mut read = || {
            machine.pause();
            let counts = (memory.get(IDLE_TURNS), memory.get_wide(IDLE_TICKS));
            machine.go();
            counts
        };
        let before = read();
        for question in questions {
            let signed = line.ask(*question, |reply| matches!(reply, Reply::Attested(_)));
            assert_eq!(signed, matches!(question, Request::Attest { .. }));
        }
        let mut after = read();
        if questions.is_empty() {
            within(PATIENCE, "turns", || {
                after = read();
                after.0 - before.0 > 10_000
            });
        }
        ((after.1 - before.1) as f64, f64::from(after.0 - before.0))
    };
    let (idle, turns) = ticks(&[]);
    let mut each = |question: &dyn Fn(u8) -> Request| {
        let questions: Vec<Request> = (0..16).map(question).collect();
        let (all, of_turns) = ticks(&questions);
        (all - of_turns * idle / turns) / 16.0
    };
    // One that is refused is answered too.
    let plain = each(&|_| Request::SetInterval { interval_s: 0 });
    let signing = each(&|nonce| Request::Attest { nonce: [nonce; 16] });
    (signing - plain) * 40.0 / f64::from(1 << shift)
}

#[test]
fn a_signature_costs_what_the_energy_budget_says() {
    let budgeted = budgeted("INSTRUCTIONS_PER_SIGNATURE");
    println!("shift  instructions/signature");
    for shift in [6, 8] {
        let cost = signing(shift);
        println!("{shift:5}  {cost:22.0}");
        assert!((cost / budgeted - 1.0).abs() < DRIFT, "{cost}, {budgeted}");
    }
}

#[test]
fn stack_and_static_data_fit_with_room_to_spare() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 2, LOGGER);
    memory.set(INTERVAL_S, 1);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift: 5 }, LineKind::Tcp);
    let mut line = machine.line();
    machine.go();
    // All that goes deep: marks, the ring coming round with its digests, runs of blocks.
    let newest = |line: &mut glueday_tests::emulator::Line| {
        line.ask(Request::Status, |reply| match reply {
            Reply::Status(status) => status.open_block,
            other => panic!("{other:?}"),
        })
    };
    within(PATIENCE, "the ring to come round", || {
        line.done(Request::Mark { kind: MarkKind::Button });
        newest(&mut line) >= 3
    });
    let open = newest(&mut line);
    let first = line.ask(Request::Blocks { first: open, offset: 0, count: 1 }, |reply| {
        matches!(reply, Reply::Chunk { .. } | Reply::Refused(_))
    });
    assert!(first);
    line.ask(Request::Latest, |_| ());
    let signed =
        line.ask(Request::Attest { nonce: [7; 16] }, |reply| matches!(reply, Reply::Attested(_)));
    assert!(signed, "signing goes deepest of all");
    machine.pause();

    let (floor, top) = (memory.get(STACK_FLOOR), memory.get(STACK_TOP));
    assert_eq!(top, RAM_AT + RAM_LEN);
    let dump = folder.path().join("ram");
    machine.qmp().command(
        "pmemsave",
        serde_json::json!({ "val": floor, "size": top - floor, "filename": dump.to_str() }),
    );
    let ram = std::fs::read(dump).unwrap();
    let untouched = ram.chunks(4).take_while(|word| **word == STACK_PAINT.to_le_bytes()).count();
    let static_len = floor - RAM_AT;
    let stack_len = top - floor - untouched as u32 * 4;
    println!("{static_len} B static, {stack_len} B of stack at most, of {RAM_LEN} B");
    assert!(untouched > 0 && stack_len > 0);
    assert!(stack_len <= STACK_MAX, "the stack went {stack_len} B deep");
    assert!(static_len + STACK_MAX <= RAM_LEN * 3 / 4, "less than a quarter is to spare");
}
