//! Mounting a log that has gone round its flash, as at each start of the logger: how long it takes on
//! this computer, and how much is read, which is what takes time on a board.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark that cannot start may stop, and prints what it found"
)]

#[path = "../../../../tests/src/memory_flash.rs"]
#[allow(unreachable_pub, reason = "shared with the tests")]
mod memory_flash;

use glueday_firmware::ring::{Boot, RingLog};
use glueday_types::{BootReason, CentiCelsius, CentiPercent, Entry, LoggerId, Sample};
use memory_flash::MemoryFlash;
use std::hint::black_box;
use std::time::{Duration, Instant};

const ID: LoggerId = LoggerId(*b"a-season");
const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };
/// What a board reads from flash on an SPI bus at 8 MHz, without what each read takes to begin.
const SPI_BYTES_S: f64 = 1_000_000.0;
const ROUNDS: usize = 500;

fn main() {
    for sectors in [16, 256, 4096] {
        let flash = full(sectors);
        let mut least = Duration::MAX;
        let mut read_bytes = 0;
        for _ in 0..ROUNDS {
            let mut flash = flash.clone();
            flash.read_bytes = 0;
            let start = Instant::now();
            let ring = RingLog::mount(&mut flash, ID, 600, BOOT).unwrap();
            least = least.min(start.elapsed());
            black_box(ring);
            read_bytes = flash.read_bytes;
        }
        println!(
            "mount of a full log of {} KiB: {:.1} us here, the least of {ROUNDS}; {read_bytes} bytes \
             read, {:.1} ms at 1 MB/s",
            sectors * 4,
            least.as_secs_f64() * 1e6,
            read_bytes as f64 / SPI_BYTES_S * 1e3,
        );
    }
}

/// A flash that the log went round, with half a block open.
fn full(sectors: usize) -> MemoryFlash {
    let mut flash = MemoryFlash::new(sectors);
    let mut ring = RingLog::mount(&mut flash, ID, 600, BOOT).unwrap();
    let enough = u32::try_from(sectors + sectors / 2).unwrap();
    let mut i = 0;
    while ring.open_block() < enough || ring.open_len() < 2048 {
        let wave = i16::try_from(i % 200).unwrap();
        let sample = Sample {
            at_s: i * 600,
            slab: Ok(CentiCelsius(2000 + wave)),
            air: Ok(CentiCelsius(1900 - 3 * wave)),
            air_rh: Ok(CentiPercent(5000 + wave.unsigned_abs() % 50)),
            supply: Ok(CentiCelsius(3000 + 2 * wave)),
        };
        ring.append(&Entry::Sample(sample)).unwrap();
        i += 1;
    }
    flash
}
