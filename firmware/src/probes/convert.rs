//! From what the driver crates return to hundredths, and from their failures to reasons.

use embedded_hal::i2c::{Error, ErrorKind};
use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};

/// Thousandths of a degree to hundredths, rounded half away from zero, when the value is within
/// `range_c` (whole °C).
pub fn celsius_from_milli(
    milli_c: i32,
    range_c: core::ops::RangeInclusive<i16>,
) -> Reading<CentiCelsius> {
    let within =
        (i32::from(*range_c.start()) * 1000..=i32::from(*range_c.end()) * 1000).contains(&milli_c);
    let centi_c = i16::try_from(tenth(milli_c));
    centi_c.ok().filter(|_| within).map(CentiCelsius).ok_or(Absent::OutOfRange)
}

/// Sixteenths of a degree to hundredths, rounded half away from zero, when the value is within
/// `range_c` (whole °C). For sensors of 12 bits, without floats.
pub fn celsius_from_sixteenths(
    sixteenths: i16,
    range_c: core::ops::RangeInclusive<i16>,
) -> Reading<CentiCelsius> {
    let sixteenths = i32::from(sixteenths);
    let within =
        (i32::from(*range_c.start()) * 16..=i32::from(*range_c.end()) * 16).contains(&sixteenths);
    let centi_c = i16::try_from((sixteenths * 25 + 2 * sixteenths.signum()) / 4);
    centi_c.ok().filter(|_| within).map(CentiCelsius).ok_or(Absent::OutOfRange)
}

/// Degrees to hundredths when the value is within `range_c` (whole °C).
pub fn celsius_from_float(
    celsius: f32,
    range_c: core::ops::RangeInclusive<i16>,
) -> Reading<CentiCelsius> {
    let within = (f32::from(*range_c.start())..=f32::from(*range_c.end())).contains(&celsius);
    CentiCelsius::from_celsius(celsius.into()).filter(|_| within).ok_or(Absent::OutOfRange)
}

/// Thousandths of a percent to hundredths. The sensor's line reaches from -6 % to 119 %: what is
/// under zero is the noise of dry air and becomes zero, as its maker advises (data sheet, from
/// memory); what is over 100 % is kept.
pub fn humidity_from_milli(milli_pct: i32) -> Reading<CentiPercent> {
    let centi_pct = u16::try_from(tenth(milli_pct.max(0)));
    let in_range = (-6_000..=119_001).contains(&milli_pct);
    centi_pct.ok().filter(|_| in_range).map(CentiPercent).ok_or(Absent::OutOfRange)
}

/// A tenth of `value`, rounded half away from zero.
fn tenth(value: i32) -> i32 {
    (value / 5 + value.signum()) / 2
}

/// Why there is no reading when the bus failed with `error`.
pub fn bus_reason(error: &impl Error) -> Absent {
    match error.kind() {
        ErrorKind::NoAcknowledge(_) => Absent::NoAnswer,
        _ => Absent::BusFault,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal::i2c::NoAcknowledgeSource;

    #[test]
    fn temperatures_round_and_keep_to_the_range_of_the_probe() {
        for (milli_c, expected) in [
            (0, Ok(0)),
            (4, Ok(0)),
            (5, Ok(1)),
            (-4, Ok(0)),
            (-5, Ok(-1)),
            (21_344, Ok(2134)),
            (21_345, Ok(2135)),
            (-40_000, Ok(-4000)),
            (-40_001, Err(Absent::OutOfRange)),
            (125_000, Ok(12_500)),
            (125_001, Err(Absent::OutOfRange)),
            (i32::MAX, Err(Absent::OutOfRange)),
            (i32::MIN, Err(Absent::OutOfRange)),
        ] {
            let got = celsius_from_milli(milli_c, -40..=125);
            assert_eq!(got, expected.map(CentiCelsius), "{milli_c} m°C");
        }
    }

    #[test]
    fn sixteenths_round_and_keep_to_the_range_of_the_probe() {
        for (sixteenths, expected) in [
            (0, Ok(0)),
            (1, Ok(6)),
            (-1, Ok(-6)),
            (2, Ok(13)),
            (-2, Ok(-13)),
            (3, Ok(19)),
            (401, Ok(2506)),
            (-401, Ok(-2506)),
            (2000, Ok(12_500)),
            (2001, Err(Absent::OutOfRange)),
            (-880, Ok(-5500)),
            (-881, Err(Absent::OutOfRange)),
            (i16::MAX, Err(Absent::OutOfRange)),
            (i16::MIN, Err(Absent::OutOfRange)),
        ] {
            let got = celsius_from_sixteenths(sixteenths, -55..=125);
            assert_eq!(got, expected.map(CentiCelsius), "{sixteenths} sixteenths of 1 °C");
        }
    }

    #[test]
    fn float_temperatures_do_the_same() {
        for (celsius, expected) in [
            (23.375, Ok(2338)),
            (-0.0078125, Ok(-1)),
            (0.0078125, Ok(1)),
            (-55.0, Ok(-5500)),
            (-55.01, Err(Absent::OutOfRange)),
            (150.01, Err(Absent::OutOfRange)),
            (f32::NAN, Err(Absent::OutOfRange)),
            (f32::INFINITY, Err(Absent::OutOfRange)),
        ] {
            let got = celsius_from_float(celsius, -55..=150);
            assert_eq!(got, expected.map(CentiCelsius), "{celsius} °C");
        }
    }

    #[test]
    fn humidity_is_cut_off_below_zero_only() {
        for (milli_pct, expected) in [
            (-6_000, Ok(0)),
            (-1, Ok(0)),
            (4, Ok(0)),
            (5, Ok(1)),
            (47_125, Ok(4713)),
            (100_400, Ok(10_040)),
            (119_000, Ok(11_900)),
            (120_000, Err(Absent::OutOfRange)),
            (-6_001, Err(Absent::OutOfRange)),
        ] {
            let got = humidity_from_milli(milli_pct);
            assert_eq!(got, expected.map(CentiPercent), "{milli_pct} m%");
        }
    }

    #[test]
    fn a_probe_that_is_silent_is_told_apart_from_a_bus_that_fails() {
        for (kind, expected) in [
            (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address), Absent::NoAnswer),
            (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown), Absent::NoAnswer),
            (ErrorKind::ArbitrationLoss, Absent::BusFault),
            (ErrorKind::Bus, Absent::BusFault),
            (ErrorKind::Overrun, Absent::BusFault),
            (ErrorKind::Other, Absent::BusFault),
        ] {
            assert_eq!(bus_reason(&kind), expected, "{kind:?}");
        }
    }
}
