//! `air`

use super::args::Air as Args;
use super::{Answer, Failure, Talk};
use crate::physics::air::{SEA_LEVEL_PA, standard_pressure_pa};
use crate::physics::{AirState, air_state};
use crate::quantity::{
    Altitude, MoistureContent, Pressure, Quantity as _, RelativeHumidity, Temperature,
    TemperatureDifference, Units,
};
use serde::Serialize;

#[derive(Serialize)]
struct Document {
    schema: u32,
    air_c: f64,
    rh_pct: f64,
    surface_c: Option<f64>,
    pressure_pa: f64,
    #[serde(flatten)]
    state: AirState,
}

pub(super) fn run(args: &Args, talk: &mut Talk<'_>) -> Result<Answer, Failure> {
    let air = Temperature::parse(&args.temp)?;
    let rh = RelativeHumidity::parse(&args.rh)?;
    let surface = args.slab.as_deref().map(Temperature::parse).transpose()?;
    let pressure_pa = match (&args.pressure, &args.altitude) {
        (Some(text), _) => Pressure::parse(text)?.pascals(),
        (None, Some(text)) => standard_pressure_pa(Altitude::parse(text)?.metres())?,
        (None, None) => SEA_LEVEL_PA,
    };
    let surface_c = surface.map(Temperature::celsius);
    let state = air_state(air.celsius(), rh.percent(), surface_c, pressure_pa)?;
    if talk.json {
        let document = Document {
            schema: 1,
            air_c: air.celsius(),
            rh_pct: rh.percent(),
            surface_c,
            pressure_pa,
            state,
        };
        super::print_json(talk, &document)?;
        return Ok(Answer::Yes);
    }
    // In the units that were typed.
    let fahrenheit = args.temp.trim_end().ends_with(['F', 'f']);
    let units = if fahrenheit { Units::Us } else { Units::Metric };
    let temperature = |celsius: f64| units.temperature(Temperature::from_celsius(celsius));
    let wood = |percent: f64| units.moisture_content(MoistureContent::from_percent(percent));
    let out = &mut talk.out;
    writeln!(out, "dew point over water      {}", temperature(state.dew_point_c))?;
    if state.frost_point_c < 0.0 {
        writeln!(out, "frost point over ice      {}", temperature(state.frost_point_c))?;
    }
    writeln!(out, "humidity ratio            {:.2} g/kg", state.humidity_ratio * 1000.0)?;
    writeln!(out, "absolute humidity         {:.2} g/m³", state.absolute_humidity_g_m3)?;
    writeln!(out, "vapour pressure           {:.0} Pa", state.vapor_pressure_pa)?;
    writeln!(out, "enthalpy                  {:.1} kJ/kg", state.enthalpy_kj_kg)?;
    writeln!(out, "wood equilibrium (EMC)    {}", wood(state.emc_pct))?;
    if let Some(margin_c) = state.surface_margin_c {
        let margin = units.difference(TemperatureDifference::from_kelvin(margin_c));
        writeln!(out, "surface above dew point   {margin}")?;
    }
    if let Some(rh) = state.rh_at_surface_pct {
        let rh = units.humidity(RelativeHumidity::from_percent(rh));
        writeln!(out, "RH at the surface         {rh}")?;
    }
    if let Some(emc) = state.emc_at_surface_pct {
        writeln!(out, "EMC at the surface        {}", wood(emc))?;
    }
    Ok(Answer::Yes)
}
