//! What a log costs its flash.

use super::Check;
use super::log::Maker;
use super::model::mount;
use super::oracle::mount_bound;
use super::workload::{other, sample};
use crate::flash::Chip;

/// What it took to fill a ring once and half of it again.
#[derive(Clone, Copy, Debug, PartialEq)]
#[allow(missing_docs)] // The names say it.
pub struct Cost {
    pub slots: usize,
    pub unit: usize,
    pub entries: u64,
    /// Bytes of the entries as postcard writes them, without check, filling or place.
    pub payload_bytes: u64,
    pub program_bytes: u64,
    pub erases: u64,
    /// Bytes read by one more mount.
    pub mount_bytes: u64,
    /// The most that it might have read.
    pub mount_bytes_bound: u64,
}

impl Cost {
    /// Bytes programmed for each byte of the entries.
    #[must_use]
    pub fn amplification(&self) -> f64 {
        self.program_bytes as f64 / self.payload_bytes as f64
    }

    /// Sectors erased for each MiB of entries.
    #[must_use]
    pub fn erases_per_mib(&self) -> f64 {
        self.erases as f64 * 1_048_576.0 / self.payload_bytes as f64
    }
}

impl std::fmt::Display for Cost {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} slots, write unit {}: {} entries of {} bytes; {:.2} bytes programmed for each byte, \
             {:.1} for each entry; {:.0} erases a MiB; {} bytes read to mount, at most {}",
            self.slots,
            self.unit,
            self.entries,
            self.payload_bytes,
            self.amplification(),
            self.program_bytes as f64 / self.entries as f64,
            self.erases_per_mib(),
            self.mount_bytes,
            self.mount_bytes_bound
        )
    }
}

/// Fills a ring once and half of it again, nine samples in ten entries.
///
/// # Errors
/// The log fails, or mounting it reads more than it may.
pub fn cost(maker: &Maker, unit: usize, slots: usize) -> Check<Cost> {
    let failed = |error| format!("{slots} slots: {error}");
    let chip = Chip::erased(unit, slots);
    let mut log = mount(maker, &chip, 0).map_err(failed)?;
    let (mut at_s, mut entries, mut payload_bytes, mut body) = (0, 0, 0, [0; 64]);
    while (log.facts().open as usize) < slots + slots / 2 {
        at_s += 600;
        let entry = if entries % 10 == 9 { other(at_s) } else { sample(at_s, 1) };
        log.append(&entry).map_err(failed)?;
        entries += 1;
        let packed = postcard::to_slice(&entry, &mut body).map_err(|error| error.to_string())?;
        payload_bytes += packed.len() as u64;
    }
    drop(log);
    let counters = chip.counters();
    let log = mount(maker, &chip, at_s).map_err(failed)?;
    let mount_bytes = chip.counters().read_bytes - counters.read_bytes;
    let mount_bytes_bound = mount_bound(slots, 0, false);
    super::ensure!(log.facts().boot == 2, "boot {}", log.facts().boot);
    super::ensure!(
        mount_bytes <= mount_bytes_bound,
        "mounting {slots} slots read {mount_bytes} bytes of at most {mount_bytes_bound}"
    );
    Ok(Cost {
        slots,
        unit,
        entries,
        payload_bytes,
        program_bytes: counters.program_bytes,
        erases: counters.erases,
        mount_bytes,
        mount_bytes_bound,
    })
}
