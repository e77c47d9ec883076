//! The words that stand in cells.

use glueday_types::{Absent, BootReason, Probe};

/// A reason why a reading is missing.
pub(super) const fn absent(reason: Absent) -> &'static str {
    match reason {
        Absent::NotFitted => "not-fitted",
        Absent::NoAnswer => "no-answer",
        Absent::BadChecksum => "bad-checksum",
        Absent::OutOfRange => "out-of-range",
        Absent::BusFault => "bus-fault",
        Absent::EmptyCell => "empty-cell",
    }
}

/// Why a logger started.
pub(super) const fn boot(reason: BootReason) -> &'static str {
    match reason {
        BootReason::PowerOn => "power-on",
        BootReason::Watchdog => "watchdog",
        BootReason::BrownOut => "brown-out",
        BootReason::Restart => "restart",
        BootReason::ResetPin => "reset-pin",
        BootReason::Unknown => "unknown",
    }
}

/// A probe.
pub(super) const fn probe(probe: Probe) -> &'static str {
    match probe {
        Probe::Slab => "slab",
        Probe::Air => "air",
        Probe::Supply => "supply",
    }
}
