//! What must hold for all values, not only for those that a table happens to print.

use proptest::prelude::*;

use super::air::{
    absolute_humidity_g_m3, dew_point_c, enthalpy_kj_kg, frost_point_c, humidity_ratio,
    rh_at_surface_pct, vapor_pressure_pa,
};
use super::air_state;
use super::concrete::{Maturity, emission_lb_1000ft2_24h, temperature_time_c_h};
use super::floor::{floor_for_flux_c, heat_flux_w_m2, wood_surface_c};
use super::salt::{Salt, apparent_rh_pct};
use super::wood::{emc_at_surface_pct, emc_pct, width_change_by_shrinkage_mm, width_change_mm};

proptest! {
    #[test]
    fn dew_point_is_never_above_the_air_and_rises_with_humidity(
        air_c in -40.0..=60.0,
        (low, high) in (0.01..=100.0, 0.01..=100.0_f64).prop_filter("apart", |(a, b)| b - a > 0.01),
    ) {
        let low_c = dew_point_c(air_c, low).unwrap();
        let high_c = dew_point_c(air_c, high).unwrap();
        prop_assert!(low_c < high_c);
        prop_assert!(high_c <= air_c + 1e-9);
    }

    #[test]
    fn frost_point_lies_between_dew_point_and_freezing(
        air_c in -40.0..=60.0,
        rh_pct in 0.01..=100.0,
    ) {
        let dew_c = dew_point_c(air_c, rh_pct).unwrap();
        let frost_c = frost_point_c(air_c, rh_pct).unwrap();
        if dew_c < 0.0 {
            prop_assert!(dew_c <= frost_c && frost_c <= 0.0, "{dew_c}, {frost_c}");
        } else {
            prop_assert_eq!(dew_c, frost_c);
        }
    }

    #[test]
    fn air_cooled_to_its_dew_point_is_saturated(air_c in 0.0..=40.0, rh_pct in 20.0..=100.0) {
        let dew_c = dew_point_c(air_c, rh_pct).unwrap();
        prop_assert!((rh_at_surface_pct(air_c, rh_pct, dew_c).unwrap() - 100.0).abs() < 0.4);
    }

    #[test]
    fn humidity_at_a_surface_of_air_temperature_is_that_of_the_air(
        air_c in -40.0..=60.0,
        rh_pct in 0.01..=120.0,
    ) {
        prop_assert_eq!(rh_at_surface_pct(air_c, rh_pct, air_c).unwrap(), rh_pct);
        prop_assert_eq!(apparent_rh_pct(rh_pct, air_c, air_c).unwrap(), rh_pct);
    }

    #[test]
    fn a_warmer_surface_is_drier_and_its_wood_too(
        air_c in 0.0..=40.0,
        rh_pct in 5.0..=60.0,
        rise_c in 0.5..=15.0,
    ) {
        let surface_c = air_c + rise_c;
        prop_assert!(rh_at_surface_pct(air_c, rh_pct, surface_c).unwrap() < rh_pct);
        let at_surface_pct = emc_at_surface_pct(air_c, rh_pct, surface_c).unwrap();
        prop_assert!(at_surface_pct < emc_pct(air_c, rh_pct).unwrap());
    }

    #[test]
    fn measures_of_vapor_agree_by_the_gas_law(
        air_c in -20.0..=60.0,
        rh_pct in 1.0..=100.0,
        pressure_pa in 55_000.0..=108_000.0,
    ) {
        let vapor_pa = vapor_pressure_pa(air_c, rh_pct).unwrap();
        let ratio = humidity_ratio(air_c, rh_pct, pressure_pa).unwrap();
        // Both gases fill the same room: the ratio of masses is the ratio of densities.
        let dry_g_m3 = 1000.0 * (pressure_pa - vapor_pa) / (287.042 * (air_c + 273.15));
        let vapor_g_m3 = absolute_humidity_g_m3(air_c, rh_pct).unwrap();
        prop_assert!((vapor_g_m3 / dry_g_m3 / ratio - 1.0).abs() < 1e-9);
        let dry_kj_kg = 1.006 * air_c;
        prop_assert!(enthalpy_kj_kg(air_c, rh_pct, pressure_pa).unwrap() > dry_kj_kg);
    }

    #[test]
    fn wood_gets_wetter_with_humidity(
        air_c in -20.0..=60.0,
        low in 0.0..=99.0,
        rise in 0.05..=1.0,
    ) {
        prop_assert!(emc_pct(air_c, low).unwrap() < emc_pct(air_c, low + rise).unwrap());
        prop_assert!((0.0..=35.0).contains(&emc_pct(air_c, low + rise).unwrap()));
    }

    #[test]
    fn a_board_that_swells_shrinks_back(
        width_mm in 50.0..=300.0,
        coefficient in 0.001..=0.005,
        shrinkage_pct in 2.0..=15.0,
        from in 6.0..=14.0,
        to in 6.0..=14.0,
    ) {
        let out_mm = width_change_mm(width_mm, coefficient, from, to).unwrap();
        let back_mm = width_change_mm(width_mm, coefficient, to, from).unwrap();
        prop_assert!((out_mm + back_mm).abs() < 1e-9);
        prop_assert_eq!(out_mm > 0.0, to > from);
        // The equation with total shrinkage returns to the very width it came from.
        let out_mm = width_change_by_shrinkage_mm(width_mm, shrinkage_pct, from, to).unwrap();
        let wide_mm = width_mm + out_mm;
        let back_mm = width_change_by_shrinkage_mm(wide_mm, shrinkage_pct, to, from).unwrap();
        prop_assert!((out_mm + back_mm).abs() < 1e-9);
    }

    #[test]
    fn warmer_concrete_ages_faster_and_frost_adds_nothing(
        cold_c in -40.0..=88.0,
        rise_c in 0.1..=2.0,
    ) {
        let maturity = Maturity::default();
        let cold = maturity.age_factor(cold_c).unwrap();
        let warm = maturity.age_factor(cold_c + rise_c).unwrap();
        prop_assert_eq!(cold == 0.0, cold_c < 0.0);
        prop_assert!(warm >= cold && (warm > cold || warm == 0.0));
        prop_assert!(temperature_time_c_h(cold_c, 24.0, 0.0).unwrap() >= 0.0);
    }

    #[test]
    fn emission_is_in_proportion_to_gain_and_time(
        gain_g in 0.1..=50.0,
        area_m2 in 0.03..=0.06,
        exposure_h in 24.0..=200.0,
    ) {
        let rate = emission_lb_1000ft2_24h(gain_g, area_m2, exposure_h).unwrap();
        let same = emission_lb_1000ft2_24h(gain_g * 2.0, area_m2, exposure_h * 2.0).unwrap();
        prop_assert!((rate / same - 1.0).abs() < 1e-12);
    }

    #[test]
    fn flux_and_its_inverse_round_trip(floor_c in -40.0..=80.0, air_c in -40.0..=60.0) {
        let flux_w_m2 = heat_flux_w_m2(floor_c, air_c).unwrap();
        prop_assert_eq!(flux_w_m2 > 0.0, floor_c > air_c);
        prop_assert!((floor_for_flux_c(flux_w_m2, air_c).unwrap() - floor_c).abs() < 1e-9);
    }

    #[test]
    fn wood_surface_lies_between_slab_and_air_and_passes_on_the_heat(
        slab_c in -40.0..=80.0,
        air_c in -40.0..=60.0,
        wood_m2k_w in 0.0001..=2.0,
    ) {
        let wood_c = wood_surface_c(slab_c, air_c, wood_m2k_w).unwrap();
        prop_assert!(slab_c.min(air_c) <= wood_c && wood_c <= slab_c.max(air_c));
        let through_w_m2 = (slab_c - wood_c) / wood_m2k_w;
        let off_w_m2 = heat_flux_w_m2(wood_c, air_c).unwrap();
        prop_assert!((through_w_m2 - off_w_m2).abs() < 1e-6 * (1.0 + off_w_m2.abs()) / wood_m2k_w);
    }

    #[test]
    fn salts_hold_a_humidity_that_a_probe_can_read(
        index in 0..Salt::ALL.len(),
        salt_c in 5.0..=30.0,
    ) {
        let rh_pct = Salt::ALL[index].rh_pct(salt_c).unwrap();
        prop_assert!((10.0..=99.0).contains(&rh_pct));
        prop_assert!(apparent_rh_pct(rh_pct, salt_c, salt_c + 1.0).unwrap() < rh_pct);
    }

    /// No input at all yields a number that is not finite.
    #[test]
    fn any_input_gives_an_error_or_finite_numbers(
        air_c in wild(-25.0, 65.0),
        rh_pct in wild(-1.0, 110.0),
        surface_c in wild(-25.0, 65.0),
        pressure_pa in wild(45_000.0, 115_000.0),
    ) {
        let in_range = (-20.0..=60.0).contains(&air_c)
            && (1.0..=100.0).contains(&rh_pct)
            && (-20.0..=60.0).contains(&surface_c)
            && (50_000.0..=110_000.0).contains(&pressure_pa);
        let state = air_state(air_c, rh_pct, Some(surface_c), pressure_pa);
        prop_assert_eq!(state.is_ok(), in_range);
        if let Ok(state) = state {
            // JSON has no NaN or infinity; they would turn into null.
            prop_assert!(!serde_json::to_string(&state).unwrap().contains("null"));
        }
    }
}

/// Mostly a value about the valid range, sometimes anything that a float can hold.
fn wild(low: f64, high: f64) -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => low..=high,
        1 => any::<f64>(),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0]),
    ]
}
