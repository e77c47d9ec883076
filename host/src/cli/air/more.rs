//! What else follows when more is known than the air: wood, floor, salt jar, calcium chloride dish,
//! concrete.

use super::super::args::{Air as Args, CutArg};
use super::super::{Failure, fail};
use super::input::{Wanted, choose, under};
use crate::physics::salt::Salt;
use crate::physics::species::{Cut, SPECIES, Species};
use crate::physics::{AirState, Range, concrete, floor, wood};
use crate::quantity::{
    Area, Length, Mass, MoistureContent, MoistureEmission, Temperature, ThermalResistance, TimeSpan,
};
use serde::Serialize;

/// The datum of ASTM C1074 (second hand): the conservative one of those in use.
const DATUM_C: f64 = 0.0;

/// What follows from the options beyond the air. Each is there only when its inputs are.
#[derive(Clone, Copy, Debug, Default, Serialize)]
pub(super) struct More {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) width_change_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) width_change_at_surface_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) wood_surface_c: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) heat_flux_w_m2: Option<f64>,
    /// With the slab as warm as the supply: the most that can be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) wood_surface_highest_c: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) heat_flux_highest_w_m2: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) salt_rh_pct: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) salt_uncertainty_pct: Option<f64>,
    /// What the meter reads beyond the jar's humidity.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) salt_error_pct: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) mver_lb_1000ft2_24h: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) mver_g_m2_24h: Option<f64>,
    /// Hours of age at 20 °C in one hour at the slab's temperature.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) equivalent_age_h: Option<f64>,
    /// Temperature-time factor of one hour at the slab's temperature.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) temperature_time_c_h: Option<f64>,
}

impl More {
    pub(super) fn of(
        args: &Args,
        air_c: f64,
        rh_pct: f64,
        slab_c: Option<f64>,
        state: &AirState,
    ) -> Result<Self, Failure> {
        let mut more = Self::default();
        more.wood(args, state)?;
        more.floor(args, air_c, slab_c)?;
        more.salt(args, air_c, rh_pct)?;
        more.dish(args)?;
        if let Some(slab_c) = slab_c {
            let maturity = concrete::Maturity::default();
            let age = maturity.equivalent_age_h(slab_c, 1.0).map_err(under("--slab"))?;
            more.equivalent_age_h = Some(age);
            let factor = concrete::temperature_time_c_h(slab_c, 1.0, DATUM_C);
            more.temperature_time_c_h = Some(factor.map_err(under("--slab"))?);
        }
        Ok(more)
    }

    fn wood(&mut self, args: &Args, state: &AirState) -> Result<(), Failure> {
        let (Some(mc), Some(species), Some(width)) = (&args.wood_mc, &args.species, &args.width)
        else {
            return Ok(());
        };
        let from_pct =
            Wanted::new("wood-mc", wood::SHRINKING_MC_PCT).read::<MoistureContent>(mc)?;
        let all: Vec<&'static Species> = SPECIES.iter().collect();
        let species = choose("species", species, &all, |species| species.name)?;
        let wanted = Wanted { option: "width", range: wood::WIDTH_MM, factor: 1000.0 };
        let width_mm = wanted.read::<Length>(width)?;
        let cut = match args.cut {
            CutArg::PlainSawn => Cut::PlainSawn,
            CutArg::QuarterSawn => Cut::QuarterSawn,
        };
        let coefficient = species.coefficient_per_pct(cut);
        let change = |to_pct: f64| {
            let plain = wood::width_change_mm(width_mm, coefficient, from_pct, to_pct);
            // Outside of 6 to 14 % the coefficient alone does not do.
            plain.or_else(|_| {
                let shrinkage = wood::total_shrinkage_pct(coefficient)?;
                wood::width_change_by_shrinkage_mm(width_mm, shrinkage, from_pct, to_pct)
            })
        };
        self.width_change_mm = Some(change(state.emc_pct).map_err(under("--wood-mc"))?);
        self.width_change_at_surface_mm =
            state.emc_at_surface_pct.map(change).transpose().map_err(under("--wood-mc"))?;
        Ok(())
    }

    fn floor(&mut self, args: &Args, air_c: f64, slab_c: Option<f64>) -> Result<(), Failure> {
        let supply = Wanted::new("supply", floor::FLOOR_C);
        let supply_c = supply.maybe::<Temperature>(args.supply.as_deref())?;
        let thickness = Wanted { option: "thickness", range: floor::THICKNESS_MM, factor: 1000.0 };
        let resistance = Wanted::new("resistance", floor::RESISTANCE_M2K_W)
            .maybe::<ThermalResistance>(args.resistance.as_deref())?;
        let resistance = match (resistance, args.thickness.as_deref()) {
            (None, Some(text)) => {
                let mm = thickness.read::<Length>(text)?;
                let of_hardwood = floor::resistance_m2k_w(mm, floor::HARDWOOD_W_MK);
                Some(of_hardwood.map_err(under("--thickness"))?)
            }
            (resistance, _) => resistance,
        };
        let Some(resistance) = resistance else {
            return match supply_c {
                Some(_) => {
                    fail("--supply: give the --resistance or --thickness of the wood as well")
                }
                None => Ok(()),
            };
        };
        let on = |under_c: f64, options: &'static str| -> Result<(f64, f64), Failure> {
            let wood_c =
                floor::wood_surface_c(under_c, air_c, resistance).map_err(under(options))?;
            Ok((wood_c, floor::heat_flux_w_m2(wood_c, air_c).map_err(under(options))?))
        };
        if let Some(slab_c) = slab_c {
            let (wood_c, flux) = on(slab_c, "--slab")?;
            (self.wood_surface_c, self.heat_flux_w_m2) = (Some(wood_c), Some(flux));
        } else if let Some(supply_c) = supply_c {
            let (wood_c, flux) = on(supply_c, "--supply")?;
            (self.wood_surface_highest_c, self.heat_flux_highest_w_m2) = (Some(wood_c), Some(flux));
        } else {
            return fail("--resistance, --thickness: give --slab as well, or --supply");
        }
        Ok(())
    }

    fn salt(&mut self, args: &Args, air_c: f64, rh_pct: f64) -> Result<(), Failure> {
        let Some(text) = &args.salt else { return Ok(()) };
        let salt = choose("salt", text, &Salt::ALL, |salt| salt.formula())?;
        let jar_pct = salt.rh_pct(air_c).map_err(under("--salt with --temp"))?;
        self.salt_rh_pct = Some(jar_pct);
        self.salt_uncertainty_pct = Some(salt.uncertainty_pct());
        self.salt_error_pct = Some(rh_pct - jar_pct);
        Ok(())
    }

    fn dish(&mut self, args: &Args) -> Result<(), Failure> {
        let (Some(start), Some(end), Some(area), Some(exposure)) =
            (&args.start_weight, &args.end_weight, &args.area, &args.exposure)
        else {
            return Ok(());
        };
        let dish = Range {
            what: "weight of the dish",
            unit: "g",
            low: 1.0,
            high: 1000.0,
            fix: "weigh the closed dish",
        };
        let weight =
            |option, text: &str| Wanted { option, range: dish, factor: 1000.0 }.read::<Mass>(text);
        let gain_g = weight("end-weight", end)? - weight("start-weight", start)?;
        // A scale shows no more than a microgram; binary fractions do.
        let gain_g = (gain_g * 1e6).round() / 1e6;
        let area_m2 = Wanted::new("area", concrete::DOME_M2).read::<Area>(area)?;
        let exposure_h =
            Wanted::new("exposure", concrete::EXPOSURE_H).read::<TimeSpan>(exposure)?;
        let rate = concrete::emission_lb_1000ft2_24h(gain_g, area_m2, exposure_h)
            .map_err(under("--start-weight, --end-weight"))?;
        self.mver_lb_1000ft2_24h = Some(rate);
        self.mver_g_m2_24h = Some(MoistureEmission::from_lb_per_1000_ft2_24h(rate).g_per_m2_24h());
        Ok(())
    }

    /// Where each of the figures that are there comes from.
    pub(super) fn sources(&self) -> Vec<(&'static str, &'static str)> {
        const WIDTH: &str = "Wood Handbook FPL-GTR-190 (2010) equation 13-2 with Table 13-5; beyond 6 \
                             to 14 %MC equation 13-3 (from memory)";
        const FLOOR: &str = "EN 1264-2 and ISO 11855-2 equation 1 (second hand), steady state; with \
                             --thickness hardwood of 0.18 W/(m K), EN ISO 10456 (from memory)";
        const SUPPLY: &str = "as wood_surface_c, with the slab as warm as the supply (derived)";
        const SALT: &str = "Greenspan, Journal of Research of the NBS 81A (1977) 89 (second hand)";
        const MVER: &str = "ASTM F1869 calculation (second hand); editions differ in the area";
        const AGE: &str = "ASTM C1074 equation 2, 5000 K and 20 °C, nothing below 0 °C (second hand); \
                           maturity speaks of strength, never of dryness";
        const TIME: &str = "ASTM C1074 equation 1, Nurse-Saul, datum 0 °C (second hand)";
        [
            ("width_change_mm", WIDTH, self.width_change_mm),
            ("width_change_at_surface_mm", WIDTH, self.width_change_at_surface_mm),
            ("wood_surface_c", FLOOR, self.wood_surface_c),
            ("heat_flux_w_m2", FLOOR, self.heat_flux_w_m2),
            ("wood_surface_highest_c", SUPPLY, self.wood_surface_highest_c),
            ("heat_flux_highest_w_m2", SUPPLY, self.heat_flux_highest_w_m2),
            ("salt_rh_pct", SALT, self.salt_rh_pct),
            ("mver_lb_1000ft2_24h", MVER, self.mver_lb_1000ft2_24h),
            ("equivalent_age_h", AGE, self.equivalent_age_h),
            ("temperature_time_c_h", TIME, self.temperature_time_c_h),
        ]
        .into_iter()
        .filter_map(|(field, source, value)| value.map(|_| (field, source)))
        .collect()
    }
}
