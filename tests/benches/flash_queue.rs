//! Our ring log against a flash queue, `sequential-storage`, on the same simulated flash and data.
//!
//! Run with `cargo bench -p glueday-tests --bench flash_queue`. It only prints: what follows from it
//! stands in DEVELOPERS.md.
//!
//! The queue is given each entry in two ways: as a whole sample (`queue`), which it needs as it stands,
//! and as the ring packs it (`queue, s`), mostly as the change from the one before. The second is more
//! than a queue can do, since a change cannot be read once its start was overwritten: it shows what the
//! packing of the queue costs by itself.
//!
//! The data are those of `flash_budget`: 10-minute samples of an open data set.

// A benchmark may panic: that is how it fails. Its numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "flash_queue/cuts.rs"]
mod cuts;
#[path = "flash_queue/queue.rs"]
mod queue;
#[path = "flash_queue/samples.rs"]
mod samples;

use glueday_firmware::ring::{Boot, RingLog};
use glueday_tests::flash::{Counters, SimFlash};
use glueday_types::{BootReason, Entry, LoggerId};
use queue::Queue;
use samples::{Samples, whole_body};

pub(crate) const ID: LoggerId = LoggerId(*b"queue001");
pub(crate) const BOOT: Boot = Boot { reason: BootReason::PowerOn, at_s: 0, firmware: (0, 1, 0) };

/// What one store did on one flash.
struct Cost {
    name: &'static str,
    samples: u64,
    /// Bytes of the entries themselves, without what the store adds.
    entry_bytes: u64,
    writing: Counters,
    /// Read to find the end after a restart, and to write one entry there.
    cold_read: u64,
    /// Read to get at the newest entry, and at one in the middle of the log, after that.
    newest_read: u64,
    middle_read: u64,
    ram_bytes: usize,
}

fn main() {
    println!(
        "store    unit sectors  B/sample programs/1000 erases/1000 amplif. cold-read newest middle RAM"
    );
    measure::<1>();
    measure::<4>();
    measure::<8>();
    measure::<32>();
    cuts::campaigns();
}

fn measure<const W: usize>() {
    for sectors in [16, 64, 256] {
        let costs = [
            ring::<W>(sectors),
            queue::<W>("queue", sectors, |entry, _| whole_body(entry)),
            queue::<W>("queue, s", sectors, |_, packed| packed.to_vec()),
        ];
        for cost in costs {
            print_cost::<W>(sectors, &cost);
        }
    }
}

fn print_cost<const W: usize>(sectors: usize, cost: &Cost) {
    let samples = cost.samples as f64;
    let programmed = (cost.writing.programs * W as u64) as f64;
    assert_eq!(cost.writing.violations, 0, "{}", cost.name);
    println!(
        "{:8} {W:4} {sectors:7} {:9.2} {:13.0} {:11.3} {:7.2} {:9} {:6} {:6} {:3}",
        cost.name,
        (cost.writing.erases * 4096) as f64 / samples,
        1000.0 * cost.writing.programs as f64 / samples,
        1000.0 * cost.writing.erases as f64 / samples,
        programmed / cost.entry_bytes as f64,
        cost.cold_read,
        cost.newest_read,
        cost.middle_read,
        cost.ram_bytes,
    );
}

/// Samples that are written into the last page, which is half full then.
const HALF_PAGE: u64 = 80;

/// Whether so many pages were opened that the store went round once and a quarter.
fn is_filled(pages: u64, sectors: usize) -> bool {
    pages >= (sectors + sectors / 4) as u64
}

fn difference(after: Counters, before: Counters) -> Counters {
    Counters {
        read_bytes: after.read_bytes - before.read_bytes,
        programs: after.programs - before.programs,
        erases: after.erases - before.erases,
        violations: after.violations,
        ..Counters::default()
    }
}

fn ring<const W: usize>(sectors: usize) -> Cost {
    let flash = SimFlash::<W>::new(sectors);
    let mut ring = RingLog::mount(flash.handle(), ID, 600, BOOT).unwrap();
    let start = flash.counters();
    let (mut count, mut entry_bytes) = (0, 0);
    let mut samples = Samples::new();
    let mut behind = 0;
    while behind < HALF_PAGE {
        behind += u64::from(is_filled(flash.counters().erases, sectors));
        let (entry, packed) = samples.next();
        ring.append(&entry).unwrap();
        // The ring packs the same bytes, but for the first sample of a block.
        entry_bytes += packed.len() as u64;
        count += 1;
    }
    let writing = difference(flash.counters(), start);
    let ram_bytes = size_of_val(&ring) - size_of::<SimFlash<W>>();
    drop(ring);
    // The boot is the first entry written.
    let before = flash.counters().read_bytes;
    let mut ring = RingLog::mount(flash.handle(), ID, 600, BOOT).unwrap();
    let cold = flash.counters().read_bytes;
    let mut chunk = [0; 64];
    ring.read(ring.open_block(), 0, &mut chunk).unwrap();
    let newest = flash.counters().read_bytes;
    ring.read(u32::midpoint(ring.oldest_block(), ring.open_block()), 0, &mut chunk).unwrap();
    let middle = flash.counters().read_bytes;
    Cost {
        name: "ring",
        samples: count,
        entry_bytes,
        writing,
        cold_read: cold - before,
        newest_read: newest - cold,
        middle_read: middle - newest,
        ram_bytes,
    }
}

fn queue<const W: usize>(
    name: &'static str,
    sectors: usize,
    body: impl Fn(&Entry, &[u8]) -> Vec<u8>,
) -> Cost {
    let flash = SimFlash::<W>::new(sectors);
    let mut queue = Queue::cached(flash.handle());
    let (mut count, mut entry_bytes) = (0, 0);
    let mut samples = Samples::new();
    let start = flash.counters();
    let mut behind = 0;
    while behind < HALF_PAGE {
        // A new flash is erased already, and the queue relies on it.
        behind += u64::from(is_filled(flash.counters().erases + sectors as u64, sectors));
        let (entry, packed) = samples.next();
        let body = body(&entry, &packed);
        queue.push(&body).unwrap();
        entry_bytes += body.len() as u64;
        count += 1;
    }
    let writing = difference(flash.counters(), start);
    let pages = writing.erases + sectors as u64;
    let writing = Counters { erases: pages, ..writing };
    let ram_bytes = Queue::<W>::ram_bytes(sectors);
    drop(queue);
    let before = flash.counters().read_bytes;
    let mut queue = Queue::cached(flash.handle());
    queue.push(&whole_body(&samples.next().0)).unwrap();
    let cold = flash.counters().read_bytes;
    let held = queue.read_all(usize::MAX).unwrap().len();
    let newest = flash.counters().read_bytes;
    queue.read_all(held / 2).unwrap();
    let middle = flash.counters().read_bytes;
    Cost {
        name,
        samples: count,
        entry_bytes,
        writing,
        cold_read: cold - before,
        newest_read: newest - cold,
        middle_read: middle - newest,
        ram_bytes,
    }
}
