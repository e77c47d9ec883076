//! The emulated board panics, and hangs: it starts again, says why, and has lost nothing.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday_bench_tunnel::switchboard::{INTERVAL_S, LED_COVERED, MISHAP};
use glueday_tests::emulator::{
    AirProbe, LineKind, Machine, Memory, PATIENCE, Pace, entries, within,
};
use glueday_types::wire::Request;
use glueday_types::{BootReason, Entry, LoggerId, MarkKind};

const LOGGER: LoggerId = LoggerId(*b"benchRst");
const INTERVAL: u32 = 60;

/// The entries so far, read while the machine stands still.
fn log(machine: &mut Machine, memory: &Memory) -> Vec<Entry> {
    machine.pause();
    let found = entries(&memory.flash()).into_iter().map(|(_, entry)| entry).collect();
    machine.go();
    found
}

#[test]
fn a_panic_and_a_hang_end_in_a_new_boot_that_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), 64, LOGGER);
    memory.set(INTERVAL_S, INTERVAL);
    memory.set(LED_COVERED, 1);
    let air = AirProbe::new(20.5, 44.0);
    // A microsecond an instruction: the watchdog waits for minutes.
    let mut machine =
        Machine::start(&memory, &air, Pace::Instructions { shift: 10 }, LineKind::Tcp);
    let mut line = machine.line();
    machine.go();
    let mut reasons = vec![BootReason::PowerOn];
    for (mishap, reason) in [(1, BootReason::Restart), (2, BootReason::Watchdog)] {
        let (boot, marked_s) = line.done(Request::Mark { kind: MarkKind::Button });
        assert_eq!(boot as usize, reasons.len());
        memory.set(MISHAP, mishap);
        reasons.push(reason);
        let mut found = Vec::new();
        within(PATIENCE, "a new boot with samples", || {
            found = log(&mut machine, &memory);
            let boot_at = found.iter().rposition(|entry| matches!(entry, Entry::Boot { .. }));
            let of_boot = &found[boot_at.unwrap_or(0)..];
            let samples = of_boot.iter().filter(|entry| matches!(entry, Entry::Sample(_))).count();
            let boots = found.iter().filter(|entry| matches!(entry, Entry::Boot { .. })).count();
            boots == reasons.len() && samples >= 3
        });
        let told: Vec<BootReason> = found
            .iter()
            .filter_map(|entry| match entry {
                Entry::Boot { reason, .. } => Some(*reason),
                _ => None,
            })
            .collect();
        assert_eq!(told, reasons);
        let mark = Entry::Mark { at_s: marked_s, kind: MarkKind::Button };
        assert!(found.contains(&mark), "what was acknowledged before it is gone");
        // Each boot samples from its start on, at the times of its interval.
        let mut next_s = 0;
        for entry in &found {
            match entry {
                Entry::Boot { .. } => next_s = 0,
                Entry::Sample(sample) => {
                    assert_eq!(sample.at_s, next_s);
                    next_s += INTERVAL;
                }
                _ => {}
            }
        }
    }
    println!("boots: {reasons:?}");
}
