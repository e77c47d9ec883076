//! Eight weeks of logging on the emulated board: every sample at its time, by a clock that the
//! logger's own is not made of.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::print_stdout,
    reason = "tests fail by panicking, and clippy takes only `#[test]` functions for tests"
)]
#![cfg(unix)]

use glueday::archive::Archive;
use glueday_bench_tunnel::Clock;
use glueday_bench_tunnel::switchboard::{INTERVAL_S, LED_COVERED, TICKS_PER_S};
use glueday_tests::emulator::{AirProbe, LineKind, Machine, Memory, Pace, blocks, entries, within};
use glueday_tests::programs::glueday;
use glueday_types::wire::Request;
use glueday_types::{Entry, LoggerId};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

const LOGGER: LoggerId = LoggerId(*b"bench8wk");
const SLOTS: u32 = 2;
const INTERVAL: u32 = 1500;
const WEEKS_S: u32 = 8 * 7 * 86_400;
/// What the clock is set to at the end: 2026-09-21 as seconds since 1970-01-01 UTC.
const SYNCED_UTC_S: i64 = 1_789_948_800;

/// Ticks of 40 ns since the machine was switched on: the fine counter, which comes round every
/// 171.8 s, at the place that the coarse one says.
fn ticks(clock: Clock) -> u64 {
    let coarse = u64::from(clock.seconds) * u64::from(TICKS_PER_S);
    // The fine counter is ahead of the coarse one by less than a second, and a little for reading
    // one after the other.
    coarse + u64::from(clock.ticks.wrapping_sub(coarse as u32))
}

#[test]
fn eight_weeks_are_sampled_on_time_without_drift() {
    let folder = tempfile::tempdir().unwrap();
    let memory = Memory::create(folder.path(), SLOTS, LOGGER);
    memory.set(INTERVAL_S, INTERVAL);
    memory.set(LED_COVERED, 1);
    let air = AirProbe::new(20.5, 44.0);
    let mut machine = Machine::start(&memory, &air, Pace::Instructions { shift: 7 }, LineKind::Tcp);
    let mut line = machine.line();
    let began = Instant::now();
    machine.go();

    // The ring overwrites itself: it is read before that.
    let mut all = BTreeMap::new();
    let mut seen_blocks = 0;
    within(Duration::from_secs(300), "eight weeks", || {
        std::thread::sleep(Duration::from_millis(250));
        machine.pause();
        let flash = memory.flash();
        seen_blocks = blocks(&flash).last().map_or(0, |(header, _)| header.block);
        all.extend(entries(&flash));
        machine.go();
        matches!(all.last_key_value(), Some((_, Entry::Sample(last))) if last.at_s > WEEKS_S)
    });
    let took = began.elapsed();
    let (_, synced_at_s) = line.done(Request::SetClock { utc_s: SYNCED_UTC_S });
    machine.pause();
    all.extend(entries(&memory.flash()));
    drop((line, machine));

    assert!(seen_blocks >= 2 * SLOTS, "the ring came round too seldom: block {seen_blocks}");
    // Every entry was seen.
    let numbers: Vec<u32> = all.keys().copied().collect();
    assert_eq!(numbers, (0..numbers.len() as u32).collect::<Vec<_>>());
    let samples: Vec<u32> = all
        .values()
        .filter_map(|entry| match entry {
            Entry::Sample(sample) => Some(sample.at_s),
            _ => None,
        })
        .collect();
    let expected: Vec<u32> = (0..samples.len() as u32).map(|i| i * INTERVAL).collect();
    assert_eq!(samples, expected, "a sample is missing or not at its time");

    // The measurement that the probe saw begins soon after the time in the log: waking and reading the
    // slab come before it, and at the first sample the start of the machine. At 8 MIPS that is 2 ms,
    // and 12 ms at the start; a line that is asked something just then adds some.
    let measured_at = air.take_measured_at();
    assert!(measured_at.len() - samples.len() <= 1);
    let late_us: Vec<i64> = samples
        .iter()
        .zip(&measured_at)
        .map(|(at_s, clock)| (ticks(*clock) / 25) as i64 - i64::from(*at_s) * 1_000_000)
        .collect();
    let (least, most) = (late_us.iter().min().unwrap(), late_us.iter().max().unwrap());
    println!(
        "{} samples, {least} to {most} us after their time, first {} and last {} us; \
         {:.1} s for {} days: {:.0} times real time; newest block {seen_blocks}",
        samples.len(),
        late_us[1],
        late_us.last().unwrap(),
        took.as_secs_f64(),
        WEEKS_S / 86_400,
        f64::from(*samples.last().unwrap()) / took.as_secs_f64(),
    );
    assert!((0..20_000).contains(least) && (0..20_000).contains(most));
    // No drift: a clock that lost a microsecond with each of its 302,400 periods would be 0.3 s late.
    assert!((late_us[1] - late_us.last().unwrap()).abs() < 1_000);

    // The same board at a human pace: the program pulls what is left, and dates it.
    let mut machine = Machine::start(&memory, &air, Pace::Real, LineKind::Tcp);
    machine.go();
    let archive = folder.path().join("archive.sqlite");
    let adopted = glueday(&archive, &["adopt", "--port", machine.port(), "--name", "bench"]);
    assert_eq!(adopted.code, Some(0), "{adopted:?}");
    let pulled = glueday(&archive, &["pull", "--port", machine.port()]);
    assert_eq!(pulled.code, Some(0), "{pulled:?}");
    let held = Archive::open_read_only(&archive).unwrap().blocks(LOGGER).unwrap();
    let history = glueday::history::build(held.iter().map(|block| block.bytes.as_slice()));
    // Samples of the boot that was synced, as far as the ring still has them.
    let from_s = samples[samples.len() - 300..].iter();
    for at_s in from_s {
        let utc_s = SYNCED_UTC_S + i64::from(*at_s) - i64::from(synced_at_s);
        assert!(history.time_s.contains(&utc_s), "the sample at {at_s} s is not dated {utc_s}");
    }
}
