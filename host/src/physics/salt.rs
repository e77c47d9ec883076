//! Fixed points for checking probes: saturated salts for humidity, melting ice for temperature.

use super::{OutOfRange, Range, ZERO_CELSIUS_K, air};

/// Temperature of melting ice made of clean water, °C (ASTM E563, seen second hand).
pub const ICE_POINT_C: f64 = 0.0;

/// A salt whose saturated solution holds the air above it at a known humidity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Salt {
    /// Lithium chloride, about 11 %.
    LithiumChloride,
    /// Magnesium chloride, about 33 %. With sodium chloride it brackets what wood floors live in.
    MagnesiumChloride,
    /// Potassium carbonate, about 43 %.
    PotassiumCarbonate,
    /// Magnesium nitrate, about 53 %; the least certain of all.
    MagnesiumNitrate,
    /// Sodium chloride, about 75 %.
    SodiumChloride,
    /// Potassium chloride, about 85 %.
    PotassiumChloride,
    /// Potassium sulfate, about 97 %.
    PotassiumSulfate,
}

/// Valid temperatures of a salt jar, also a building site's.
const JAR_C: Range = Range {
    what: "temperature of the salt",
    unit: "°C",
    low: 0.0,
    high: 50.0,
    fix: "check humidity probes indoors, near 20 °C and with a steady temperature",
};

impl Salt {
    /// All salts, the driest first.
    pub const ALL: [Self; 7] = [
        Self::LithiumChloride,
        Self::MagnesiumChloride,
        Self::PotassiumCarbonate,
        Self::MagnesiumNitrate,
        Self::SodiumChloride,
        Self::PotassiumChloride,
        Self::PotassiumSulfate,
    ];

    /// Chemical formula in plain letters.
    #[must_use]
    pub const fn formula(self) -> &'static str {
        match self {
            Self::LithiumChloride => "LiCl",
            Self::MagnesiumChloride => "MgCl2",
            Self::PotassiumCarbonate => "K2CO3",
            Self::MagnesiumNitrate => "Mg(NO3)2",
            Self::SodiumChloride => "NaCl",
            Self::PotassiumChloride => "KCl",
            Self::PotassiumSulfate => "K2SO4",
        }
    }

    /// The salt of this formula, whatever the case of its letters; `None` for any other.
    #[must_use]
    pub fn from_formula(formula: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|salt| salt.formula().eq_ignore_ascii_case(formula.trim()))
    }

    /// Temperatures, in °C, for which the humidity is known: 0 to 50, or 0 to 30 for K2CO3.
    #[must_use]
    pub const fn temperature_c(self) -> Range {
        match self {
            Self::PotassiumCarbonate => Range { high: 30.0, ..JAR_C },
            _ => JAR_C,
        }
    }

    /// Relative humidity over the saturated solution, in %, at its temperature in °C.
    ///
    /// Source: Greenspan, Journal of Research of the NBS 81A (1977) 89, polynomials. The linear
    /// terms of LiCl and K2CO3 are positive: copies that print a minus miss the paper's own table.
    /// Mg(NO3)2 is the fit 25.28 exp(220/T) of the CRC Handbook, which strays from the table away
    /// from 25 °C.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`Salt::temperature_c`].
    pub fn rh_pct(self, temperature_c: f64) -> Result<f64, OutOfRange> {
        let t = self.temperature_c().check(temperature_c)?;
        let [a0, a1, a2, a3] = match self {
            Self::LithiumChloride => [11.2323, 0.008_242_45, -2.148_90e-4, 0.0],
            Self::MagnesiumChloride => [33.6686, -0.007_973_97, -1.089_88e-3, 0.0],
            Self::PotassiumCarbonate => [43.1315, 0.001_475_23, 0.0, 0.0],
            Self::MagnesiumNitrate => return Ok(25.28 * (220.0 / (t + ZERO_CELSIUS_K)).exp()),
            Self::SodiumChloride => [75.5164, 0.039_832_1, -2.654_59e-3, 2.848e-5],
            Self::PotassiumChloride => [88.6190, -0.193_340, 8.997_06e-4, 0.0],
            Self::PotassiumSulfate => [98.7792, -0.059_050_2, 0.0, 0.0],
        };
        Ok(a0 + t * (a1 + t * (a2 + t * a3)))
    }

    /// Uncertainty of [`Salt::rh_pct`] at 20 to 25 °C, in %RH: the larger of the two ends.
    ///
    /// Source: table of Greenspan 1977, seen second hand for NaCl and MgCl2, from memory for the
    /// others; for Mg(NO3)2 the accuracy that the CRC Handbook states for its fit.
    #[must_use]
    pub const fn uncertainty_pct(self) -> f64 {
        match self {
            Self::LithiumChloride => 0.31,
            Self::MagnesiumChloride => 0.18,
            Self::PotassiumCarbonate => 0.39,
            Self::MagnesiumNitrate => 2.0,
            Self::SodiumChloride => 0.14,
            Self::PotassiumChloride => 0.29,
            Self::PotassiumSulfate => 0.53,
        }
    }
}

/// What a perfect probe reads, in %, when it is not at the temperature of the salt, in °C.
///
/// The vapor pressure of the jar meets another temperature: one degree costs 4.5 %RH at 75 %. Over
/// 100 % means dew on the probe.
/// Source: definition of relative humidity.
///
/// # Errors
/// [`OutOfRange`] outside [`air::AIR_C`], [`air::RH_PCT`] or [`air::SURFACE_C`].
pub fn apparent_rh_pct(true_rh_pct: f64, salt_c: f64, probe_c: f64) -> Result<f64, OutOfRange> {
    air::rh_at_surface_pct(salt_c, true_rh_pct, probe_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_round_trip_and_unknown_salts_are_none() {
        for salt in Salt::ALL {
            assert_eq!(Salt::from_formula(salt.formula()), Some(salt));
        }
        assert_eq!(Salt::from_formula(" nacl "), Some(Salt::SodiumChloride));
        assert_eq!(Salt::from_formula("sugar"), None);
    }

    #[test]
    fn salts_are_in_order_and_within_reason_over_their_range() {
        for step in 0..=30 {
            let t = f64::from(step);
            let rh: Vec<f64> = Salt::ALL.iter().map(|salt| salt.rh_pct(t).unwrap()).collect();
            assert!(rh.is_sorted(), "{t} °C: {rh:?}");
            assert!(rh.iter().all(|rh| (10.0..100.0).contains(rh)), "{t} °C: {rh:?}");
        }
        assert!(Salt::PotassiumCarbonate.rh_pct(35.0).is_err());
        assert!(Salt::SodiumChloride.rh_pct(-1.0).is_err());
    }

    /// The values that come back with the sign error of public copies are 11.0 and 43.07.
    #[test]
    fn linear_terms_of_lithium_chloride_and_potassium_carbonate_are_positive() {
        assert!((Salt::LithiumChloride.rh_pct(20.0).unwrap() - 11.31).abs() < 0.01);
        assert!((Salt::PotassiumCarbonate.rh_pct(20.0).unwrap() - 43.16).abs() < 0.01);
    }

    #[test]
    fn a_probe_at_the_temperature_of_the_salt_reads_true() {
        let rh_pct = Salt::SodiumChloride.rh_pct(20.0).unwrap();
        assert!((apparent_rh_pct(rh_pct, 20.0, 20.0).unwrap() - rh_pct).abs() < 1e-9);
        assert!(apparent_rh_pct(97.0, 20.0, 19.0).unwrap() > 100.0, "dew on the probe");
    }
}
