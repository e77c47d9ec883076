//! The emulated board is killed at random moments, in the middle of whatever it does: what it
//! acknowledged is in its flash, and nothing else is.
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

use glueday::archive::Archive;
use glueday_bench_tunnel::switchboard::{FLASH_BUSY, FLASH_SPINS, INTERVAL_S, LED_COVERED};
use glueday_tests::emulator::{AirProbe, Line, LineKind, Machine, Memory, Pace, blocks, entries};
use glueday_tests::flash::Random;
use glueday_tests::programs::glueday;
use glueday_types::wire::{Reply, Request};
use glueday_types::{Entry, LoggerId, MarkKind};
use std::time::{Duration, Instant};

const LOGGER: LoggerId = LoggerId(*b"benchKil");
const SLOTS: u32 = 2;
/// Kills in the middle of a write or an erase; the rounds go on until there were as many, and until
/// the ring has come round often enough.
const KILLS: u32 = 50;
const KILLS_MAX: u32 = 500;

fn boot(line: &mut Line) -> u32 {
    line.ask(Request::Status, |reply| match reply {
        Reply::Status(status) => status.boot,
        other => panic!("{other:?}"),
    })
}

/// Marks as fast as it can for `time` and returns when each acknowledged one says that it was made.
fn mark_for(line: &mut Line, boot: u32, time: Duration) -> Vec<u32> {
    let (began, mut acknowledged) = (Instant::now(), Vec::new());
    while began.elapsed() < time {
        let (in_boot, at_s) = line.done(Request::Mark { kind: MarkKind::Button });
        assert_eq!(in_boot, boot);
        acknowledged.push(at_s);
    }
    // One more is under way when it is killed.
    line.send(Request::Mark { kind: MarkKind::Sanded });
    acknowledged
}

#[test]
fn kill_9_loses_nothing_that_was_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), SLOTS, LOGGER);
    // Time does not pass while it sleeps, so that it samples all the time.
    memory.set(INTERVAL_S, 1);
    memory.set(LED_COVERED, 1);
    // Slow, as flash is: most kills should fall into a write.
    memory.set(FLASH_SPINS, 20_000);
    let air = AirProbe::new(20.5, 44.0);
    let mut random = Random(20);
    let (mut boots, mut marks, mut torn, mut in_write, mut asked_again) = (0, 0, 0, 0, 0);
    let mut newest = 0;
    let mut round = 0;
    while in_write < KILLS || newest < 3 * SLOTS {
        round += 1;
        assert!(round <= KILLS_MAX, "block {newest}, {in_write} of {round} kills in a write");
        let pace = Pace::Instructions { shift: 5 };
        let mut machine = Machine::start(&memory, &air, pace, LineKind::Tcp);
        let mut line = machine.line();
        machine.go();
        let time = Duration::from_micros(u64::from(random.byte()) * 900);
        let acknowledged = if round % 7 == 0 {
            // In the middle of starting, perhaps.
            std::thread::sleep(time / 8);
            None
        } else {
            asked_again += line.ask_until_it_answers(Request::Hello) - 1;
            assert_eq!(boot(&mut line), boots + 1, "round {round}: not each boot is counted");
            boots += 1;
            Some(mark_for(&mut line, boots, time))
        };
        if round % 3 == 0 {
            // Whatever it is at: the request may still be on the line.
            std::thread::sleep(Duration::from_micros(u64::from(random.byte()) * 12));
        } else {
            // However slow this computer is just now, the flash is at the mark then, or soon will be.
            let (sent, patience) = (Instant::now(), Duration::from_millis(50));
            while memory.get(FLASH_BUSY) == 0 && sent.elapsed() < patience {
                std::thread::yield_now();
            }
            std::thread::sleep(Duration::from_micros(random.byte().into()));
        }
        machine.kill();
        in_write += u32::from(memory.get(FLASH_BUSY) != 0);
        memory.set(FLASH_BUSY, 0);

        let flash = memory.flash();
        let there = entries(&flash);
        newest = blocks(&flash).last().map_or(0, |(header, _)| header.block);
        for pair in there.windows(2) {
            assert!(pair[0].0 < pair[1].0, "round {round}: numbers do not rise");
            torn += u32::from(pair[0].0 + 1 != pair[1].0);
        }
        let boot_at = there.iter().rposition(|(_, entry)| matches!(entry, Entry::Boot { .. }));
        let found: Vec<u32> = there[boot_at.unwrap_or(0)..]
            .iter()
            .filter_map(|(_, entry)| match entry {
                Entry::Mark { at_s, kind: MarkKind::Button } => Some(*at_s),
                _ => None,
            })
            .collect();
        let last_boot = boot_at.map(|at| match there[at].1 {
            Entry::Boot { boot, .. } => boot,
            _ => 0,
        });
        let Some(wanted) = acknowledged else {
            // A boot counts when its entry is written.
            boots = last_boot.unwrap_or(boots);
            continue;
        };
        marks += wanted.len();
        // None but the acknowledged ones, and of these the newest without a gap.
        assert!(wanted.ends_with(&found), "round {round}: {found:?} is not the end of {wanted:?}");
        if let Some(last_boot) = last_boot {
            assert_eq!(last_boot, boots, "round {round}");
            assert_eq!(found.len(), wanted.len(), "round {round}: acknowledged marks are gone");
        }
    }
    println!(
        "{round} kills, {in_write} in a write or an erase, {marks} marks acknowledged, {boots} boots, \
         newest block {newest}, {asked_again} first questions asked again"
    );
    assert_eq!(torn, 0, "numbers of entries are missing");
    assert!(marks > 500, "only {marks} marks: the test does not test much");

    let mut machine = Machine::start(&memory, &air, Pace::Real, LineKind::Tcp);
    machine.go();
    let archive = folder.path().join("archive.sqlite");
    let adopted = glueday(&archive, &["adopt", "--port", machine.port(), "--name", "bench"]);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    let pulled = glueday(&archive, &["pull", "--port", machine.port()]);
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    machine.pause();
    let flash = memory.flash();
    let on_flash = blocks(&flash);
    let in_archive = Archive::open_read_only(&archive).unwrap().blocks(LOGGER).unwrap();
    assert_eq!(in_archive.len(), on_flash.len());
    for (held, (header, bytes)) in in_archive.iter().zip(&on_flash) {
        assert_eq!(held.number, header.block);
        assert!(bytes.starts_with(&held.bytes), "block {} differs", held.number);
        assert!(
            held.bytes.len() == bytes.len() || header.block == on_flash.last().unwrap().0.block
        );
    }
}
