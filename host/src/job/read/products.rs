//! Wood, moisture barrier and adhesive, with what their data sheets ask for.

use super::check_range;
use crate::job::model::{Adhesive, Barrier, SlabProduct, Wood};
use crate::job::section::{Placed, Section, bare};
use crate::quantity::{RelativeHumidity, Temperature, ThermalConductivity, ThermalResistance};

/// Ranges that all three sheets can give.
struct Ranges {
    air_min: Option<Temperature>,
    air_max: Option<Temperature>,
    rh_min: Option<RelativeHumidity>,
    rh_max: Option<RelativeHumidity>,
}

fn ranges(section: &Section<'_>) -> Ranges {
    let air_min: Option<Placed<Temperature>> = section.quantity("air-min");
    let air_max = section.quantity("air-max");
    let rh_min: Option<Placed<RelativeHumidity>> = section.quantity("rh-min");
    let rh_max = section.quantity("rh-max");
    check_range(section.sink, ("air-min", &air_min), ("air-max", &air_max));
    check_range(section.sink, ("rh-min", &rh_min), ("rh-max", &rh_max));
    Ranges {
        air_min: bare(&air_min),
        air_max: bare(&air_max),
        rh_min: bare(&rh_min),
        rh_max: bare(&rh_max),
    }
}

/// Lowest and highest slab surface temperature.
fn surface(section: &Section<'_>) -> (Option<Temperature>, Option<Temperature>) {
    let low: Option<Placed<Temperature>> = section.quantity("surface-min");
    let high = section.quantity("surface-max");
    check_range(section.sink, ("surface-min", &low), ("surface-max", &high));
    (bare(&low), bare(&high))
}

fn product(section: &Section<'_>) -> Option<String> {
    bare(&section.text("product"))
}

pub(super) fn wood(root: &Section<'_>) -> Wood {
    let Some(section) = root.table("wood") else { return Wood::default() };
    let conductivity: Option<Placed<ThermalConductivity>> = section.quantity("conductivity");
    let resistance: Option<Placed<ThermalResistance>> = section.quantity("resistance");
    if let (Some(_), Some(resistance)) = (&conductivity, &resistance) {
        section.sink.report(
            resistance.at,
            "`conductivity` and `resistance` are both given",
            "keep the one that the data sheet states",
        );
    }
    let Ranges { air_min, air_max, rh_min, rh_max } = ranges(&section);
    let wood = Wood {
        product: product(&section),
        species: bare(&section.text("species")),
        width: bare(&section.quantity("width")),
        thickness: bare(&section.quantity("thickness")),
        conductivity: bare(&conductivity),
        resistance: bare(&resistance),
        air_min,
        air_max,
        rh_min,
        rh_max,
        surface_max: bare(&section.quantity("surface-max")),
        acclimation: bare(&section.quantity("acclimation")),
    };
    section.close();
    wood
}

/// What the sheets of barrier and adhesive both can give.
fn slab_product(section: &Section<'_>) -> SlabProduct {
    let Ranges { air_min, air_max, rh_min, rh_max } = ranges(section);
    let (surface_min, surface_max) = surface(section);
    SlabProduct {
        product: product(section),
        surface_min,
        surface_max,
        air_min,
        air_max,
        rh_min,
        rh_max,
        dew_margin: bare(&section.quantity("dew-margin")),
        slab_rh_max: bare(&section.quantity("slab-rh-max")),
        mver_max: bare(&section.quantity("mver-max")),
    }
}

pub(super) fn barrier(root: &Section<'_>) -> Barrier {
    let Some(section) = root.table("barrier") else { return Barrier::default() };
    let barrier = Barrier { spread: slab_product(&section), cure: bare(&section.quantity("cure")) };
    section.close();
    barrier
}

pub(super) fn adhesive(root: &Section<'_>) -> Adhesive {
    let Some(section) = root.table("adhesive") else { return Adhesive::default() };
    let adhesive = Adhesive {
        spread: slab_product(&section),
        traffic: bare(&section.quantity("traffic")),
        sanding: bare(&section.quantity("sanding")),
        heat_up: bare(&section.quantity("heat-up")),
    };
    section.close();
    adhesive
}
