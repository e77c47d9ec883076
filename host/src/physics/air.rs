//! Moist air.
//!
//! Saturation pressure is by Hyland and Wexler, as printed in the ASHRAE Handbook of Fundamentals
//! (2017) chapter 1, equations 5 and 6. Dew and frost point are by the Magnus form of WMO-No. 8: it
//! stays within 0.05 °C of the inverted equations at 5 to 40 °C and 20 %RH or more, and within 0.1 °C
//! at -10 to 60 °C and 5 %RH or more. It needs no iteration over a season of samples, and anybody who
//! doubts a record can repeat it on a pocket calculator. A probe that is off by 1 %RH moves the dew
//! point by 0.2 to 0.5 °C.
//!
//! Humidity is over liquid water at every temperature. That is how capacitive probes are calibrated
//! and what WMO-No. 8 defines; ASHRAE tables count it over ice below freezing, for which there is
//! [`rh_over_water_pct`].

use super::{OutOfRange, Range, ZERO_CELSIUS_K};

/// Valid air temperatures.
pub const AIR_C: Range = Range {
    what: "air temperature",
    unit: "°C",
    low: -40.0,
    high: 60.0,
    fix: "check the unit (°C or °F) and the probe",
};

/// Valid temperatures of a surface that the air touches.
pub const SURFACE_C: Range = Range {
    what: "surface temperature",
    unit: "°C",
    low: -40.0,
    high: 60.0,
    fix: "check the unit (°C or °F) and the probe",
};

/// Valid humidities of air. Dry air has no dew point; a wet probe may read somewhat over 100 %, and
/// refusing that would hide the very samples that matter.
pub const RH_PCT: Range = Range {
    what: "relative humidity",
    unit: "%",
    low: 0.01,
    high: 120.0,
    fix: "give it as a percentage (45, not 0.45) and check the probe: 0 % means that it has failed",
};

/// Valid air pressures, from 5000 m of altitude to below sea level.
pub const PRESSURE_PA: Range = Range {
    what: "air pressure",
    unit: "Pa",
    low: 50_000.0,
    high: 110_000.0,
    fix: "give the pressure on site in Pa (1 hPa = 100 Pa), not reduced to sea level",
};

/// Valid altitudes above sea level.
pub const ALTITUDE_M: Range = Range {
    what: "altitude",
    unit: "m",
    low: -500.0,
    high: 5000.0,
    fix: "check the unit (1 ft = 0.3048 m), or give the pressure instead",
};

/// Valid temperatures for saturation over ice; there is no ice above the triple point.
pub const ICE_C: Range = Range {
    what: "temperature of ice",
    unit: "°C",
    low: -100.0,
    high: 0.01,
    fix: "use saturation over water above the triple point",
};

/// Pressure of the standard atmosphere at sea level, in Pa (ISO 2533).
pub const SEA_LEVEL_PA: f64 = 101_325.0;

/// Molar mass of water over that of dry air (ASHRAE Fundamentals 2017, chapter 1).
const MASS_RATIO: f64 = 0.621_945;
/// Gas constant of dry air in J/(kg K) (ASHRAE Fundamentals 2017, chapter 1).
const DRY_AIR_J_KG_K: f64 = 287.042;

/// Saturation vapor pressure over liquid water, in Pa, at -40 to 60 °C.
///
/// Below freezing the water is supercooled and the equation extrapolated.
/// Source: ASHRAE Handbook of Fundamentals (2017) chapter 1, equation 6.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`].
pub fn saturation_vapor_pressure_pa(temperature_c: f64) -> Result<f64, OutOfRange> {
    let t = AIR_C.check(temperature_c)? + ZERO_CELSIUS_K;
    let ln_pa = -5.800_220_6e3 / t
        + 1.391_499_3
        + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 + t * -1.445_209_3e-8))
        + 6.545_967_3 * t.ln();
    Ok(ln_pa.exp())
}

/// Saturation vapor pressure over ice, in Pa, at -100 to 0.01 °C.
///
/// Source: ASHRAE Handbook of Fundamentals (2017) chapter 1, equation 5.
///
/// # Errors
/// [`OutOfRange`] outside [`ICE_C`].
pub fn saturation_vapor_pressure_over_ice_pa(temperature_c: f64) -> Result<f64, OutOfRange> {
    let t = ICE_C.check(temperature_c)? + ZERO_CELSIUS_K;
    let ln_pa = -5.674_535_9e3 / t
        + 6.392_524_7
        + t * (-9.677_843_0e-3 + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 + t * -9.484_024e-13)))
        + 4.163_501_9 * t.ln();
    Ok(ln_pa.exp())
}

/// Humidity over water, in %, of air whose humidity is given over ice, at -40 to 0.01 °C.
///
/// The ratio of the two saturation pressures; 100 % over ice is 90.7 % over water at -10 °C.
///
/// # Errors
/// [`OutOfRange`] outside [`ICE_C`], [`AIR_C`] or [`RH_PCT`].
pub fn rh_over_water_pct(air_c: f64, rh_over_ice_pct: f64) -> Result<f64, OutOfRange> {
    let over_water = saturation_vapor_pressure_pa(air_c)?;
    Ok(RH_PCT.check(rh_over_ice_pct)? * saturation_vapor_pressure_over_ice_pa(air_c)? / over_water)
}

/// Partial pressure of the water vapor in the air, in Pa.
///
/// Source: definition of relative humidity, WMO-No. 8.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`] or [`RH_PCT`].
pub fn vapor_pressure_pa(air_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    RH_PCT.check(rh_pct)?;
    vapor_pressure_of_pa(rh_pct, saturation_vapor_pressure_pa(air_c)?)
}

/// Partial pressure of the water vapor in the air, in Pa, from the saturation pressure of the air.
///
/// # Errors
/// [`OutOfRange`] outside [`RH_PCT`].
pub fn vapor_pressure_of_pa(rh_pct: f64, saturation_pa: f64) -> Result<f64, OutOfRange> {
    Ok(RH_PCT.check(rh_pct)? / 100.0 * saturation_pa)
}

/// Logarithm of vapor pressure over 611.2 Pa, by the Magnus form over water.
///
/// The forms for water and for ice share the 611.2 Pa at 0 °C, so that it cancels out.
fn magnus_exponent(air_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    let of_air = magnus_of_air(air_c)?;
    Ok(magnus_of_rh(rh_pct)? + of_air)
}

/// What the humidity adds to the exponent of the Magnus form; the rest is [`magnus_of_air`]'s. Apart
/// for whoever goes through a log, where the same values come again and again.
///
/// # Errors
/// [`OutOfRange`] outside [`RH_PCT`].
pub fn magnus_of_rh(rh_pct: f64) -> Result<f64, OutOfRange> {
    Ok((RH_PCT.check(rh_pct)? / 100.0).ln())
}

/// What the air temperature adds to the exponent of the Magnus form.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`].
pub fn magnus_of_air(air_c: f64) -> Result<f64, OutOfRange> {
    let t = AIR_C.check(air_c)?;
    Ok(17.62 * t / (243.12 + t))
}

/// By how much [`magnus_of_air`] rises for each K, at -40 °C and above; the less the warmer it is.
#[must_use]
pub fn magnus_slope_of_air(air_c: f64) -> f64 {
    let divisor = 243.12 + air_c;
    17.62 * 243.12 / (divisor * divisor)
}

/// By how many K [`magnus_over_water_c`] rises for each 1 of the exponent; the more the higher that is.
#[must_use]
pub fn magnus_slope_over_water_k(exponent: f64) -> f64 {
    let divisor = 17.62 - exponent;
    243.12 * 17.62 / (divisor * divisor)
}

/// The temperature over water with this Magnus exponent: the dew point, in °C. The exponent stays below
/// 4 in the valid range, so that the divisor is far from zero.
#[must_use]
pub fn magnus_over_water_c(exponent: f64) -> f64 {
    243.12 * exponent / (17.62 - exponent)
}

/// Dew point over liquid water, in °C: the surface temperature below which water condenses.
///
/// Below 0 °C water freezes out at the higher [`frost_point_c`]; on a floor that is being glued
/// neither comes near. Over 100 %RH the dew point lies above the air temperature. Very dry air can
/// give a dew point under -45 °C, where the formula is extrapolated.
/// Source: WMO-No. 8 Magnus form, 17.62 and 243.12 °C, for -45 to 60 °C.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`] or [`RH_PCT`].
pub fn dew_point_c(air_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    Ok(magnus_over_water_c(magnus_exponent(air_c, rh_pct)?))
}

/// Frost point over ice, in °C; where the dew point is not below 0 °C there is no ice, and it is
/// the dew point.
///
/// In frosty air near saturation over water it lies above the air temperature: hoar frost grows.
/// Source: WMO-No. 8 Magnus form over ice, 22.46 and 272.62 °C, for -65 to 0.01 °C.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`] or [`RH_PCT`].
pub fn frost_point_c(air_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    let exponent = magnus_exponent(air_c, rh_pct)?;
    if exponent >= 0.0 {
        return Ok(magnus_over_water_c(exponent));
    }
    Ok(272.62 * exponent / (22.46 - exponent))
}

/// How far a surface is above the dew point over water, in K; negative where water condenses.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`], [`RH_PCT`] or [`SURFACE_C`].
pub fn surface_margin_c(air_c: f64, rh_pct: f64, surface_c: f64) -> Result<f64, OutOfRange> {
    Ok(SURFACE_C.check(surface_c)? - dew_point_c(air_c, rh_pct)?)
}

/// Relative humidity, in %, of the same air when it takes the temperature of a surface.
///
/// Over 100 % means that water condenses there.
/// Source: definition of relative humidity; the vapor pressure stays the same.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`], [`RH_PCT`] or [`SURFACE_C`].
pub fn rh_at_surface_pct(air_c: f64, rh_pct: f64, surface_c: f64) -> Result<f64, OutOfRange> {
    let at_surface = saturation_vapor_pressure_pa(SURFACE_C.check(surface_c)?)?;
    Ok(RH_PCT.check(rh_pct)? * (saturation_vapor_pressure_pa(air_c)? / at_surface))
}

/// Humidity ratio: kg of water vapor to one kg of dry air.
///
/// Ideal gases; the real ratio is up to 0.8 % higher (enhancement factor, left out by the source).
/// Source: ASHRAE Handbook of Fundamentals (2017) chapter 1, equation 20.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`], [`RH_PCT`] or [`PRESSURE_PA`].
pub fn humidity_ratio(air_c: f64, rh_pct: f64, pressure_pa: f64) -> Result<f64, OutOfRange> {
    let vapor_pa = vapor_pressure_pa(air_c, rh_pct)?;
    // Within the ranges the vapor pressure is under 24 kPa, less than half the lowest pressure.
    Ok(MASS_RATIO * vapor_pa / (PRESSURE_PA.check(pressure_pa)? - vapor_pa))
}

/// Absolute humidity: grams of water vapor in a cubic meter of air.
///
/// Source: gas law with the constants of ASHRAE Handbook of Fundamentals (2017) chapter 1.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`] or [`RH_PCT`].
pub fn absolute_humidity_g_m3(air_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    let vapor_kg_m3 = vapor_pressure_pa(air_c, rh_pct)? * MASS_RATIO
        / (DRY_AIR_J_KG_K * (air_c + ZERO_CELSIUS_K));
    Ok(1000.0 * vapor_kg_m3)
}

/// Enthalpy of moist air, in kJ to one kg of dry air, counted from dry air and water at 0 °C.
///
/// Source: ASHRAE Handbook of Fundamentals (2017) chapter 1, equation 30.
///
/// # Errors
/// [`OutOfRange`] outside [`AIR_C`], [`RH_PCT`] or [`PRESSURE_PA`].
pub fn enthalpy_kj_kg(air_c: f64, rh_pct: f64, pressure_pa: f64) -> Result<f64, OutOfRange> {
    let ratio = humidity_ratio(air_c, rh_pct, pressure_pa)?;
    Ok(1.006 * air_c + ratio * (2501.0 + 1.86 * air_c))
}

/// Pressure of the standard atmosphere at an altitude, in Pa.
///
/// The weather moves the real pressure by some 3 % about this.
/// Source: ASHRAE Handbook of Fundamentals (2017) chapter 1, equation 3.
///
/// # Errors
/// [`OutOfRange`] outside [`ALTITUDE_M`].
pub fn standard_pressure_pa(altitude_m: f64) -> Result<f64, OutOfRange> {
    let altitude_m = ALTITUDE_M.check(altitude_m)?;
    Ok(SEA_LEVEL_PA * (1.0 - 2.255_77e-5 * altitude_m).powf(5.2559))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturated_air_is_at_its_dew_point() {
        for air_c in [-40.0, -3.0, 0.0, 21.0, 60.0] {
            assert!((dew_point_c(air_c, 100.0).unwrap() - air_c).abs() < 1e-9, "{air_c} °C");
        }
        assert!(dew_point_c(20.0, 104.0).unwrap() > 20.0, "a wet probe reads over 100 %");
    }

    #[test]
    fn frost_point_leaves_the_dew_point_at_freezing_without_a_jump() {
        // 10 °C air crosses a dew point of 0 °C near 49.8 %.
        let (mut below, mut above) = (0, 0);
        for step in 0..=400 {
            let rh_pct = 48.0 + f64::from(step) * 0.01;
            let dew_c = dew_point_c(10.0, rh_pct).unwrap();
            let frost_c = frost_point_c(10.0, rh_pct).unwrap();
            if dew_c < 0.0 {
                below += 1;
                // Ice binds harder: the frost point is the higher one, by an eighth of its depth.
                assert!(frost_c > dew_c && frost_c < 0.0, "{rh_pct} %: {frost_c} over {dew_c}");
                assert!(frost_c - dew_c < 0.2, "{rh_pct} %: {frost_c} over {dew_c}");
            } else {
                above += 1;
                assert!(frost_c == dew_c, "{rh_pct} %: {frost_c} and {dew_c}");
            }
        }
        assert!(below > 100 && above > 100, "{below} below, {above} above");
    }

    #[test]
    fn air_saturated_over_ice_is_at_its_frost_point() {
        for air_c in [-30.0, -10.0, -0.5] {
            let rh_pct = rh_over_water_pct(air_c, 100.0).unwrap();
            assert!(rh_pct < 100.0);
            assert!((frost_point_c(air_c, rh_pct).unwrap() - air_c).abs() < 0.06, "{air_c} °C");
        }
        assert!(rh_over_water_pct(5.0, 50.0).is_err(), "no ice at 5 °C");
    }

    #[test]
    fn a_surface_at_the_dew_point_is_saturated() {
        let dew_c = dew_point_c(22.0, 47.0).unwrap();
        assert!((rh_at_surface_pct(22.0, 47.0, dew_c).unwrap() - 100.0).abs() < 0.3);
        assert!(surface_margin_c(22.0, 47.0, dew_c).unwrap().abs() < 1e-12);
        assert!(rh_at_surface_pct(22.0, 47.0, dew_c - 2.0).unwrap() > 110.0, "condensing");
    }

    #[test]
    fn the_margin_is_to_the_dew_point_also_where_frost_would_come_first() {
        let dew_c = dew_point_c(4.0, 40.0).unwrap();
        assert!(frost_point_c(4.0, 40.0).unwrap() - dew_c > 0.5);
        assert_eq!(surface_margin_c(4.0, 40.0, 1.0), Ok(1.0 - dew_c));
    }

    #[test]
    fn every_altitude_has_a_valid_pressure() {
        for altitude_m in [ALTITUDE_M.low, ALTITUDE_M.high] {
            PRESSURE_PA.check(standard_pressure_pa(altitude_m).unwrap()).unwrap();
        }
        assert!(standard_pressure_pa(8849.0).is_err());
    }

    #[test]
    fn results_are_finite_at_every_corner_of_the_ranges() {
        for air_c in [AIR_C.low, AIR_C.high] {
            for rh_pct in [RH_PCT.low, RH_PCT.high] {
                for pressure_pa in [PRESSURE_PA.low, PRESSURE_PA.high] {
                    for value in [
                        dew_point_c(air_c, rh_pct),
                        frost_point_c(air_c, rh_pct),
                        vapor_pressure_pa(air_c, rh_pct),
                        absolute_humidity_g_m3(air_c, rh_pct),
                        humidity_ratio(air_c, rh_pct, pressure_pa),
                        enthalpy_kj_kg(air_c, rh_pct, pressure_pa),
                        rh_at_surface_pct(air_c, rh_pct, SURFACE_C.low),
                        rh_at_surface_pct(air_c, rh_pct, SURFACE_C.high),
                    ] {
                        assert!(value.unwrap().is_finite(), "{air_c} °C, {rh_pct} %");
                    }
                }
            }
        }
    }

    #[test]
    fn dry_air_and_broken_probes_are_refused_by_name() {
        assert_eq!(dew_point_c(20.0, 0.0).unwrap_err().what, "relative humidity");
        assert_eq!(dew_point_c(f64::NAN, 50.0).unwrap_err().what, "air temperature");
        assert_eq!(surface_margin_c(20.0, 50.0, 70.0).unwrap_err().what, "surface temperature");
        assert_eq!(humidity_ratio(20.0, 50.0, 1013.25).unwrap_err().what, "air pressure");
    }
}
