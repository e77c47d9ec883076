//! The physics against published tables, worked examples and general-purpose libraries.
//!
//! Every point of `fixtures/reference/points.json` names its source. A quantity that nobody answers
//! for fails the test, and so does a point that went missing.
#![allow(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::unwrap_used,
    reason = "an integration test is test code throughout; a panic here is a failing test"
)]

mod reference_points;

use std::collections::BTreeMap;

use glueday::physics::concrete::{self, M2_PER_FT2, Maturity};
use glueday::physics::salt::{ICE_POINT_C, Salt, apparent_rh_pct};
use glueday::physics::species::{self, Cut};
use glueday::physics::{OutOfRange, air, air_state, floor, wood};
use reference_points::{PROTOCOL, Point, assert_counts, listed, points};
use serde_json::Value;

/// Points of each physical quantity.
const PHYSICS: &[(&str, usize)] = &[
    ("absolute_humidity_g_per_m3", 38),
    ("activation_energy_from_Q_J_per_mol", 1),
    ("age_conversion_factor", 11),
    ("apparent_RH_pct", 3),
    ("dew_margin_C", 7),
    ("dew_point_C", 38),
    ("dew_point_over_water_C", 5),
    ("dimensional_change_coefficient_per_pct_MC", 7),
    ("emc_at_floor_surface_pct", 4),
    ("emc_pct_equation", 10),
    ("emc_pct_table", 39),
    ("enthalpy_kJ_per_kg_dry_air", 38),
    ("equivalent_age_h", 3),
    ("floor_heat_flux_W_per_m2", 6),
    ("floor_temperature_for_flux_C", 2),
    ("humidity_ratio_kg_per_kg", 38),
    ("ice_point_C", 1),
    ("mver_constant", 1),
    ("mver_lb_per_1000ft2_24h", 3),
    ("rh_at_surface_pct", 4),
    ("saturated_salt_RH_pct", 31),
    ("saturation_vapour_pressure", 10),
    ("saturation_vapour_pressure_over_supercooled_water", 1),
    ("standard_atmosphere_pressure_Pa", 4),
    ("temperature_time_factor_C_day", 1),
    ("temperature_time_factor_C_h", 5),
    ("vapour_pressure_Pa", 4),
    ("width_change_in", 1),
    ("width_change_mm", 4),
];

const MM_PER_IN: f64 = 25.4;

#[test]
fn physics_meets_every_published_point() {
    let mut checked = BTreeMap::new();
    let mut misses = Vec::new();
    for point in points() {
        if listed(PROTOCOL, &point.quantity) {
            continue;
        }
        *checked.entry(point.quantity.clone()).or_insert(0) += 1;
        misses.extend(compare(&point));
    }
    assert!(misses.is_empty(), "{} misses:\n{}", misses.len(), misses.join("\n"));
    assert_counts(&checked, PHYSICS);
}

#[test]
fn points_are_told_apart_and_name_their_source() {
    let points = points();
    let listed: usize = [PHYSICS, PROTOCOL].iter().copied().flatten().map(|(_, n)| n).sum();
    assert_eq!(points.len(), listed);
    let mut ids: Vec<&str> = points.iter().map(|point| point.id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), points.len(), "two points share an id");
    for point in &points {
        assert!(!point.source.trim().is_empty(), "{} has no source", point.id);
    }
}

/// What our functions miss of one point.
fn compare(point: &Point) -> Vec<String> {
    if point.quantity == "dimensional_change_coefficient_per_pct_MC" {
        return compare_coefficients(point);
    }
    let value = match compute(point) {
        Ok(value) => value,
        Err(error) => return vec![format!("{} ({}): {error}", point.id, point.quantity)],
    };
    let mut misses = Vec::new();
    let mut expect = |what: &str, expected: &Value, holds: &dyn Fn(f64) -> bool| {
        let expected = expected.as_f64().unwrap_or(f64::NAN);
        if !holds(expected) {
            misses.push(format!(
                "{} ({}, {what}): {value} for {expected}; {}",
                point.id, point.quantity, point.source
            ));
        }
    };
    expect("source", &point.expected, &|expected| point.tolerance.holds(value, expected));
    for (by, other) in &point.xcheck {
        match by.as_str() {
            // The name of the library whose number follows as `value`.
            "lib" => {}
            "value" | "eq_IP" | "eq_SI" => {
                expect(by, other, &|other| point.tolerance.holds(value, other));
            }
            _ => panic!("{}: nobody answers for the cross-check {by:?}", point.id),
        }
    }
    if let Some(table) = &point.table {
        let uncertainty = table["uncertainty"].as_f64().unwrap_or(f64::NAN);
        expect("table", &table["value"], &|printed| (value - printed).abs() <= uncertainty);
    }
    if let Some(passes) = point.passes
        && passes != (value >= point.number("rule_min_margin_C"))
    {
        misses.push(format!("{}: margin {value} turns its rule around", point.id));
    }
    misses
}

fn compare_coefficients(point: &Point) -> Vec<String> {
    let name = point.text("species");
    let Some(species) = species::find(name) else {
        return vec![format!("{}: no species {name:?}", point.id)];
    };
    [("CR", Cut::QuarterSawn), ("CT", Cut::PlainSawn)]
        .into_iter()
        .filter_map(|(column, cut)| {
            let value = species.coefficient_per_pct(cut);
            let expected = point.expected[column].as_f64().unwrap_or(f64::NAN);
            (!point.tolerance.holds(value, expected))
                .then(|| format!("{} ({column}): {value} for {expected}", point.id))
        })
        .collect()
}

/// The quantity of a point by our own functions.
fn compute(point: &Point) -> Result<f64, OutOfRange> {
    let n = |input| point.number(input);
    match point.quantity.as_str() {
        "saturation_vapour_pressure" => {
            // As ASHRAE has it: over ice up to the triple point.
            if n("T_C") <= air::ICE_C.high {
                air::saturation_vapor_pressure_over_ice_pa(n("T_C"))
            } else {
                air::saturation_vapor_pressure_pa(n("T_C"))
            }
        }
        "saturation_vapour_pressure_over_supercooled_water" => {
            air::saturation_vapor_pressure_pa(n("T_C"))
        }
        "vapour_pressure_Pa" => air::vapor_pressure_pa(n("T_C"), over_water_pct(point)?),
        // The reference switches from dew to frost point below 0 °C.
        "dew_point_C" => air::frost_point_c(n("T_C"), over_water_pct(point)?),
        "dew_point_over_water_C" => air::dew_point_c(n("T_C"), over_water_pct(point)?),
        "dew_margin_C" => air::surface_margin_c(n("T_air_C"), n("RH_pct"), n("T_surface_C")),
        "humidity_ratio_kg_per_kg" => {
            air::humidity_ratio(n("T_C"), over_water_pct(point)?, n("P_Pa"))
        }
        "absolute_humidity_g_per_m3" => {
            air::absolute_humidity_g_m3(n("T_C"), over_water_pct(point)?)
        }
        "enthalpy_kJ_per_kg_dry_air" => {
            air::enthalpy_kj_kg(n("T_C"), over_water_pct(point)?, n("P_Pa"))
        }
        "standard_atmosphere_pressure_Pa" => air::standard_pressure_pa(n("altitude_m")),
        "rh_at_surface_pct" => {
            air::rh_at_surface_pct(n("T_air_C"), n("RH_air_pct"), n("T_surface_C"))
        }
        "emc_at_floor_surface_pct" => {
            wood::emc_at_surface_pct(n("T_air_C"), n("RH_air_pct"), n("T_surface_C"))
        }
        // The table's own scale is °F; its °C are rounded.
        "emc_pct_table" => wood::emc_pct((n("T_F") - 32.0) / 1.8, n("RH_pct")),
        "emc_pct_equation" => wood::emc_pct(n("T_C"), n("RH_pct")),
        "width_change_mm" | "width_change_in" => width_change(point),
        "saturated_salt_RH_pct" => Salt::from_formula(point.text("salt"))
            .unwrap_or_else(|| panic!("{}: no such salt", point.id))
            .rh_pct(n("T_C")),
        "ice_point_C" => Ok(ICE_POINT_C),
        "apparent_RH_pct" => apparent_rh_pct(n("RH_true_pct"), n("T_salt_C"), n("T_sensor_C")),
        "age_conversion_factor" => as_printed(point).age_factor(n("T_C")),
        "equivalent_age_h" => {
            sum(point, |concrete_c, hours| as_printed(point).equivalent_age_h(concrete_c, hours))
        }
        "temperature_time_factor_C_h" => sum(point, |concrete_c, hours| {
            concrete::temperature_time_c_h(concrete_c, hours, n("T0_C"))
        }),
        "temperature_time_factor_C_day" => {
            let c_h = concrete::temperature_time_c_h(n("T_C"), 24.0 * n("t_day"), n("T0_C"))?;
            Ok(c_h / 24.0)
        }
        "activation_energy_from_Q_J_per_mol" => concrete::activation_energy_j_mol(n("Q_K")),
        "mver_lb_per_1000ft2_24h" => {
            concrete::emission_lb_1000ft2_24h(n("gain_g"), n("area_ft2") * M2_PER_FT2, n("time_h"))
        }
        // The constant is the rate for 1 g, 1 ft² and 1 h.
        "mver_constant" => concrete::emission_lb_1000ft2_24h(1.0, M2_PER_FT2, 1.0),
        "floor_heat_flux_W_per_m2" => floor::heat_flux_w_m2(n("T_floor_C"), n("T_room_C")),
        "floor_temperature_for_flux_C" => floor::floor_for_flux_c(n("q_W_per_m2"), n("T_room_C")),
        other => panic!("{}: nobody answers for the quantity {other:?}", point.id),
    }
}

/// The humidity of a point over water: the reference counts it over ice below freezing.
fn over_water_pct(point: &Point) -> Result<f64, OutOfRange> {
    let (air_c, rh_pct) = (point.number("T_C"), point.number("RH_pct"));
    if air_c < 0.0 { air::rh_over_water_pct(air_c, rh_pct) } else { Ok(rh_pct) }
}

/// The maturity of a point, with nothing cut off below freezing.
fn as_printed(point: &Point) -> Maturity {
    Maturity {
        activation_k: point.number("Q_K"),
        reference_c: point.number("T_ref_C"),
        counts_from_c: None,
    }
}

/// The sum over the intervals of a point.
fn sum(
    point: &Point,
    interval: impl Fn(f64, f64) -> Result<f64, OutOfRange>,
) -> Result<f64, OutOfRange> {
    let series: Vec<(f64, f64)> =
        serde_json::from_value(point.inputs["series_T_C_dt_h"].clone()).unwrap();
    assert!(!series.is_empty(), "{}: an empty series sums to anything", point.id);
    series.into_iter().map(|(concrete_c, hours)| interval(concrete_c, hours)).sum()
}

/// The change of width of a point, in the unit of its width.
fn width_change(point: &Point) -> Result<f64, OutOfRange> {
    let coefficient = point.number("C");
    if let Some(species) = species::find(point.text("species")) {
        let cut = match point.text("direction") {
            "T" => Cut::PlainSawn,
            "R" => Cut::QuarterSawn,
            other => panic!("{}: direction {other:?}", point.id),
        };
        assert_eq!(species.coefficient_per_pct(cut), coefficient, "{}", point.id);
    }
    let (input, unit_mm) = match point.quantity.as_str() {
        "width_change_in" => ("width_in", MM_PER_IN),
        _ => ("width_mm", 1.0),
    };
    let change_mm = wood::width_change_mm(
        point.number(input) * unit_mm,
        coefficient,
        point.number("MC_initial_pct"),
        point.number("MC_final_pct"),
    )?;
    Ok(change_mm / unit_mm)
}

/// Sources: psychrolib 2.5.0 for the air, Wood Handbook FPL-GTR-190 equation 4-5 for the wood, both
/// as worked out for the points of 20 °C, 50 % and a floor of 27 °C.
#[test]
fn air_state_carries_the_published_values_under_its_promised_names() {
    let state = air_state(20.0, 50.0, Some(27.0), air::SEA_LEVEL_PA).unwrap();
    let json = serde_json::to_value(state).unwrap();
    let expected = [
        ("dew_point_c", 9.272, 0.1),
        ("frost_point_c", 9.272, 0.1),
        ("humidity_ratio", 0.007262, 0.00001),
        ("absolute_humidity_g_m3", 8.643, 0.01),
        ("vapor_pressure_pa", 1169.4, 0.5),
        ("emc_pct", 9.2711, 0.02),
        ("enthalpy_kj_kg", 38.55, 0.05),
        ("rh_at_surface_pct", 32.781, 0.05),
        ("emc_at_surface_pct", 6.48, 0.02),
        ("surface_margin_c", 27.0 - 9.272, 0.1),
    ];
    assert_eq!(json.as_object().unwrap().len(), expected.len());
    for (name, expected, width) in expected {
        let value = json[name].as_f64().unwrap_or_else(|| panic!("no number {name}"));
        assert!((value - expected).abs() <= width, "{name}: {value} for {expected}");
    }
}

/// Pressure acts on the humidity ratio alone. Source: psychrolib 2.5.0 at 84 kPa.
#[test]
fn the_pressure_on_site_counts() {
    let low = air_state(25.0, 90.0, None, 84_000.0).unwrap();
    let high = air_state(25.0, 90.0, None, air::SEA_LEVEL_PA).unwrap();
    assert!((low.humidity_ratio - 0.021861).abs() < 0.00001, "{}", low.humidity_ratio);
    assert!(low.humidity_ratio > high.humidity_ratio * 1.2);
    assert_eq!(low.dew_point_c, high.dew_point_c);
}

/// NWFA figures of 20 Btu/(ft² h), 63 W/m², for a floor of 80 °F in a room of 70 °F agree with EN
/// 1264-2 within 7 % (trade press).
#[test]
fn both_sides_of_the_ocean_agree_on_the_heat_of_a_floor() {
    let flux_w_m2 = floor::heat_flux_w_m2(48.0 / 1.8, 38.0 / 1.8).unwrap();
    assert!((flux_w_m2 / 63.1 - 1.0).abs() < 0.07, "{flux_w_m2}");
}
