//! The supply voltage from what the converter reads.

/// Full scale of the converter in steps.
const STEPS: u32 = 4096;
/// What full scale is at the pin: the 3.3 V that the board makes.
const REFERENCE_MV: u32 = 3300;
/// The board divides VSYS by this before it reaches the pin.
const DIVIDER: u32 = 3;

/// What VSYS can be: the board's regulator starts at 1.8 V, and takes 5.5 V (data sheet of the board,
/// from memory). Whatever reads as something else is not VSYS: such a board has no divider there.
const POSSIBLE_MV: core::ops::RangeInclusive<u32> = 1_800..=5_700;

/// Under this the logger warns: at USB's lowest voltage behind a hub (4.40 V at the plug, USB 2.0
/// section 7.2.2) less the board's diode (0.3 V, from memory).
pub(crate) const WARNING_MV: u16 = 4_100;

/// Under this nothing is programmed or erased: the supply is going. The flash itself has its 3.3 V
/// until VSYS is at 1.8 V.
pub(crate) const FLOOR_MV: u16 = 3_000;

/// VSYS in millivolts, from the sum of `count` conversions of a third of it; `None` when that cannot
/// be VSYS.
#[must_use]
pub(crate) fn vsys_mv(sum: u32, count: u32) -> Option<u16> {
    let mv = sum.checked_mul(REFERENCE_MV * DIVIDER)?.checked_div(STEPS.checked_mul(count)?)?;
    u16::try_from(mv).ok().filter(|_| POSSIBLE_MV.contains(&mv))
}
