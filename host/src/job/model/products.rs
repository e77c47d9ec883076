//! Wood, moisture barrier and adhesive, with what their data sheets ask for.

use serde::Serialize;

use crate::quantity::{
    Length, MoistureEmission, RelativeHumidity, Temperature, TemperatureDifference,
    ThermalConductivity, ThermalResistance, TimeSpan,
};

/// The wood floor and what its data sheet asks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Wood {
    /// The product, as on the box.
    pub product: Option<String>,
    /// Species of the top layer.
    pub species: Option<String>,
    /// Width of a board.
    #[serde(rename = "width-m")]
    pub width: Option<Length>,
    /// Thickness of a board.
    #[serde(rename = "thickness-m")]
    pub thickness: Option<Length>,
    /// Thermal conductivity through the board.
    #[serde(rename = "conductivity-w-per-m-k")]
    pub conductivity: Option<ThermalConductivity>,
    /// Thermal resistance of the board; never given together with the conductivity.
    #[serde(rename = "resistance-m2-k-per-w")]
    pub resistance: Option<ThermalResistance>,
    /// Lowest air temperature that the maker allows.
    #[serde(rename = "air-min-c")]
    pub air_min: Option<Temperature>,
    /// Highest air temperature that the maker allows.
    #[serde(rename = "air-max-c")]
    pub air_max: Option<Temperature>,
    /// Lowest relative humidity that the maker allows.
    #[serde(rename = "rh-min-percent")]
    pub rh_min: Option<RelativeHumidity>,
    /// Highest relative humidity that the maker allows.
    #[serde(rename = "rh-max-percent")]
    pub rh_max: Option<RelativeHumidity>,
    /// Highest temperature of the wood surface that the maker allows.
    #[serde(rename = "surface-max-c")]
    pub surface_max: Option<Temperature>,
    /// Acclimation time that the maker asks for.
    #[serde(rename = "acclimation-h")]
    pub acclimation: Option<TimeSpan>,
}

/// A product that is spread on the slab, and what its data sheet asks of slab and air.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct SlabProduct {
    /// The product, as on the pail.
    pub product: Option<String>,
    /// Lowest slab surface temperature.
    #[serde(rename = "surface-min-c")]
    pub surface_min: Option<Temperature>,
    /// Highest slab surface temperature.
    #[serde(rename = "surface-max-c")]
    pub surface_max: Option<Temperature>,
    /// Lowest air temperature.
    #[serde(rename = "air-min-c")]
    pub air_min: Option<Temperature>,
    /// Highest air temperature.
    #[serde(rename = "air-max-c")]
    pub air_max: Option<Temperature>,
    /// Lowest relative humidity of the air.
    #[serde(rename = "rh-min-percent")]
    pub rh_min: Option<RelativeHumidity>,
    /// Highest relative humidity of the air.
    #[serde(rename = "rh-max-percent")]
    pub rh_max: Option<RelativeHumidity>,
    /// How far the slab surface must be above the dew point.
    #[serde(rename = "dew-margin-k")]
    pub dew_margin: Option<TemperatureDifference>,
    /// Highest in-situ relative humidity of the slab.
    #[serde(rename = "slab-rh-max-percent")]
    pub slab_rh_max: Option<RelativeHumidity>,
    /// Highest moisture vapour emission rate of the slab.
    #[serde(rename = "mver-max-g-per-m2-24h")]
    pub mver_max: Option<MoistureEmission>,
}

/// The moisture barrier and what its data sheet asks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Barrier {
    /// Product, slab and air.
    #[serde(flatten)]
    pub spread: SlabProduct,
    /// Time from the last coat until adhesive may be spread.
    #[serde(rename = "cure-h")]
    pub cure: Option<TimeSpan>,
}

/// The adhesive and what its data sheet asks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Adhesive {
    /// Product, slab and air.
    #[serde(flatten)]
    pub spread: SlabProduct,
    /// Time after gluing until the floor may be walked on.
    #[serde(rename = "traffic-h")]
    pub traffic: Option<TimeSpan>,
    /// Time after gluing until the floor may be sanded.
    #[serde(rename = "sanding-h")]
    pub sanding: Option<TimeSpan>,
    /// Time after gluing until the heat may be turned back up.
    #[serde(rename = "heat-up-h")]
    pub heat_up: Option<TimeSpan>,
}

impl Wood {
    /// Thermal resistance of the board: as given, or thickness over conductivity.
    #[must_use]
    pub fn thermal_resistance(&self) -> Option<ThermalResistance> {
        self.resistance.or_else(|| {
            let (thickness, conductivity) = (self.thickness?, self.conductivity?);
            Some(ThermalResistance::from_m2_k_per_w(thickness.metres() / conductivity.w_per_m_k()))
        })
    }
}
