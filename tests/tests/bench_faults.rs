//! Faults of the probes, at their wires and in their registers: typed in the log, and over when they
//! are over.
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
    BUTTON, INTERVAL_S, LED_COVERED, SUPPLY_MV, WIRING_SLAB, WIRING_SUPPLY, Wiring,
};
use glueday_tests::emulator::{
    AirFault, AirProbe, DamagedAnswer, Line, LineKind, Machine, Memory, PATIENCE, Pace, entries,
    within,
};
use glueday_types::wire::{Reply, Request, Status};
use glueday_types::{Absent, Entry, LoggerId, MarkKind, Probe};

const LOGGER: LoggerId = LoggerId(*b"benchFlt");
const INTERVAL: u32 = 600;

fn status(line: &mut Line) -> Status {
    line.ask(Request::Status, |reply| match reply {
        Reply::Status(status) => *status,
        other => panic!("{other:?}"),
    })
}

fn state_of(status: &Status, probe: Probe) -> Result<(), Absent> {
    match probe {
        Probe::Slab => status.slab,
        Probe::Air => status.air,
        Probe::Supply => status.supply,
    }
}

#[test]
fn every_fault_of_every_probe_is_told_and_gets_over() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 512, LOGGER);
    memory.set(INTERVAL_S, INTERVAL);
    memory.set(LED_COVERED, 1);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift: 7 }, LineKind::Tcp);
    machine.set_milli_c("slab", 21_437);
    machine.set_milli_c("supply", 31_062);
    let mut line = machine.line();
    machine.go();

    let mut expected = Vec::new();
    let mut fault = |set: &dyn Fn(bool), probe, reason| {
        for state in [Err(reason), Ok(())] {
            set(state.is_err());
            // The line answers all the while.
            within(PATIENCE, "the fault to be told", || {
                state_of(&status(&mut line), probe) == state
            });
            // Some samples more in this state.
            let wanted = status(&mut line).entries + 5;
            within(PATIENCE, "samples", || status(&mut line).entries >= wanted);
            expected.push((probe, state));
        }
    };
    for (field, probe) in [(WIRING_SLAB, Probe::Slab), (WIRING_SUPPLY, Probe::Supply)] {
        for (wiring, reason) in [
            (Wiring::Cut, Absent::NoAnswer),
            (Wiring::DataLow, Absent::BusFault),
            (Wiring::ClockLow, Absent::BusFault),
        ] {
            let set = |on| memory.wire(field, if on { wiring } else { Wiring::Sound });
            fault(&set, probe, reason);
        }
    }
    for (kind, reason) in [
        (AirFault::NoAnswer, Absent::NoAnswer),
        (AirFault::BusFault, Absent::BusFault),
        (AirFault::Damaged(DamagedAnswer { bit: 3 }), Absent::BadChecksum),
        (AirFault::Damaged(DamagedAnswer { bit: 23 }), Absent::BadChecksum),
        (AirFault::Damaged(DamagedAnswer { bit: 30 }), Absent::BadChecksum),
    ] {
        let set = |on| air.set_fault(if on { kind } else { AirFault::None });
        fault(&set, Probe::Air, reason);
    }
    machine.pause();

    let mut changes = Vec::new();
    let mut now = [Ok(()); 3];
    let mut next_s = 0;
    let mut absent = 0;
    for (_, entry) in entries(&memory.flash()) {
        match entry {
            Entry::ProbeChanged { probe, state, .. } => {
                changes.push((probe, state));
                now[probe as usize] = state;
            }
            Entry::Sample(sample) => {
                assert_eq!(sample.at_s, next_s, "a sample is missing or late");
                next_s += INTERVAL;
                assert_eq!(sample.slab.map(|_| ()), now[Probe::Slab as usize]);
                assert_eq!(sample.air.map(|_| ()), now[Probe::Air as usize]);
                assert_eq!(sample.air_rh.map(|_| ()), now[Probe::Air as usize]);
                assert_eq!(sample.supply.map(|_| ()), now[Probe::Supply as usize]);
                // What is there is right: within 1/16 °C, cut off, and half a hundredth.
                let near = |value: f64, set: f64| (value - set).abs() <= 0.0675;
                assert!(
                    sample.slab.is_ok_and(|slab| near(slab.celsius(), 21.437)) || now[0].is_err()
                );
                assert!(sample.supply.is_ok_and(|c| near(c.celsius(), 31.062)) || now[2].is_err());
                absent += u32::from(now.iter().any(Result::is_err));
            }
            _ => {}
        }
    }
    assert_eq!(changes, expected);
    println!(
        "{} faults, {absent} samples with a reading missing of {}",
        expected.len() / 2,
        next_s / INTERVAL
    );
}

#[test]
fn low_power_and_the_button_stand_in_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 64, LOGGER);
    memory.set(INTERVAL_S, INTERVAL);
    memory.set(SUPPLY_MV, 3700);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift: 7 }, LineKind::Tcp);
    let mut line = machine.line();
    machine.go();
    within(PATIENCE, "the supply to be measured", || status(&mut line).supply_mv == Some(3700));
    memory.set(SUPPLY_MV, 3250);
    within(PATIENCE, "the supply to be measured", || status(&mut line).supply_mv == Some(3250));
    memory.set(BUTTON, 1);
    let mut found = Vec::new();
    within(PATIENCE, "the mark of the button", || {
        machine.pause();
        found = entries(&memory.flash());
        machine.go();
        found.iter().any(|(_, entry)| matches!(entry, Entry::Mark { .. }))
    });
    let falls =
        |(_, entry): &&(u32, Entry)| matches!(entry, Entry::PowerLow { supply_mv: 3250, .. });
    assert_eq!(found.iter().filter(falls).count(), 1);
    let marks =
        |(_, entry): &&(u32, Entry)| matches!(entry, Entry::Mark { kind: MarkKind::Button, .. });
    assert_eq!(found.iter().filter(marks).count(), 1);
}
