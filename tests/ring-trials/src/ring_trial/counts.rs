//! What campaigns did.

use std::collections::BTreeMap;
use std::fmt;

/// How many of everything.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)] // The names say it.
pub struct Counts {
    pub cuts: u64,
    /// Cuts in the middle of an erase.
    pub erases_cut: u64,
    /// Cuts that leave the same flash as one before in the same step; they were counted, not tried.
    pub cuts_alike: u64,
    pub pairs: u64,
    pub pairs_alike: u64,
    /// Pairs of which the second cut came in the workload that went on.
    pub pairs_going_on: u64,
    /// Faults without a cut.
    pub faults: u64,
    pub seeds: u64,
    pub operations: u64,
    pub restarts: u64,
    /// How often rings went all the way round.
    pub wraps: u64,
    pub blocks_opened: u64,
    pub flips: u64,
    pub images: u64,
    /// Images that were refused, and left as they were.
    pub images_refused: u64,
    /// Entries that damage took with it.
    pub entries_lost: u64,
    /// Most entries that one flip took with it.
    pub entries_lost_max: u64,
    /// Flips that took no entry with them.
    pub flips_harmless: u64,
    /// Times that torn or random bytes passed the check of an entry, which one in 65,536 does.
    pub by_chance: u64,
    pub mounts: u64,
    /// Most bytes that one mount read, by slots.
    pub mount_bytes_max: BTreeMap<usize, u64>,
}

impl Counts {
    pub(super) fn mounted(&mut self, slots: usize, read: u64) {
        self.mounts += 1;
        let max = self.mount_bytes_max.entry(slots).or_default();
        *max = read.max(*max);
    }

    /// How many cases these are.
    #[must_use]
    pub fn cases(&self) -> u64 {
        self.cuts + self.pairs + self.faults + self.seeds + self.flips + self.images
    }

    /// Adds those of another campaign.
    pub fn add(&mut self, other: &Self) {
        for ((mine, _), (theirs, _)) in
            self.totals_mut().into_iter().zip(other.clone().totals_mut())
        {
            *mine += *theirs;
        }
        self.entries_lost_max = self.entries_lost_max.max(other.entries_lost_max);
        for (slots, read) in &other.mount_bytes_max {
            let max = self.mount_bytes_max.entry(*slots).or_default();
            *max = (*max).max(*read);
        }
    }

    fn totals_mut(&mut self) -> [(&mut u64, &'static str); 19] {
        [
            (&mut self.cuts, "cuts"),
            (&mut self.erases_cut, "erases cut"),
            (&mut self.cuts_alike, "cuts alike, not tried again"),
            (&mut self.pairs, "pairs of cuts"),
            (&mut self.pairs_going_on, "with the second in what went on"),
            (&mut self.pairs_alike, "pairs alike, not tried again"),
            (&mut self.faults, "faults without a cut"),
            (&mut self.seeds, "seeds"),
            (&mut self.operations, "operations"),
            (&mut self.restarts, "restarts"),
            (&mut self.wraps, "wraps"),
            (&mut self.blocks_opened, "blocks opened"),
            (&mut self.flips, "flips"),
            (&mut self.flips_harmless, "flips that took nothing"),
            (&mut self.images, "images"),
            (&mut self.images_refused, "images refused"),
            (&mut self.entries_lost, "entries lost to damage"),
            (&mut self.by_chance, "checks passed by chance"),
            (&mut self.mounts, "mounts"),
        ]
    }
}

impl fmt::Display for Counts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut copy = self.clone();
        let mut parts: Vec<String> = copy
            .totals_mut()
            .into_iter()
            .filter(|(count, _)| **count > 0)
            .map(|(count, name)| format!("{count} {name}"))
            .collect();
        if self.entries_lost_max > 0 {
            parts.push(format!("at most {} entries lost to one flip", self.entries_lost_max));
        }
        for (slots, read) in &self.mount_bytes_max {
            parts.push(format!("at most {read} bytes read to mount {slots} slots"));
        }
        f.write_str(&parts.join(", "))
    }
}
