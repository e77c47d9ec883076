//! What each limit asks for, in words.

use super::id::LimitId;

impl LimitId {
    /// What it asks for, in a sentence.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            // Air in the room.
            Self::AirMin => "The air is at least this warm while the wood acclimates and is glued.",
            Self::AirMax => "The air is at most this warm while the wood acclimates and is glued.",
            Self::AirRhMin => {
                "The air is at least this humid while the wood acclimates and is glued."
            }
            Self::AirRhMax => {
                "The air is at most this humid while the wood acclimates and is glued."
            }
            Self::Acclimation => {
                "Air temperature and humidity stay in range for this long without a break \
                 before gluing. No fixed number exists: the wood is ready when its moisture \
                 content fits, and the maker's sheet rules."
            }
            Self::ConditionsBeforeDelivery => {
                "The room is at service conditions for this long before the wood is delivered."
            }

            // Slab surface.
            Self::SlabSurfaceMin => {
                "The slab surface is never colder than this while anything is applied or cures."
            }
            Self::LayingSurfaceMin => {
                "The slab surface is at least this warm from before gluing until the hold \
                 after it ends."
            }
            Self::LayingSurfaceMax => {
                "The slab surface is at most this warm from before gluing until the hold \
                 after it ends."
            }
            Self::LayingHoldBefore => {
                "The slab surface is in the laying range for this long before gluing."
            }
            Self::LayingHoldAfter => {
                "The slab surface is in the laying range for this long after gluing."
            }
            Self::SurfaceMax => "No part of the wood surface gets warmer than this.",
            Self::SurfaceAbsoluteMax => {
                "No floor surface in occupied rooms gets warmer than this, whatever it is \
                 made of."
            }
            Self::SurfaceChangeMax => {
                "The slab surface changes by at most this much within any 24 h."
            }
            Self::SurfaceChangeWarn => "Above this change within 24 h the program warns.",

            // Moisture barrier.
            Self::BarrierDewMargin => {
                "The slab surface is this far above the dew point of the air while the \
                 barrier is applied and cures."
            }
            Self::BarrierSurfaceMin => "The slab surface is at least this warm for the barrier.",
            Self::BarrierSurfaceMax => "The slab surface is at most this warm for the barrier.",
            Self::BarrierAirMin => "The air is at least this warm for the barrier.",
            Self::BarrierAirMax => "The air is at most this warm for the barrier.",
            Self::BarrierRhMin => "The air is at least this humid for the barrier.",
            Self::BarrierRhMax => "The air is at most this humid for the barrier.",
            Self::BarrierCure => "The barrier cures for this long before adhesive is spread on it.",

            // Adhesive.
            Self::AdhesiveDewMargin => {
                "The slab surface is this far above the dew point of the air while the \
                 adhesive is spread and cures."
            }
            Self::AdhesiveSurfaceMin => "The slab surface is at least this warm for the adhesive.",
            Self::AdhesiveSurfaceMax => "The slab surface is at most this warm for the adhesive.",
            Self::AdhesiveAirMin => "The air is at least this warm for the adhesive.",
            Self::AdhesiveAirMax => "The air is at most this warm for the adhesive.",
            Self::AdhesiveRhMin => {
                "The air is at least this humid for the adhesive; adhesives that cure with \
                 moisture need some."
            }
            Self::AdhesiveRhMax => "The air is at most this humid for the adhesive.",
            Self::TrafficCure => "The adhesive cures for this long before the floor is walked on.",
            Self::SandingCure => "The adhesive cures for this long before the floor is sanded.",
            Self::HeatUpCure => {
                "The adhesive cures for this long before the heat is turned back up."
            }

            // Concrete and its moisture tests.
            Self::ConcreteAge => "The concrete is this old by the calendar.",
            Self::ConcreteEquivalentAge => {
                "The concrete has the maturity of this age at 20 °C, nothing counted below 0 \
                 °C. It tells strength, never dryness."
            }
            Self::TestConditions => {
                "Slab and room are at service conditions for this long before a moisture \
                 test, and during it."
            }
            Self::TestsFirstArea => "So many moisture tests for the first 1000 ft² (100 m²).",
            Self::TestsFurtherArea => {
                "So many more moisture tests for each further 1000 ft² (100 m²)."
            }
            Self::InSituDepthOneSide => {
                "Depth of an in-situ test, as a share of the thickness of a slab that dries \
                 on one side; a shallower hole reads drier."
            }
            Self::InSituDepthBothSides => {
                "Depth of an in-situ test, as a share of the thickness of a slab that dries \
                 on both sides."
            }
            Self::InSituWait => "The sealed hole rests for this long before it is read.",
            Self::InSituRhMax => "Relative humidity inside the slab is at most this.",
            Self::ChlorideAirMin => {
                "The air is at least this warm before and during a calcium chloride test."
            }
            Self::ChlorideAirMax => {
                "The air is at most this warm before and during a calcium chloride test."
            }
            Self::ChlorideRhMin => {
                "The air is at least this humid before and during a calcium chloride test."
            }
            Self::ChlorideRhMax => {
                "The air is at most this humid before and during a calcium chloride test."
            }
            Self::ChlorideExposureMin => {
                "A calcium chloride dish is exposed for at least this long."
            }
            Self::ChlorideExposureMax => {
                "A calcium chloride dish is exposed for at most this long."
            }
            Self::MverMax => {
                "The slab gives off at most this much moisture (calcium chloride test)."
            }

            // Wood.
            Self::WoodMcMin => "The mean moisture content of the flooring is at least this.",
            Self::WoodMcMax => "The mean moisture content of the flooring is at most this.",
            Self::McDifferenceMax => {
                "The moisture content of the flooring is this close to that of a wood \
                 subfloor, or to the balance with the air of the room."
            }
            Self::MeterReadings => {
                "So many moisture meter readings of the flooring for each 1000 ft² (100 m²)."
            }

            // Heating.
            Self::SupplyWarn => "Above this supply temperature the program warns.",
            Self::SupplyMax => "The heating supplies water no warmer than this.",
            Self::RunInAgeCement => "A cement screed is this old before it is first heated.",
            Self::RunInAgeCalciumSulphate => {
                "A calcium sulphate screed is this old before it is first heated."
            }
            Self::RunInFirstMin => {
                "In the first stage of the run-in the supply is at least this warm."
            }
            Self::RunInFirstMax => {
                "In the first stage of the run-in the supply is at most this warm."
            }
            Self::RunInFirstHold => "The first stage of the run-in lasts this long.",
            Self::RunInDesignHold => {
                "The run-in then holds the highest design supply temperature for this long."
            }
            Self::RunInDesignTolerance => {
                "The supply counts as at its design maximum when it is at most this far below it."
            }

            // Evidence.
            Self::CoverageMin => "At least this share of the expected samples is in the log.",
            Self::GapMax => "A longer gap in the log breaks whatever must hold without a break.",
            Self::ProbeCheckAgeMax => "The last check of a probe is at most this old.",
            Self::ProbeTemperatureErrorMax => {
                "A temperature probe is off by at most this much at a check."
            }
            Self::ProbeRhErrorMax => "A humidity probe is off by at most this much at a check.",
            Self::ProbeTemperatureUncertainty => {
                "Expanded uncertainty of a temperature probe when the job states none."
            }
            Self::ProbeRhUncertainty => {
                "Expanded uncertainty of a humidity probe when the job states none."
            }
            Self::ProbeUnchangedMax => {
                "A probe that does not change in the last digit for longer than this is taken \
                 to be stuck."
            }
        }
    }
}
