//! Which limits the product data sheets in a job speak of.

use super::{Layer, Passed, Sheet};
use crate::job::Job;
use crate::limits::LimitId;
use crate::quantity::Quantity;

/// Every value that a data sheet in the job gives, with the limit that it is for.
pub(super) fn values(job: &Job) -> Vec<(LimitId, Passed)> {
    let Job { wood, barrier, adhesive, .. } = job;
    let mut list =
        List { sheet: Sheet::Wood, product: wood.product.as_deref(), values: Vec::new() };
    list.add(LimitId::AirMin, wood.air_min);
    list.add(LimitId::AirMax, wood.air_max);
    list.add(LimitId::AirRhMin, wood.rh_min);
    list.add(LimitId::AirRhMax, wood.rh_max);
    list.add(LimitId::SurfaceMax, wood.surface_max);
    list.add(LimitId::Acclimation, wood.acclimation);

    list.turn_to(Sheet::Barrier, barrier.spread.product.as_deref());
    list.add(LimitId::BarrierSurfaceMin, barrier.spread.surface_min);
    list.add(LimitId::BarrierSurfaceMax, barrier.spread.surface_max);
    list.add(LimitId::BarrierAirMin, barrier.spread.air_min);
    list.add(LimitId::BarrierAirMax, barrier.spread.air_max);
    list.add(LimitId::BarrierRhMin, barrier.spread.rh_min);
    list.add(LimitId::BarrierRhMax, barrier.spread.rh_max);
    list.add(LimitId::BarrierDewMargin, barrier.spread.dew_margin);
    list.add(LimitId::InSituRhMax, barrier.spread.slab_rh_max);
    list.add(LimitId::MverMax, barrier.spread.mver_max);
    list.add(LimitId::BarrierCure, barrier.cure);

    list.turn_to(Sheet::Adhesive, adhesive.spread.product.as_deref());
    list.add(LimitId::AdhesiveSurfaceMin, adhesive.spread.surface_min);
    list.add(LimitId::AdhesiveSurfaceMax, adhesive.spread.surface_max);
    list.add(LimitId::AdhesiveAirMin, adhesive.spread.air_min);
    list.add(LimitId::AdhesiveAirMax, adhesive.spread.air_max);
    list.add(LimitId::AdhesiveRhMin, adhesive.spread.rh_min);
    list.add(LimitId::AdhesiveRhMax, adhesive.spread.rh_max);
    list.add(LimitId::AdhesiveDewMargin, adhesive.spread.dew_margin);
    list.add(LimitId::InSituRhMax, adhesive.spread.slab_rh_max);
    list.add(LimitId::MverMax, adhesive.spread.mver_max);
    list.add(LimitId::TrafficCure, adhesive.traffic);
    list.add(LimitId::SandingCure, adhesive.sanding);
    list.add(LimitId::HeatUpCure, adhesive.heat_up);

    list.values
}

/// Collects the values of one data sheet after another.
struct List<'a> {
    sheet: Sheet,
    product: Option<&'a str>,
    values: Vec<(LimitId, Passed)>,
}

impl<'a> List<'a> {
    fn turn_to(&mut self, sheet: Sheet, product: Option<&'a str>) {
        self.sheet = sheet;
        self.product = product;
    }

    /// The kinds hold their values in the units of the limits; a test compares them.
    fn add<Q: Quantity>(&mut self, id: LimitId, value: Option<Q>) {
        let Some(value) = value else { return };
        let name = match self.sheet {
            Sheet::Wood => "wood",
            Sheet::Barrier => "moisture barrier",
            Sheet::Adhesive => "adhesive",
        };
        let source = match self.product {
            Some(product) => format!("data sheet of the {name}: {product}"),
            None => format!("data sheet of the {name}"),
        };
        let layer = Layer::DataSheet(self.sheet);
        self.values.push((id, Passed { value: value.held(), layer, source, status: None }));
    }
}
