//! Why the board started, from what the chip keeps of its last reset.

use glueday_types::BootReason;

/// Written into a register of the watchdog when it is started, and kept by a reset of the watchdog.
pub(crate) const ARMED: u32 = 0x676C_7565;

/// `REASON` of the watchdog: its time ran out; it was told to.
const TIMER: u32 = 1 << 0;
const FORCE: u32 = 1 << 1;
/// `CHIP_RESET`: power on or core voltage too low; the RUN pin; a debugger.
const HAD_POR: u32 = 1 << 8;
const HAD_RUN: u32 = 1 << 16;
const HAD_PSM_RESTART: u32 = 1 << 20;

/// The reason, from the registers `REASON` and `SCRATCH0` of the watchdog and `CHIP_RESET` (RP2040
/// data sheet, sections 4.7.6 and 2.10.5, from memory).
///
/// The chip does not tell power on and a voltage too low apart: both are [`BootReason::PowerOn`].
/// `CHIP_RESET` keeps the cause before a reset by the watchdog, so that one is asked first. The boot
/// ROM starts a new image by the watchdog too, whose time then runs out without the firmware having
/// started it.
#[must_use]
pub(crate) fn boot_reason(watchdog: u32, scratch: u32, chip_reset: u32) -> BootReason {
    if watchdog & FORCE != 0 {
        BootReason::Restart
    } else if watchdog & TIMER != 0 {
        if scratch == ARMED { BootReason::Watchdog } else { BootReason::Restart }
    } else if chip_reset & HAD_RUN != 0 {
        BootReason::ResetPin
    } else if chip_reset & HAD_POR != 0 {
        BootReason::PowerOn
    } else if chip_reset & HAD_PSM_RESTART != 0 {
        BootReason::Restart
    } else {
        BootReason::Unknown
    }
}
