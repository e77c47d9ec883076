//! `air`

mod input;
mod more;

use super::args::Air as Args;
use super::{Answer, Failure, Talk};
use crate::limits::LimitUnit;
use crate::physics::air::{self, SEA_LEVEL_PA, standard_pressure_pa};
use crate::physics::{AirState, Range, air_state};
use crate::quantity::{
    Altitude, Length, Pressure, Quantity as _, RelativeHumidity, Temperature, Units,
};
use crate::view::both;
use input::{Wanted, under};
use more::More;
use serde::Serialize;
use std::collections::BTreeMap;

/// Humidity that a pocket meter can truthfully show.
const METER_RH_PCT: Range = Range { low: 1.0, ..Range { high: 100.0, ..air::RH_PCT } };

/// What to do about a pressure that cannot be.
const ON_SITE: &str = "give the pressure on site, not reduced to sea level";

#[derive(Serialize)]
struct Document {
    schema: u32,
    air_c: f64,
    rh_pct: f64,
    surface_c: Option<f64>,
    pressure_pa: f64,
    #[serde(flatten)]
    state: AirState,
    #[serde(flatten)]
    more: More,
    sources: BTreeMap<&'static str, &'static str>,
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    // The wood formulas hold from -20 °C on.
    let cold = |range: Range| Range { low: -20.0, ..range };
    let air_c = Wanted::new("temp", cold(air::AIR_C)).read::<Temperature>(&args.temp)?;
    let rh_pct = Wanted::new("rh", METER_RH_PCT).read::<RelativeHumidity>(&args.rh)?;
    let slab = Wanted::new("slab", cold(air::SURFACE_C));
    let surface_c = slab.maybe::<Temperature>(args.slab.as_deref())?;
    let pressure_pa = match (&args.pressure, &args.altitude) {
        (Some(text), _) => {
            // The message speaks of kPa; the value is kept as it was read.
            let range =
                Range { unit: "kPa", low: 50.0, high: 110.0, fix: ON_SITE, ..air::PRESSURE_PA };
            Wanted { option: "pressure", range, factor: 0.001 }.read::<Pressure>(text)?;
            Pressure::parse(text)?.pascals()
        }
        (None, Some(text)) => {
            let metres = Wanted::new("altitude", air::ALTITUDE_M).read::<Altitude>(text)?;
            standard_pressure_pa(metres).map_err(under("--altitude"))?
        }
        (None, None) => SEA_LEVEL_PA,
    };
    let state = air_state(air_c, rh_pct, surface_c, pressure_pa).map_err(under("air"))?;
    let more = More::of(args, air_c, rh_pct, surface_c, &state)?;
    if talk.json {
        let sources = air_sources(&state).chain(more.sources()).collect();
        let document =
            Document { schema: 1, air_c, rh_pct, surface_c, pressure_pa, state, more, sources };
        super::print_json(talk, &document)?;
        return Ok(Answer::Yes);
    }
    // What was typed comes first.
    let fahrenheit = args.temp.trim_end().ends_with(['F', 'f']);
    let units = if fahrenheit { Units::Us } else { Units::Metric };
    let mut rows = air_rows(&state, units);
    rows.extend(more_rows(&more, units));
    for (name, value) in rows {
        writeln!(talk.out, "{name:<30}{value}")?;
    }
    Ok(Answer::Yes)
}

/// Where the figures of the air come from.
fn air_sources(state: &AirState) -> impl Iterator<Item = (&'static str, &'static str)> {
    const MAGNUS: &str = "Magnus formula over water, WMO-No. 8 coefficients";
    const SURFACE: &str = "the same vapour pressure at the surface's temperature (derived)";
    const EMC: &str = "Wood Handbook FPL-GTR-190 (2010) equation 4-5; a real board may differ by \
                       0.5 to 1 %MC";
    let always = [
        ("dew_point_c", MAGNUS),
        ("frost_point_c", "Magnus formula over ice, WMO-No. 8 coefficients"),
        ("humidity_ratio", "ASHRAE Fundamentals 2017, chapter 1"),
        ("absolute_humidity_g_m3", "ideal gas law"),
        (
            "vapor_pressure_pa",
            "RH times saturation over water, ASHRAE Fundamentals 2017, equation 6",
        ),
        ("emc_pct", EMC),
        ("enthalpy_kj_kg", "ASHRAE Fundamentals 2017, chapter 1"),
    ];
    let at_surface = [
        ("rh_at_surface_pct", SURFACE),
        ("emc_at_surface_pct", EMC),
        ("surface_margin_c", "surface less dew point"),
    ];
    let has_surface = state.surface_margin_c.is_some();
    always.into_iter().chain(at_surface.into_iter().filter(move |_| has_surface))
}

type Rows = Vec<(&'static str, String)>;

fn air_rows(state: &AirState, units: Units) -> Rows {
    let show = |unit: LimitUnit, value: f64| both(unit, value, units);
    let mut rows = vec![("dew point over water", show(LimitUnit::Celsius, state.dew_point_c))];
    if state.frost_point_c < 0.0 {
        rows.push(("frost point over ice", show(LimitUnit::Celsius, state.frost_point_c)));
    }
    // One grain is 1/7000 lb; exact.
    let grains = state.humidity_ratio * 7000.0;
    let grams = state.humidity_ratio * 1000.0;
    rows.push(("humidity ratio", in_units(units, (grams, 2, "g/kg"), (grains, 1, "gr/lb"))));
    rows.push(("absolute humidity", format!("{:.2} g/m³", state.absolute_humidity_g_m3)));
    rows.push(("vapour pressure", format!("{:.0} Pa", state.vapor_pressure_pa)));
    // 1 Btu/lb is 2.326 kJ/kg; exact. The zeros differ: dry air at 0 °C, and at 0 °F.
    rows.push(("enthalpy", format!("{:.1} kJ/kg", state.enthalpy_kj_kg)));
    rows.push(("wood equilibrium (EMC)", show(LimitUnit::PercentMc, state.emc_pct)));
    if let Some(margin) = state.surface_margin_c {
        rows.push(("surface above dew point", show(LimitUnit::Kelvin, margin)));
    }
    if let Some(rh) = state.rh_at_surface_pct {
        let wet = if rh >= 100.0 { ": water condenses" } else { "" };
        rows.push(("RH at the surface", format!("{rh:.1} %RH{wet}")));
    }
    if let Some(emc) = state.emc_at_surface_pct {
        rows.push(("EMC at the surface", show(LimitUnit::PercentMc, emc)));
    }
    rows
}

fn more_rows(more: &More, units: Units) -> Rows {
    let mut rows = Rows::new();
    let mut add = |name, value: Option<f64>, show: &dyn Fn(f64) -> String| {
        rows.extend(value.map(|value| (name, show(value))));
    };
    let temperature = |celsius: f64| both(LimitUnit::Celsius, celsius, units);
    let flux = |w: f64| {
        // International table Btu and square feet.
        in_units(units, (w, 0, "W/m²"), (w / 3.154_590_75, 1, "Btu/ft²h"))
    };
    let width = |mm: f64| {
        let word = if mm < 0.0 { "narrower" } else { "wider" };
        let inches = Length::from_metres(mm.abs() / 1000.0).inches();
        format!("{} {word}", in_units(units, (mm.abs(), 2, "mm"), (inches, 3, "in")))
    };
    let percent = |rh: f64| format!("{rh:.1} %RH");
    let error =
        |rh: f64| format!("{:.1} %RH too {}", rh.abs(), if rh < 0.0 { "low" } else { "high" });
    add("board in this air gets", more.width_change_mm, &width);
    add("board at the surface gets", more.width_change_at_surface_mm, &width);
    add("wood surface, steady", more.wood_surface_c, &temperature);
    add("heat from the floor", more.heat_flux_w_m2, &flux);
    add("wood surface, at most", more.wood_surface_highest_c, &temperature);
    add("heat from the floor, at most", more.heat_flux_highest_w_m2, &flux);
    add("RH over the salt", more.salt_rh_pct, &percent);
    add("uncertainty of the salt", more.salt_uncertainty_pct, &|rh| format!("{rh:.2} %RH"));
    add("meter in the jar reads", more.salt_error_pct, &error);
    add("emission of the slab (MVER)", more.mver_g_m2_24h, &|rate| {
        both(LimitUnit::GramsPerM2Per24h, rate, units)
    });
    let both_ages =
        |h: f64| format!("{h:.2} h at {}, strength only", both(LimitUnit::Celsius, 20.0, units));
    add("an hour of this slab ages", more.equivalent_age_h, &both_ages);
    add("and adds, Nurse-Saul", more.temperature_time_c_h, &|c_h| {
        in_units(units, (c_h, 1, "°C·h"), (c_h * 1.8, 1, "°F·h"))
    });
    rows
}

/// A value in both systems, that of the user first: metric and customary, each with decimals and unit.
fn in_units(units: Units, metric: (f64, usize, &str), us: (f64, usize, &str)) -> String {
    let show = |(value, places, unit): (f64, usize, &str)| format!("{value:.places$} {unit}");
    match units {
        Units::Metric => format!("{} ({})", show(metric), show(us)),
        Units::Us => format!("{} ({})", show(us), show(metric)),
    }
}
