//! Everything that follows from the readings of a pocket meter.

use serde::Serialize;

use super::{OutOfRange, Range, air, wood};

/// Humidity that a pocket meter can truthfully show. Under 1 % it is a fraction typed as a percentage.
const METER_RH_PCT: Range = Range { low: 1.0, high: 100.0, ..air::RH_PCT };
/// Air temperatures for which both the air and the wood formulas hold.
const METER_AIR_C: Range = Range { low: -20.0, ..air::AIR_C };
/// Surface temperatures for which both the air and the wood formulas hold.
const METER_SURFACE_C: Range = Range { low: -20.0, ..air::SURFACE_C };

/// Air as measured, and what it does to wood and to a surface.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AirState {
    /// Dew point over water, °C.
    pub dew_point_c: f64,
    /// Frost point over ice, °C; the dew point where that is not below 0 °C.
    pub frost_point_c: f64,
    /// Water vapor to dry air, kg/kg.
    pub humidity_ratio: f64,
    /// Water vapor in the air, g/m³.
    pub absolute_humidity_g_m3: f64,
    /// Partial pressure of the water vapor, Pa.
    pub vapor_pressure_pa: f64,
    /// Equilibrium moisture content of wood in this air, % of its oven-dry mass.
    pub emc_pct: f64,
    /// Enthalpy of the moist air, kJ to one kg of dry air.
    pub enthalpy_kj_kg: f64,
    /// Relative humidity at the surface, %; over 100 where water condenses.
    pub rh_at_surface_pct: Option<f64>,
    /// Equilibrium moisture content of wood at the surface, %.
    pub emc_at_surface_pct: Option<f64>,
    /// Surface temperature minus dew point over water, K.
    pub surface_margin_c: Option<f64>,
}

/// Works out the state of the air from a pocket meter: air temperature in °C (-20 to 60), relative
/// humidity over water in % (1 to 100), surface temperature in °C (-20 to 60) if taken, and the
/// pressure on site in Pa (50 000 to 110 000; see [`air::standard_pressure_pa`]).
///
/// Sources: those of the functions in [`air`] and [`wood`].
///
/// # Errors
/// [`OutOfRange`] for the first reading outside those ranges.
pub fn air_state(
    air_c: f64,
    rh_pct: f64,
    surface_c: Option<f64>,
    pressure_pa: f64,
) -> Result<AirState, OutOfRange> {
    METER_AIR_C.check(air_c)?;
    METER_RH_PCT.check(rh_pct)?;
    let surface_c = surface_c.map(|surface_c| METER_SURFACE_C.check(surface_c)).transpose()?;
    let at_surface = |f: fn(f64, f64, f64) -> Result<f64, OutOfRange>| {
        surface_c.map(|surface_c| f(air_c, rh_pct, surface_c)).transpose()
    };
    Ok(AirState {
        dew_point_c: air::dew_point_c(air_c, rh_pct)?,
        frost_point_c: air::frost_point_c(air_c, rh_pct)?,
        humidity_ratio: air::humidity_ratio(air_c, rh_pct, pressure_pa)?,
        absolute_humidity_g_m3: air::absolute_humidity_g_m3(air_c, rh_pct)?,
        vapor_pressure_pa: air::vapor_pressure_pa(air_c, rh_pct)?,
        emc_pct: wood::emc_pct(air_c, rh_pct)?,
        enthalpy_kj_kg: air::enthalpy_kj_kg(air_c, rh_pct, pressure_pa)?,
        rh_at_surface_pct: at_surface(air::rh_at_surface_pct)?,
        emc_at_surface_pct: at_surface(wood::emc_at_surface_pct)?,
        surface_margin_c: at_surface(air::surface_margin_c)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_surface_its_fields_are_absent() {
        let state = air_state(21.0, 45.0, None, air::SEA_LEVEL_PA).unwrap();
        assert_eq!(state.rh_at_surface_pct, None);
        assert_eq!(state.emc_at_surface_pct, None);
        assert_eq!(state.surface_margin_c, None);
    }

    #[test]
    fn each_reading_is_refused_by_its_own_name() {
        let cases = [
            ((70.0, 45.0, None, 101_325.0), "air temperature", 70.0),
            ((21.0, 100.5, None, 101_325.0), "relative humidity", 100.5),
            ((21.0, 0.45, None, 101_325.0), "relative humidity", 0.45),
            ((21.0, 45.0, Some(65.0), 101_325.0), "surface temperature", 65.0),
            ((21.0, 45.0, Some(-20.5), 101_325.0), "surface temperature", -20.5),
            ((21.0, 45.0, Some(18.0), 1013.25), "air pressure", 1013.25),
            ((-25.0, 45.0, None, 101_325.0), "air temperature", -25.0),
        ];
        for ((air_c, rh_pct, surface_c, pressure_pa), what, value) in cases {
            let error = air_state(air_c, rh_pct, surface_c, pressure_pa).unwrap_err();
            assert_eq!((error.what, error.value), (what, value), "{error}");
        }
        let error = air_state(70.0, 45.0, None, 101_325.0).unwrap_err();
        assert_eq!(
            error.to_string(),
            "air temperature: 70 °C is not within -20 to 60 °C; \
             check the unit (°C or °F) and the probe"
        );
    }

    #[test]
    fn the_whole_meter_range_is_answered_with_finite_numbers() {
        for air_c in [-20.0, 0.0, 60.0] {
            for rh_pct in [1.0, 50.0, 100.0] {
                for surface_c in [-20.0, 60.0] {
                    let state = air_state(air_c, rh_pct, Some(surface_c), 85_000.0).unwrap();
                    // JSON has no NaN or infinity: serde_json turns them into null.
                    let json = serde_json::to_value(state).unwrap();
                    let fields = json.as_object().unwrap();
                    assert_eq!(fields.len(), 10);
                    for (name, value) in fields {
                        assert!(value.is_f64(), "{name} at {air_c}, {rh_pct}, {surface_c}");
                    }
                }
            }
        }
    }
}
