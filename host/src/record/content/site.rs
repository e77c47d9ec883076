//! The site and the products, as the job file gives them.

use super::{Block, Section, Telling, given};
use crate::job::{AirPressure, ConcreteKind, DecisionRule, Drying, Profile};
use crate::limits::LimitUnit;

impl Telling<'_> {
    pub(super) fn site(&self) -> Section {
        let job = &self.case.job;
        let units = self.units();
        let site = &job.site;
        let rooms: Vec<&str> = self.case.rooms.iter().map(|(zone, _)| zone.name.as_str()).collect();
        let mut rooms = rooms.join(", ");
        if !self.evidence.rooms.is_empty() && self.case.rooms.len() < job.zones.len() {
            rooms.push_str(&format!(" (of the {} rooms of the job)", job.zones.len()));
        }
        let pressure = match site.air_pressure {
            AirPressure::SeaLevel => "sea level assumed".to_owned(),
            AirPressure::Altitude(altitude) => units.altitude(altitude),
            AirPressure::Measured(pressure) => {
                format!("{:.1} kPa measured", pressure.pascals() / 1000.0)
            }
        };
        let facts = [
            ("Rooms asked about", rooms),
            ("Area to be glued", given(site.area.map(|area| units.area(area)))),
            ("Altitude or air pressure", pressure),
            ("Concrete", self.concrete()),
            ("Wood floor", self.wood()),
            ("Moisture barrier", given(job.barrier.spread.product.clone())),
            ("Adhesive", given(job.adhesive.spread.product.clone())),
            (
                "Heating, design supply",
                given(
                    job.heating.design_supply.map(|t| self.show(LimitUnit::Celsius, t.celsius())),
                ),
            ),
            (
                "Limits",
                match site.profile {
                    Profile::Us => "United States profile, data sheets and the job file",
                    Profile::Eu => "European profile, data sheets and the job file",
                }
                .to_owned(),
            ),
            (
                "Readings near a limit",
                match site.decision_rule {
                    DecisionRule::Simple => {
                        "compared as they read (simple acceptance, JCGM 106); the distance from \
                         the dew point and the maxima are tightened by the probes' uncertainty"
                    }
                    DecisionRule::Guarded => {
                        "every range is tightened by the probes' uncertainty (guarded acceptance, \
                         JCGM 106)"
                    }
                }
                .to_owned(),
            ),
        ];
        let facts = facts.map(|(name, text)| (name.to_owned(), text)).into();
        Section { heading: "The site".to_owned(), blocks: vec![Block::Facts(facts)] }
    }

    fn concrete(&self) -> String {
        let concrete = &self.case.job.concrete;
        let kind = concrete.kind.map(|kind| match kind {
            ConcreteKind::CementSlab => "cement slab".to_owned(),
            ConcreteKind::CementScreed => "cement screed".to_owned(),
            ConcreteKind::CalciumSulphateScreed => "calcium sulphate screed".to_owned(),
        });
        let drying = concrete.drying.map(|drying| match drying {
            Drying::OneSide => "dries on one side".to_owned(),
            Drying::BothSides => "dries on both sides".to_owned(),
        });
        let thickness = concrete.thickness.map(|t| format!("{} thick", self.units().length(t)));
        let poured = concrete.poured.map(|date| format!("poured {date}"));
        listed([kind, thickness, poured, drying])
    }

    fn wood(&self) -> String {
        let wood = &self.case.job.wood;
        let units = self.units();
        let thickness = wood.thickness.map(|t| format!("{} thick", units.length(t)));
        let width = wood.width.map(|w| format!("{} wide", units.length(w)));
        listed([wood.product.clone(), wood.species.clone(), thickness, width])
    }
}

/// What is known of several things, with commas.
fn listed<const N: usize>(parts: [Option<String>; N]) -> String {
    let known: Vec<String> = parts.into_iter().flatten().collect();
    given((!known.is_empty()).then(|| known.join(", ")))
}
