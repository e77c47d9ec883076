//! How many bytes of flash a sample takes, all in, and what the check of an entry misses.
//!
//! Run with `cargo bench -p glueday-ring-trials`. Fails above the budget.
//!
//! Air temperature and humidity are real: an open data set of a renovated house, 10-minute samples
//! (`tests/fixtures/intake`, see `SOURCE.md` there for its origin and licence). Slab and supply are made up
//! around them, with the noise of a fine slab probe (0.01 °C) and of a strapped-on pipe probe (0.15 °C).

// A benchmark may panic: that is how it fails. Its numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

use glueday_firmware::ring::{Boot, RingLog};
use glueday_ring_trials::flash::{Random, SimFlash};
use glueday_types::cursor::{PACKED_LEN_MAX, RESUME_LEN};
use glueday_types::{
    BootReason, CentiCelsius, CentiPercent, Cursor, Entry, Found, Header, LoggerId, Sample,
};
use std::process::ExitCode;

const ID: LoggerId = LoggerId(*b"budget01");
const INTERVAL_S: u32 = 600;
/// Bytes a sample at most, on average, with a weather-compensated supply.
const BUDGET: f64 = 8.0;
/// Trials of each kind for what the check misses.
const TRIALS: u32 = 4_000_000;

fn main() -> ExitCode {
    let air = indoor_air();
    let compensated = bytes_per_sample("weather-compensated supply", &air, compensated_supply);
    bytes_per_sample("supply cycling on and off", &air, cycling_supply);
    misses();
    if compensated > BUDGET {
        println!("over the budget of {BUDGET:.1} bytes a sample");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

/// Air temperature in °C and humidity in % of the data set, one row every 10 minutes.
fn indoor_air() -> Vec<(f64, f64)> {
    let path =
        concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/intake/renovation-house-indoor-air.csv");
    let text = std::fs::read_to_string(path).expect("the data set");
    let rows: Vec<(f64, f64)> = text
        .lines()
        .skip(1)
        .map(|line| {
            let mut fields = line.split(',').skip(1).map(|field| field.trim().parse().unwrap());
            (fields.next().unwrap(), fields.next().unwrap())
        })
        .collect();
    assert!(rows.len() > 20_000, "only {} rows", rows.len());
    rows
}

/// Follows the weather: a day's swing, a week's, and the noise of the probe.
fn compensated_supply(i: u32, random: &mut Random) -> f64 {
    let days = f64::from(i) / 144.0;
    let tau = std::f64::consts::TAU;
    30.0 - 2.5 * (tau * days).sin() - 3.0 * (tau * days / 6.3).sin() + 0.15 * random.gaussian()
}

/// 50 minutes on, 70 minutes off, with the pipe heating up quickly and cooling slowly.
fn cycling_supply(i: u32, random: &mut Random) -> f64 {
    let phase = i % 12;
    let celsius = if phase < 5 {
        38.0 - 14.0 * (-f64::from(phase) - 0.7).exp()
    } else {
        24.0 + 14.0 * (-f64::from(phase - 5) / 2.5).exp()
    };
    celsius + 0.15 * random.gaussian()
}

/// Writes the whole data set through the ring and counts what it takes.
fn bytes_per_sample(name: &str, air: &[(f64, f64)], supply: fn(u32, &mut Random) -> f64) -> f64 {
    const SLOTS: usize = 64;
    let boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };
    let flash = SimFlash::<1>::new(SLOTS);
    let mut ring = RingLog::mount(flash, ID, INTERVAL_S as u16, boot).unwrap();
    let mut random = Random(1);
    let mut slab_c = air[0].0 + 2.0;
    for (i, (air_c, rh_pct)) in (0..).zip(air) {
        // The slab follows the air within half a day.
        slab_c += (air_c + 2.0 - slab_c) / 72.0;
        let temperature = |celsius| Ok(CentiCelsius::from_celsius(celsius).unwrap());
        let sample = Sample {
            at_s: i * INTERVAL_S,
            slab: temperature(slab_c + 0.01 * random.gaussian()),
            air: temperature(*air_c),
            air_rh: Ok(CentiPercent::from_percent(*rh_pct).unwrap()),
            supply: temperature(supply(i, &mut random)),
        };
        ring.append(&Entry::Sample(sample)).unwrap();
    }
    let bytes = f64::from(ring.open_block()) * 4096.0 + f64::from(ring.open_len());
    let each = bytes / air.len() as f64;
    let weeks = 1_048_576.0 / each / (7.0 * 144.0);
    println!(
        "{name}: {each:.2} bytes a sample over {} samples; 1 MiB holds {weeks:.0} weeks",
        air.len()
    );
    each
}

/// Counts bytes that are accepted as an entry and should not be.
fn misses() {
    let header = |block| Header {
        write_unit: 1,
        interval_s: 600,
        logger: ID,
        block,
        boot: 3,
        first_entry: 1000,
        previous: [0x5A; 32],
    };
    let mut random = Random(2);
    let sample = |random: &mut Random, at_s| Sample {
        at_s,
        slab: Ok(CentiCelsius(2200 + i16::from(random.byte()) / 8)),
        air: Ok(CentiCelsius(2000 + i16::from(random.byte()))),
        air_rh: Ok(CentiPercent(4500 + u16::from(random.byte()))),
        supply: Ok(CentiCelsius(2800 + i16::from(random.byte()))),
    };
    let mut count = [0u32; 4];
    for _ in 0..TRIALS {
        // A cursor behind a sample, somewhere in a block, where a step comes next.
        let mut cursor = Cursor::start(&header(7));
        for at_s in 0..1 + random.bits() % 3 {
            let entry = Entry::Sample(sample(&mut random, at_s as u32 * 600));
            let packed = cursor.pack(&entry).unwrap();
            cursor.advance(&entry, &packed);
        }
        let next =
            Sample { at_s: cursor.last_sample().unwrap().at_s + 600, ..sample(&mut random, 0) };
        let packed = cursor.pack(&Entry::Sample(next)).unwrap();
        let mut window = [0xFF; PACKED_LEN_MAX];
        window[..packed.len()].copy_from_slice(&packed);
        let accepts = |mut cursor: Cursor, window: &[u8]| {
            matches!(cursor.read(window), Found::Entry(_) | Found::Unknown)
        };

        let noise: [u8; PACKED_LEN_MAX] = std::array::from_fn(|_| random.byte());
        count[0] += u32::from(accepts(cursor, &noise));

        // Some bits have risen already; which, and how many, is up to chance.
        let share = random.byte();
        let mut risen = window;
        for byte in &mut risen {
            *byte |= (0..8).filter(|_| random.byte() < share).fold(0, |mask, bit| mask | 1 << bit);
        }
        count[1] += u32::from(risen != window && accepts(cursor, &risen));

        let mut elsewhere = Cursor::start(&header(7));
        elsewhere.resume((100 + random.bits() % 3000) as u16);
        let first = Entry::Sample(sample(&mut random, 0));
        let there = elsewhere.pack(&first).unwrap();
        elsewhere.advance(&first, &there);
        count[2] += u32::from(elsewhere.offset() != cursor.offset() && accepts(elsewhere, &window));

        // The same place in a block that was never seen before.
        let previous = std::array::from_fn(|_| random.byte());
        let mut other = Cursor::start(&Header { previous, ..header(8) });
        let len = other.pack(&first).unwrap().len();
        other.resume(cursor.offset() - RESUME_LEN as u16 - len as u16);
        let there = other.pack(&first).unwrap();
        other.advance(&first, &there);
        assert_eq!(other.offset(), cursor.offset());
        count[3] += u32::from(accepts(other, &window));
    }
    let names = [
        "random noise in place of an entry",
        "an entry with bits risen by a half-finished erase",
        "an entry at another offset of its block",
        "an entry at its offset in another block",
    ];
    for (name, count) in names.iter().zip(count) {
        println!("{name}: {count} of {TRIALS} accepted");
    }
}
