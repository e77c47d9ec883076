//! The parts of the RP2040 board that need no RP2040: its log's part of the flash, whose log it takes
//! up, why it started, what its supply is.

// Tests may panic: that is how they fail. Their numbers are small.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]
#![allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, clippy::cast_sign_loss)]
// The board's own files, which see each other at the same place there.
#![allow(dead_code, reason = "the board uses more of them than the tests")]

#[path = "../../../firmware/boards/pico/src/identity.rs"]
mod identity;
#[path = "../../../firmware/boards/pico/src/layout.rs"]
mod layout;
#[path = "../../../firmware/boards/pico/src/pages.rs"]
mod pages;
#[path = "../../../firmware/boards/pico/src/reason.rs"]
mod reason;
#[path = "../../../firmware/boards/pico/src/volts.rs"]
mod volts;

mod chip;
mod log;

use glueday_types::BootReason;

#[test]
fn the_reason_of_a_start_is_read_from_the_chip() {
    // Bits as in the RP2040 data sheet, sections 2.10.5 and 4.7.6 (from memory).
    const POWER: u32 = 0x0000_0100;
    const RUN_PIN: u32 = 0x0001_0000;
    const DEBUGGER: u32 = 0x0010_0000;
    const TIME_OUT: u32 = 1;
    const TOLD: u32 = 2;
    let armed = reason::ARMED;
    for (watchdog, scratch, chip_reset, expected) in [
        (0, 0, POWER, BootReason::PowerOn),
        // The register of the watchdog is lost with the power; a stale one says nothing.
        (0, armed, POWER, BootReason::PowerOn),
        (0, armed, RUN_PIN, BootReason::ResetPin),
        (0, 0, DEBUGGER, BootReason::Restart),
        (0, 0, 0, BootReason::Unknown),
        // What is kept of the reset before does not hide that of the watchdog.
        (TIME_OUT, armed, POWER, BootReason::Watchdog),
        (TIME_OUT, armed, RUN_PIN, BootReason::Watchdog),
        (TIME_OUT, 0, POWER, BootReason::Restart),
        (TOLD, armed, POWER, BootReason::Restart),
    ] {
        let found = reason::boot_reason(watchdog, scratch, chip_reset);
        assert_eq!(found, expected, "{watchdog:#x} {scratch:#x} {chip_reset:#x}");
    }
}

#[test]
fn the_supply_is_three_times_what_the_pin_sees() {
    for (steps, expected) in [
        // 5.00 V / 3 of 3.3 V full scale in 4096 steps is step 2068.7; and so on.
        (2069, Some(5000)),
        (1862, Some(4500)),
        (1241, Some(2999)),
        (745, Some(1800)),
        // The board does not run from so little or take so much: no divider at the pin.
        (744, None),
        (0, None),
        (2359, None),
        (4095, None),
    ] {
        for count in [1, 8] {
            assert_eq!(volts::vsys_mv(steps * count, count), expected, "step {steps}");
        }
    }
    assert_eq!(volts::vsys_mv(5, 0), None);
    assert_eq!(volts::vsys_mv(u32::MAX, 8), None);
}
