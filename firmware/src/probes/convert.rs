//! From what sensors and their driver crates return to hundredths, and from failures to reasons.

use embedded_hal::i2c::{Error, ErrorKind};
use glueday_types::{Absent, CentiCelsius, CentiPercent, Reading};

/// The word of an air sensor as hundredths of a degree, rounded, when the value is within `range_c`
/// (whole °C): -45 °C at 0, 130 °C at 65535 (data sheet, from memory).
pub fn celsius_from_word(
    word: u16,
    range_c: core::ops::RangeInclusive<i16>,
) -> Reading<CentiCelsius> {
    let centi_c = along(word, 17_500) - 4_500;
    let within =
        (i32::from(*range_c.start()) * 100..=i32::from(*range_c.end()) * 100).contains(&centi_c);
    let centi_c = i16::try_from(centi_c);
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

/// The word of an air sensor as hundredths of a percent, rounded: -6 % at 0, 119 % at 65535. What is
/// under zero is the noise of dry air and becomes zero, as its maker advises (data sheet, from memory);
/// what is over 100 % is kept.
pub fn humidity_from_word(word: u16) -> CentiPercent {
    CentiPercent(u16::try_from(along(word, 12_500) - 600).unwrap_or(0))
}

/// How far `word` reaches along a line that is `length` long, rounded: never half way between two, as
/// 65535 is odd. `length` is 32,000 at most.
fn along(word: u16, length: i32) -> i32 {
    (length * i32::from(word) + 32_767) / 65_535
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

    /// Of every word, against the formulas of the data sheet (from memory) in floating point:
    /// T = -45 + 175 St / 65535 and RH = -6 + 125 Srh / 65535.
    #[test]
    fn words_of_an_air_sensor_are_what_its_data_sheet_says() {
        for word in 0..=u16::MAX {
            let share = f64::from(word) / 65_535.0;
            let (celsius, percent) = (175.0 * share - 45.0, 125.0 * share - 6.0);
            match celsius_from_word(word, -40..=125) {
                Ok(CentiCelsius(got)) => {
                    assert!((f64::from(got) - celsius * 100.0).abs() <= 0.5, "{word}: {got}");
                    assert!((-40.005..125.005).contains(&celsius), "{word}");
                }
                Err(reason) => {
                    assert_eq!(reason, Absent::OutOfRange);
                    assert!(!(-39.995..124.995).contains(&celsius), "{word}");
                }
            }
            let CentiPercent(got) = humidity_from_word(word);
            let percent = percent.max(0.0);
            assert!((f64::from(got) - percent * 100.0).abs() <= 0.5, "{word}: {got}");
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
