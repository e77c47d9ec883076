//! Fixed-point quantities as the logger stores them, and the reasons why one can be missing.
//!
//! Two decimals are finer than any probe the logger can carry, and an integer survives the way from
//! flash to record without rounding.

use serde::{Deserialize, Serialize};

/// A temperature in hundredths of a degree Celsius, from -327.68 to 327.67 °C.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CentiCelsius(pub i16);

/// A relative humidity over liquid water in hundredths of a percent, from 0 to 655.35 %.
///
/// Values over 100 % are kept: a wet sensor reports them, and cutting them off would hide it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CentiPercent(pub u16);

/// Why a measurement is missing.
///
/// Only ever add variants at the end: the discriminants are bytes on flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Absent {
    /// No probe is fitted for this channel, or the imported file has no such column.
    NotFitted,
    /// The probe did not answer on its bus.
    NoAnswer,
    /// The probe answered, but the checksum of its answer was wrong.
    BadChecksum,
    /// The probe answered with a value that it cannot measure.
    OutOfRange,
    /// The bus itself failed: a line held low, arbitration lost, or an overrun.
    BusFault,
    /// The imported file has an empty cell here.
    EmptyCell,
}

/// A measurement, or the reason why there is none.
pub type Reading<T> = Result<T, Absent>;

impl CentiCelsius {
    /// Rounds to the nearest hundredth; `None` when the value is not finite or does not fit.
    #[must_use]
    pub fn from_celsius(celsius: f64) -> Option<Self> {
        to_hundredths(celsius, f64::from(i16::MIN), f64::from(i16::MAX))
            .and_then(|hundredths| i16::try_from(hundredths).ok())
            .map(Self)
    }

    /// The temperature in °C.
    #[must_use]
    #[inline]
    pub fn celsius(self) -> f64 {
        f64::from(self.0) / 100.0
    }
}

impl CentiPercent {
    /// Rounds to the nearest hundredth; `None` when the value is negative, not finite or does not fit.
    #[must_use]
    pub fn from_percent(percent: f64) -> Option<Self> {
        to_hundredths(percent, 0.0, f64::from(u16::MAX))
            .and_then(|hundredths| u16::try_from(hundredths).ok())
            .map(Self)
    }

    /// The relative humidity in %.
    #[must_use]
    #[inline]
    pub fn percent(self) -> f64 {
        f64::from(self.0) / 100.0
    }
}

/// `value` in hundredths, rounded half away from zero, when it lies within `min..=max` hundredths.
fn to_hundredths(value: f64, min: f64, max: f64) -> Option<i32> {
    let scaled = value * 100.0;
    // `f64::round` needs the standard library; half a unit and truncation do the same here.
    let shifted = if scaled < 0.0 { scaled - 0.5 } else { scaled + 0.5 };
    if !(min - 1.0..max + 1.0).contains(&shifted) {
        return None;
    }
    // In range of i32 by the check above, which NaN fails as well.
    #[allow(clippy::cast_possible_truncation)]
    let hundredths = shifted as i32;
    (f64::from(hundredths) >= min && f64::from(hundredths) <= max).then_some(hundredths)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_round_to_the_nearest_hundredth() {
        for (celsius, expected) in [
            (0.0, Some(0)),
            (21.344, Some(2134)),
            (21.346, Some(2135)),
            (-0.006, Some(-1)),
            (-40.004, Some(-4000)),
            (327.67, Some(32767)),
            (327.68, None),
            (-327.68, Some(-32768)),
            (-327.69, None),
            (f64::NAN, None),
            (f64::INFINITY, None),
        ] {
            assert_eq!(CentiCelsius::from_celsius(celsius).map(|t| t.0), expected, "{celsius} °C");
        }
    }

    #[test]
    fn humidity_is_never_negative_and_may_pass_100() {
        assert_eq!(CentiPercent::from_percent(47.125), Some(CentiPercent(4713)));
        assert_eq!(CentiPercent::from_percent(100.4), Some(CentiPercent(10040)));
        assert_eq!(CentiPercent::from_percent(-0.01), None);
        assert_eq!(CentiPercent::from_percent(-0.004), Some(CentiPercent(0)));
        assert_eq!(CentiPercent::from_percent(700.0), None);
    }
}
