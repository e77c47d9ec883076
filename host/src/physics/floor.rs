//! Heat from a floor, and the temperature on top of the wood.

use super::{OutOfRange, Range, air};

/// Valid temperatures of a slab or floor surface.
pub const FLOOR_C: Range = Range {
    what: "floor temperature",
    unit: "°C",
    low: -40.0,
    high: 80.0,
    fix: "check the unit (°C or °F) and the probe",
};

/// Valid thermal resistances of what lies on the slab.
pub const RESISTANCE_M2K_W: Range = Range {
    what: "thermal resistance of the wood",
    unit: "m2K/W",
    low: 0.0,
    high: 2.0,
    fix: "divide the thickness in m by the conductivity in W/(m K); 18 mm of oak is about 0.1",
};

/// Valid thicknesses of a floor covering.
pub const THICKNESS_MM: Range = Range {
    what: "thickness of the wood",
    unit: "mm",
    low: 0.5,
    high: 200.0,
    fix: "check the unit (1 in = 25.4 mm)",
};

/// Valid conductivities of a floor covering.
pub const CONDUCTIVITY_W_MK: Range = Range {
    what: "thermal conductivity of the wood",
    unit: "W/(m K)",
    low: 0.02,
    high: 5.0,
    fix: "take the value of the data sheet; wood has 0.1 to 0.2",
};

/// Valid heat fluxes; the low end is a freezing floor in a hot room.
pub const FLUX_W_M2: Range = Range {
    what: "heat flux from the floor",
    unit: "W/m2",
    low: -700.0,
    high: 1740.0,
    fix: "divide the heat output by the heated area",
};

/// Conductivity of hardwood of 700 kg/m³, in W/(m K) (EN ISO 10456, from memory).
pub const HARDWOOD_W_MK: f64 = 0.18;
/// Conductivity of softwood, or plywood, of 500 kg/m³, in W/(m K) (EN ISO 10456, from memory).
pub const SOFTWOOD_W_MK: f64 = 0.13;

/// Coefficient of a warm floor, in W/(m² K^1.1).
const WARM_W: f64 = 8.92;
/// Exponent of a warm floor.
const WARM_EXPONENT: f64 = 1.1;
/// Coefficient of a cold floor, in W/(m² K): cold air lies on it, and convection is weaker.
const COLD_W_M2K: f64 = 7.0;

/// Heat that a floor surface gives to the room, in W/m²; negative from the room to a cold floor.
///
/// Source: basic characteristic of EN 1264-2 and ISO 11855-2:2021 equation 1, 8.92 (tF - ti)^1.1,
/// for a floor warmer than the room; 7 (tF - ti) for a colder one (ISO 11855-2, from memory).
///
/// # Errors
/// [`OutOfRange`] outside [`FLOOR_C`] or [`air::AIR_C`].
pub fn heat_flux_w_m2(floor_c: f64, air_c: f64) -> Result<f64, OutOfRange> {
    let over_air_c = FLOOR_C.check(floor_c)? - air::AIR_C.check(air_c)?;
    Ok(if over_air_c > 0.0 {
        WARM_W * over_air_c.powf(WARM_EXPONENT)
    } else {
        COLD_W_M2K * over_air_c
    })
}

/// Temperature, in °C, of a floor surface that gives this heat to the room; the inverse of
/// [`heat_flux_w_m2`].
///
/// # Errors
/// [`OutOfRange`] outside [`FLUX_W_M2`] or [`air::AIR_C`].
pub fn floor_for_flux_c(flux_w_m2: f64, air_c: f64) -> Result<f64, OutOfRange> {
    let flux_w_m2 = FLUX_W_M2.check(flux_w_m2)?;
    let over_air_c = if flux_w_m2 > 0.0 {
        (flux_w_m2 / WARM_W).powf(1.0 / WARM_EXPONENT)
    } else {
        flux_w_m2 / COLD_W_M2K
    };
    Ok(air::AIR_C.check(air_c)? + over_air_c)
}

/// Thermal resistance of a layer, in m²K/W, from its thickness in mm and conductivity in W/(m K).
///
/// # Errors
/// [`OutOfRange`] outside [`THICKNESS_MM`], [`CONDUCTIVITY_W_MK`] or [`RESISTANCE_M2K_W`].
pub fn resistance_m2k_w(thickness_mm: f64, conductivity_w_mk: f64) -> Result<f64, OutOfRange> {
    let thickness_m = THICKNESS_MM.check(thickness_mm)? / 1000.0;
    RESISTANCE_M2K_W.check(thickness_m / CONDUCTIVITY_W_MK.check(conductivity_w_mk)?)
}

/// Temperature on top of the wood, in °C, from the slab surface under it, the air of the room and
/// the resistance of the wood in m²K/W.
///
/// The steady state, in which the heat through the wood equals what its surface gives off. It lies
/// between slab and air. Real wood lags behind its slab: while that warms up, the result is too high,
/// the safe side for a maximum; while that cools down, it is too low.
/// Source: conduction through a layer, with [`heat_flux_w_m2`] on top (derived).
///
/// # Errors
/// [`OutOfRange`] outside [`FLOOR_C`], [`air::AIR_C`] or [`RESISTANCE_M2K_W`].
pub fn wood_surface_c(slab_c: f64, air_c: f64, wood_m2k_w: f64) -> Result<f64, OutOfRange> {
    let drop_c = FLOOR_C.check(slab_c)? - air::AIR_C.check(air_c)?;
    let wood_m2k_w = RESISTANCE_M2K_W.check(wood_m2k_w)?;
    if drop_c <= 0.0 {
        return Ok(air_c + drop_c / (1.0 + COLD_W_M2K * wood_m2k_w));
    }
    // With x the excess of the wood over the air, f(x) = R q(x) + x - drop rises and curves upward,
    // and f(drop) >= 0: Newton's steps from there go down to the root and never past it.
    let mut over_air_c = drop_c;
    for _ in 0..MAX_STEPS {
        let flux_w_m2 = WARM_W * over_air_c.powf(WARM_EXPONENT);
        let slope = 1.0 + wood_m2k_w * WARM_EXPONENT * flux_w_m2 / over_air_c;
        let step_c = (wood_m2k_w * flux_w_m2 + over_air_c - drop_c) / slope;
        over_air_c -= step_c;
        // Rounding may carry a tiny excess to zero, where the next slope would be 0/0.
        if step_c < STEP_END_C || over_air_c <= 0.0 {
            break;
        }
    }
    Ok(air_c + over_air_c.clamp(0.0, drop_c))
}

/// Newton's steps needed at most; the hardest corner of the ranges takes six.
const MAX_STEPS: u32 = 20;
/// A step below this, in K, ends the search.
const STEP_END_C: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_wood_the_surface_is_the_slab() {
        assert_eq!(wood_surface_c(28.0, 20.0, 0.0), Ok(28.0));
        assert_eq!(wood_surface_c(12.0, 20.0, 0.0), Ok(12.0));
        assert_eq!(wood_surface_c(20.0, 20.0, 0.1), Ok(20.0));
    }

    #[test]
    fn heat_through_the_wood_equals_heat_into_the_room() {
        for (slab_c, air_c, wood_m2k_w) in [
            (30.0, 20.0, 0.1),
            (80.0, -40.0, 2.0),
            (80.0, -40.0, 0.001),
            (20.001, 20.0, 0.15),
            (14.0, 22.0, 0.1),
            (-40.0, 60.0, 2.0),
        ] {
            let wood_c = wood_surface_c(slab_c, air_c, wood_m2k_w).unwrap();
            let through_w_m2 = (slab_c - wood_c) / wood_m2k_w;
            let off_w_m2 = heat_flux_w_m2(wood_c, air_c).unwrap();
            assert!(
                (through_w_m2 - off_w_m2).abs() < 1e-5,
                "{slab_c}, {air_c}, {wood_m2k_w}: {through_w_m2} and {off_w_m2}"
            );
        }
    }

    #[test]
    fn slabs_a_rounding_error_above_the_air_are_answered() {
        for drop_c in [f64::EPSILON * 20.0, 1e-12, 1e-9, 1e-6] {
            let wood_c = wood_surface_c(20.0 + drop_c, 20.0, 2.0).unwrap();
            assert!((20.0..=20.0 + drop_c).contains(&wood_c), "{drop_c}: {wood_c}");
        }
    }

    #[test]
    fn a_cold_floor_takes_heat() {
        assert_eq!(heat_flux_w_m2(18.0, 20.0), Ok(-14.0));
        assert_eq!(floor_for_flux_c(-14.0, 20.0), Ok(18.0));
        assert_eq!(heat_flux_w_m2(20.0, 20.0), Ok(0.0));
    }

    #[test]
    fn every_valid_pair_of_temperatures_has_a_valid_flux() {
        for (floor_c, air_c) in [(FLOOR_C.low, air::AIR_C.high), (FLOOR_C.high, air::AIR_C.low)] {
            FLUX_W_M2.check(heat_flux_w_m2(floor_c, air_c).unwrap()).unwrap();
        }
    }

    #[test]
    fn resistance_is_thickness_over_conductivity() {
        assert!((resistance_m2k_w(18.0, 0.18).unwrap() - 0.1).abs() < 1e-12);
        assert_eq!(resistance_m2k_w(0.018, 0.18).unwrap_err().what, THICKNESS_MM.what);
        assert_eq!(resistance_m2k_w(18.0, 0.0).unwrap_err().what, CONDUCTIVITY_W_MK.what);
        assert_eq!(wood_surface_c(90.0, 20.0, 0.1).unwrap_err().what, FLOOR_C.what);
        assert_eq!(wood_surface_c(30.0, 20.0, f64::NAN).unwrap_err().what, RESISTANCE_M2K_W.what);
    }
}
