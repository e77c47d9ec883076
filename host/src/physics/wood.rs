//! Wood and water: equilibrium moisture content and change of width.

use super::{OutOfRange, Range, air};

/// Valid temperatures of the equilibrium equation. The table it was fitted to begins at -1 °C;
/// below, down to -20 °C, it is extrapolated.
pub const WOOD_C: Range = Range {
    what: "wood temperature",
    unit: "°C",
    low: -20.0,
    high: 60.0,
    fix: "check the unit (°C or °F) and the probe",
};

/// Valid humidities of the equilibrium equation; over 100 % a wet probe counts as 100 %.
pub const WOOD_RH_PCT: Range = Range {
    what: "relative humidity",
    unit: "%",
    low: 0.0,
    high: 120.0,
    fix: "give it as a percentage (45, not 0.45) and check the probe",
};

/// Moisture contents between which the change of width is in proportion to the change of moisture.
pub const PROPORTIONAL_MC_PCT: Range = Range {
    what: "wood moisture content",
    unit: "%",
    low: 6.0,
    high: 14.0,
    fix: "outside it take the equation with total shrinkage",
};

/// Moisture contents between which wood shrinks and swells at all: oven-dry to fiber saturation.
pub const SHRINKING_MC_PCT: Range = Range {
    what: "wood moisture content",
    unit: "%",
    low: 0.0,
    high: 30.0,
    fix: "over 30 % wood no longer swells; check the meter and its species setting",
};

/// Valid widths of a board.
pub const WIDTH_MM: Range = Range {
    what: "board width",
    unit: "mm",
    low: 1.0,
    high: 2000.0,
    fix: "check the unit (1 in = 25.4 mm)",
};

/// Valid dimensional change coefficients.
pub const COEFFICIENT_PER_PCT: Range = Range {
    what: "dimensional change coefficient",
    unit: "per % MC",
    low: 0.0001,
    high: 0.01,
    fix: "give it as a fraction of the width for 1 % MC, such as 0.00365",
};

/// Valid total shrinkages, green to oven-dry.
pub const TOTAL_SHRINKAGE_PCT: Range = Range {
    what: "total shrinkage",
    unit: "%",
    low: 0.1,
    high: 25.0,
    fix: "give it as a percentage of the green width, such as 9.9",
};

/// Equilibrium moisture content of wood, in % of its oven-dry mass, in air of this temperature (-20
/// to 60 °C) and humidity (0 to 100 %, up to 120 % counted as 100 %).
///
/// The equation meets the handbook's table within 0.07 % MC for 5 to 95 %RH. It speaks of no
/// species in particular: a real board may differ by half a percent to one percent (our judgement),
/// and the U.S. Forest Service calls the data behind it good for practice only (FPL-GTR-229, 2014).
/// Source: Wood Handbook FPL-GTR-190 (2010) equation 4-5, SI coefficients.
///
/// # Errors
/// [`OutOfRange`] outside [`WOOD_C`] or [`WOOD_RH_PCT`].
pub fn emc_pct(temperature_c: f64, rh_pct: f64) -> Result<f64, OutOfRange> {
    let t = WOOD_C.check(temperature_c)?;
    let h = WOOD_RH_PCT.check(rh_pct)?.min(100.0) / 100.0;
    let w = 349.0 + t * (1.29 + t * 0.0135);
    let k = 0.805 + t * (0.000_736 - t * 0.000_002_73);
    let k1 = 6.27 - t * (0.009_38 + t * 0.000_303);
    let k2 = 1.91 + t * (0.0407 - t * 0.000_293);
    // In the valid range K stays under 0.85 and K2 over 0.9: both divisors are positive.
    let kh = k * h;
    let first = k1 * kh;
    let second = k1 * k2 * kh * kh;
    Ok(1800.0 / w * (kh / (1.0 - kh) + (first + 2.0 * second) / (1.0 + first + second)))
}

/// Equilibrium moisture content, in %, of wood at the temperature of the floor surface, in contact
/// with the room's air.
///
/// The worst case: wood in full equilibrium with the warm, and so drier, air at the surface.
/// Source: [`emc_pct`] at the surface temperature and [`air::rh_at_surface_pct`] (derived).
///
/// # Errors
/// [`OutOfRange`] outside [`air::AIR_C`], [`air::RH_PCT`] or [`WOOD_C`].
pub fn emc_at_surface_pct(air_c: f64, rh_pct: f64, surface_c: f64) -> Result<f64, OutOfRange> {
    let at_surface_pct = air::rh_at_surface_pct(air_c, rh_pct, surface_c)?;
    // Where water condenses the wood is as wet as air can make it.
    emc_pct(surface_c, at_surface_pct.min(100.0))
}

/// Change of width, in mm, of a board whose moisture content goes from one value to another, both
/// within 6 to 14 %; negative for shrinking.
///
/// The coefficient is the fraction of the width for 1 % MC (see [`super::species`]).
/// Source: Wood Handbook FPL-GTR-190 (2010) equation 13-2.
///
/// # Errors
/// [`OutOfRange`] outside [`WIDTH_MM`], [`COEFFICIENT_PER_PCT`] or [`PROPORTIONAL_MC_PCT`]; beyond
/// the last, [`width_change_by_shrinkage_mm`] holds.
pub fn width_change_mm(
    width_mm: f64,
    coefficient_per_pct: f64,
    from_mc_pct: f64,
    to_mc_pct: f64,
) -> Result<f64, OutOfRange> {
    let change_pct =
        PROPORTIONAL_MC_PCT.check(to_mc_pct)? - PROPORTIONAL_MC_PCT.check(from_mc_pct)?;
    Ok(WIDTH_MM.check(width_mm)? * COEFFICIENT_PER_PCT.check(coefficient_per_pct)? * change_pct)
}

/// Change of width, in mm, of a board whose moisture content goes from one value to another, both
/// within 0 to 30 %; negative for shrinking.
///
/// The total shrinkage is from green to oven-dry, in % of the green width, along the width.
/// Source: Wood Handbook FPL-GTR-190 (2010) equation 13-3 (from memory).
///
/// # Errors
/// [`OutOfRange`] outside [`WIDTH_MM`], [`TOTAL_SHRINKAGE_PCT`] or [`SHRINKING_MC_PCT`].
pub fn width_change_by_shrinkage_mm(
    width_mm: f64,
    total_shrinkage_pct: f64,
    from_mc_pct: f64,
    to_mc_pct: f64,
) -> Result<f64, OutOfRange> {
    let from_mc_pct = SHRINKING_MC_PCT.check(from_mc_pct)?;
    let change_pct = SHRINKING_MC_PCT.check(to_mc_pct)? - from_mc_pct;
    // Total shrinkage is at most 25 %: the divisor is at least 90.
    let divisor = 3000.0 / TOTAL_SHRINKAGE_PCT.check(total_shrinkage_pct)? - 30.0 + from_mc_pct;
    Ok(WIDTH_MM.check(width_mm)? * change_pct / divisor)
}

/// Total shrinkage, in % of the green width, that belongs to a dimensional change coefficient.
///
/// Table 13-5 takes its coefficients from equation 13-3 at 10 % MC (from memory; the unit test
/// checks it on the shrinkages of Table 4-3), so that the coefficient of a species is enough for
/// both equations.
///
/// # Errors
/// [`OutOfRange`] outside [`COEFFICIENT_PER_PCT`].
pub fn total_shrinkage_pct(coefficient_per_pct: f64) -> Result<f64, OutOfRange> {
    Ok(3000.0 / (1.0 / COEFFICIENT_PER_PCT.check(coefficient_per_pct)? + 20.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::species::{Cut, find};

    #[test]
    fn dry_air_dries_wood_out_and_wet_probes_count_as_saturated() {
        assert!(emc_pct(20.0, 0.0).unwrap().abs() < 1e-12);
        assert_eq!(emc_pct(20.0, 101.0), emc_pct(20.0, 100.0));
        assert_eq!(emc_pct(20.0, 130.0).unwrap_err().what, "relative humidity");
        assert_eq!(emc_pct(75.0, 30.0).unwrap_err().what, "wood temperature");
    }

    #[test]
    fn wood_on_a_condensing_surface_is_as_wet_as_air_can_make_it() {
        assert_eq!(emc_at_surface_pct(25.0, 80.0, 15.0), emc_pct(15.0, 100.0));
    }

    #[test]
    fn the_proportional_equation_refuses_what_it_does_not_cover() {
        for (from, to) in [(5.9, 8.0), (8.0, 14.1), (f64::NAN, 8.0)] {
            let error = width_change_mm(127.0, 0.00365, from, to).unwrap_err();
            assert_eq!(error.what, "wood moisture content");
        }
        assert!(width_change_mm(127.0, 0.00365, 6.0, 14.0).is_ok());
    }

    #[test]
    fn total_shrinkage_takes_a_board_from_green_to_oven_dry() {
        let change_mm = width_change_by_shrinkage_mm(100.0, 9.9, 30.0, 0.0).unwrap();
        assert!((change_mm + 9.9).abs() < 1e-9, "{change_mm}");
    }

    /// Tangential and radial shrinkage, Wood Handbook FPL-GTR-190 (2010) Table 4-3 (from memory).
    #[test]
    fn coefficients_and_total_shrinkages_of_the_handbook_agree() {
        for (name, tangential_pct, radial_pct) in [
            ("maple, sugar", 9.9, 4.8),
            ("beech, American", 11.9, 5.5),
            ("birch, yellow", 9.5, 7.3),
            ("walnut, black", 7.8, 5.5),
            ("ash, white", 7.8, 4.9),
            ("cherry, black", 7.1, 3.7),
        ] {
            let species = find(name).unwrap();
            for (cut, expected_pct) in
                [(Cut::PlainSawn, tangential_pct), (Cut::QuarterSawn, radial_pct)]
            {
                let pct = total_shrinkage_pct(species.coefficient_per_pct(cut)).unwrap();
                // The coefficient is printed to 0.00001, which is 0.03 % of shrinkage.
                assert!((pct - expected_pct).abs() < 0.03, "{name}: {pct} for {expected_pct}");
            }
        }
    }

    #[test]
    fn the_two_equations_agree_about_ten_percent() {
        let shrinkage_pct = total_shrinkage_pct(0.00365).unwrap();
        let wide_mm = width_change_by_shrinkage_mm(127.0, shrinkage_pct, 10.0, 8.0).unwrap();
        let narrow_mm = width_change_mm(127.0, 0.00365, 10.0, 8.0).unwrap();
        assert!((wide_mm - narrow_mm).abs() < 1e-9, "{wide_mm} and {narrow_mm}");
    }
}
