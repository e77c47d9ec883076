//! The shipped defaults: one arm per limit, with its meaning and source.

use super::figure::Status::{CommonPractice, FromMemory, Published, SecondHand};
use super::figure::{Figure, Shipped, Status};
use super::id::Bound::{self, Assumed, AtLeast, AtMost, MinimumTime};
use super::id::LimitId;
use super::id::LimitUnit::{
    self, Celsius, Count, GramsPerM2Per24h, Hours, Kelvin, Percent, PercentMc, PercentRh,
};
use crate::job::Profile;
use crate::quantity::{Area, MoistureEmission};

/// Area that one group of moisture tests or meter readings stands for: 1000 ft² (ASTM F2170, F1869).
///
/// The methods give 100 m² as its metric round figure; the smaller area asks for more tests.
pub const TEST_AREA: Area = Area::from_square_metres(92.903_04);

const TKB: &str = "TKB leaflet on assessing and preparing subfloors, July 2004 (adhesive industry)";
const TKB_4_11: &str = "TKB leaflet, July 2004, clause 4.11 (adhesive industry)";
const NWFA_CLIMATE: &str = "NWFA ambient range, Hardwood Floors 2018-07-02";
const VDP: &str = "vdp parquet industry leaflet after EN 15251, 08/2016";
const NO_SOURCE: &str = "trade practice, no source found";
const F2170_NUMBER: &str = "ASTM F2170, clause 10.1; ASTM F1869 asks for the same";
const F2170_DEPTH: &str = "ASTM F2170, test depth";
const F1869: &str = "ASTM F1869 conditioning clause (75 ± 10 °F, 50 ± 10 %RH)";
const F1869_EXPOSURE: &str = "ASTM F1869, exposure of 60 to 72 h";
const MILLING: &str = "range at milling, NWFA guidelines as quoted in the trade press";
const EN_1264_4: &str = "EN 1264-4, clause 4.2.4";
const ISO_8502_4: &str = "coating practice citing ISO 8502-4 and ISO 12944-7";

const fn row(
    unit: LimitUnit,
    bound: Bound,
    meaning: &'static str,
    figure: Option<Figure>,
) -> Shipped {
    Shipped { unit, bound, meaning, figure }
}

const fn figure(value: f64, status: Status, source: &'static str) -> Option<Figure> {
    Some(Figure { value, status, source })
}

/// Only a product data sheet can say.
const SHEET_ONLY: Option<Figure> = None;

impl LimitId {
    /// The unit in which its value is held.
    #[must_use]
    pub const fn unit(self) -> LimitUnit {
        self.shipped(Profile::Us).unit
    }

    /// How it binds.
    #[must_use]
    pub const fn bound(self) -> Bound {
        self.shipped(Profile::Us).bound
    }

    /// What it asks for, in a sentence.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        self.shipped(Profile::Us).meaning
    }

    /// Unit, bound, meaning and default.
    #[must_use]
    pub const fn shipped(self, profile: Profile) -> Shipped {
        match self {
            // Air in the room.
            Self::AirMin => row(
                Celsius,
                AtLeast,
                "The air is at least this warm while the wood acclimates and is glued.",
                figure(18.0, SecondHand, TKB_4_11),
            ),
            Self::AirMax => row(
                Celsius,
                AtMost,
                "The air is at most this warm while the wood acclimates and is glued.",
                figure(26.7, Published, NWFA_CLIMATE),
            ),
            Self::AirRhMin => row(
                PercentRh,
                AtLeast,
                "The air is at least this humid while the wood acclimates and is glued.",
                match profile {
                    Profile::Us => figure(30.0, Published, NWFA_CLIMATE),
                    Profile::Eu => figure(30.0, Published, VDP),
                },
            ),
            Self::AirRhMax => row(
                PercentRh,
                AtMost,
                "The air is at most this humid while the wood acclimates and is glued.",
                match profile {
                    Profile::Us => figure(50.0, Published, NWFA_CLIMATE),
                    Profile::Eu => figure(65.0, Published, VDP),
                },
            ),
            Self::Acclimation => row(
                Hours,
                MinimumTime,
                "Air temperature and humidity stay in range for this long without a break \
                 before gluing. No fixed number exists: the wood is ready when its \
                 moisture content fits, and the maker's sheet rules.",
                figure(
                    72.0,
                    SecondHand,
                    "at least 3 days, as a trade page quotes NWFA; others hold 5 to 7 days",
                ),
            ),
            Self::ConditionsBeforeDelivery => row(
                Hours,
                MinimumTime,
                "The room is at service conditions for this long before the wood is delivered.",
                figure(120.0, CommonPractice, NO_SOURCE),
            ),

            // Slab surface.
            Self::SlabSurfaceMin => row(
                Celsius,
                AtLeast,
                "The slab surface is never colder than this while anything is applied or cures.",
                figure(15.0, SecondHand, TKB_4_11),
            ),
            Self::LayingSurfaceMin => row(
                Celsius,
                AtLeast,
                "The slab surface is at least this warm from before gluing until the hold \
                 after it ends.",
                figure(18.0, SecondHand, TKB),
            ),
            Self::LayingSurfaceMax => row(
                Celsius,
                AtMost,
                "The slab surface is at most this warm from before gluing until the hold \
                 after it ends.",
                figure(22.0, SecondHand, TKB),
            ),
            Self::LayingHoldBefore => row(
                Hours,
                MinimumTime,
                "The slab surface is in the laying range for this long before gluing.",
                figure(72.0, SecondHand, TKB),
            ),
            Self::LayingHoldAfter => row(
                Hours,
                MinimumTime,
                "The slab surface is in the laying range for this long after gluing.",
                figure(168.0, SecondHand, TKB),
            ),
            Self::SurfaceMax => row(
                Celsius,
                AtMost,
                "No part of the wood surface gets warmer than this.",
                figure(26.7, Published, "NWFA 2019 (80 °F), Hardwood Floors 2020-01-30"),
            ),
            Self::SurfaceAbsoluteMax => row(
                Celsius,
                AtMost,
                "No floor surface in occupied rooms gets warmer than this, whatever it is \
                 made of.",
                figure(29.0, SecondHand, "EN 1264-2, occupied zone"),
            ),
            Self::SurfaceChangeMax => row(
                Kelvin,
                AtMost,
                "The slab surface changes by at most this much within any 24 h.",
                figure(
                    2.8,
                    CommonPractice,
                    "US trade pages (5 °F a day), no association text found",
                ),
            ),
            Self::SurfaceChangeWarn => row(
                Kelvin,
                AtMost,
                "Above this change within 24 h the program warns.",
                figure(
                    1.0,
                    CommonPractice,
                    "UK trade pages (1 °C a day), no association text found",
                ),
            ),

            // Moisture barrier.
            Self::BarrierDewMargin => row(
                Kelvin,
                AtLeast,
                "The slab surface is this far above the dew point of the air while the \
                 barrier is applied and cures.",
                figure(3.0, SecondHand, ISO_8502_4),
            ),
            Self::BarrierSurfaceMin => row(
                Celsius,
                AtLeast,
                "The slab surface is at least this warm for the barrier.",
                figure(
                    15.0,
                    SecondHand,
                    "TKB leaflet, July 2004, clause 4.11, written for adhesives",
                ),
            ),
            Self::BarrierSurfaceMax => row(
                Celsius,
                AtMost,
                "The slab surface is at most this warm for the barrier.",
                SHEET_ONLY,
            ),
            Self::BarrierAirMin => {
                row(Celsius, AtLeast, "The air is at least this warm for the barrier.", SHEET_ONLY)
            }
            Self::BarrierAirMax => {
                row(Celsius, AtMost, "The air is at most this warm for the barrier.", SHEET_ONLY)
            }
            Self::BarrierRhMin => row(
                PercentRh,
                AtLeast,
                "The air is at least this humid for the barrier.",
                SHEET_ONLY,
            ),
            Self::BarrierRhMax => row(
                PercentRh,
                AtMost,
                "The air is at most this humid for the barrier.",
                figure(85.0, SecondHand, ISO_8502_4),
            ),
            Self::BarrierCure => row(
                Hours,
                MinimumTime,
                "The barrier cures for this long before adhesive is spread on it.",
                SHEET_ONLY,
            ),

            // Adhesive.
            Self::AdhesiveDewMargin => row(
                Kelvin,
                AtLeast,
                "The slab surface is this far above the dew point of the air while the \
                 adhesive is spread and cures.",
                figure(3.0, SecondHand, ISO_8502_4),
            ),
            Self::AdhesiveSurfaceMin => row(
                Celsius,
                AtLeast,
                "The slab surface is at least this warm for the adhesive.",
                figure(15.0, SecondHand, TKB_4_11),
            ),
            Self::AdhesiveSurfaceMax => row(
                Celsius,
                AtMost,
                "The slab surface is at most this warm for the adhesive.",
                SHEET_ONLY,
            ),
            Self::AdhesiveAirMin => row(
                Celsius,
                AtLeast,
                "The air is at least this warm for the adhesive.",
                figure(18.0, SecondHand, TKB_4_11),
            ),
            Self::AdhesiveAirMax => {
                row(Celsius, AtMost, "The air is at most this warm for the adhesive.", SHEET_ONLY)
            }
            Self::AdhesiveRhMin => row(
                PercentRh,
                AtLeast,
                "The air is at least this humid for the adhesive; adhesives that cure \
                 with moisture need some.",
                SHEET_ONLY,
            ),
            Self::AdhesiveRhMax => row(
                PercentRh,
                AtMost,
                "The air is at most this humid for the adhesive.",
                figure(75.0, SecondHand, TKB_4_11),
            ),
            Self::TrafficCure => row(
                Hours,
                MinimumTime,
                "The adhesive cures for this long before the floor is walked on.",
                SHEET_ONLY,
            ),
            Self::SandingCure => row(
                Hours,
                MinimumTime,
                "The adhesive cures for this long before the floor is sanded.",
                SHEET_ONLY,
            ),
            Self::HeatUpCure => row(
                Hours,
                MinimumTime,
                "The adhesive cures for this long before the heat is turned back up.",
                figure(168.0, SecondHand, TKB),
            ),

            // Concrete and its moisture tests.
            Self::ConcreteAge => row(
                Hours,
                MinimumTime,
                "The concrete is this old by the calendar.",
                figure(672.0, CommonPractice, NO_SOURCE),
            ),
            Self::ConcreteEquivalentAge => row(
                Hours,
                MinimumTime,
                "The concrete has the maturity of this age at 20 °C, nothing counted \
                 below 0 °C. It tells strength, never dryness.",
                figure(
                    672.0,
                    CommonPractice,
                    "trade practice for the age; method of ASTM C1074, constants from memory",
                ),
            ),
            Self::TestConditions => row(
                Hours,
                MinimumTime,
                "Slab and room are at service conditions for this long before a moisture \
                 test, and during it.",
                figure(48.0, SecondHand, "ASTM F2170 and F1869, conditioning clauses"),
            ),
            Self::TestsFirstArea => row(
                Count,
                AtLeast,
                "So many moisture tests for the first 1000 ft² (100 m²).",
                figure(3.0, SecondHand, F2170_NUMBER),
            ),
            Self::TestsFurtherArea => row(
                Count,
                AtLeast,
                "So many more moisture tests for each further 1000 ft² (100 m²).",
                figure(1.0, SecondHand, F2170_NUMBER),
            ),
            Self::InSituDepthOneSide => row(
                Percent,
                AtLeast,
                "Depth of an in-situ test, as a share of the thickness of a slab that \
                 dries on one side; a shallower hole reads drier.",
                figure(40.0, SecondHand, F2170_DEPTH),
            ),
            Self::InSituDepthBothSides => row(
                Percent,
                AtLeast,
                "Depth of an in-situ test, as a share of the thickness of a slab that \
                 dries on both sides.",
                figure(20.0, SecondHand, F2170_DEPTH),
            ),
            Self::InSituWait => row(
                Hours,
                MinimumTime,
                "The sealed hole rests for this long before it is read.",
                figure(24.0, SecondHand, "ASTM F2170-18 and later; 72 h in older editions"),
            ),
            Self::InSituRhMax => row(
                PercentRh,
                AtMost,
                "Relative humidity inside the slab is at most this.",
                figure(75.0, SecondHand, "NWFA guidelines as quoted in the trade press"),
            ),
            Self::ChlorideAirMin => row(
                Celsius,
                AtLeast,
                "The air is at least this warm before and during a calcium chloride test.",
                figure((65.0 - 32.0) / 1.8, SecondHand, F1869),
            ),
            Self::ChlorideAirMax => row(
                Celsius,
                AtMost,
                "The air is at most this warm before and during a calcium chloride test.",
                figure((85.0 - 32.0) / 1.8, SecondHand, F1869),
            ),
            Self::ChlorideRhMin => row(
                PercentRh,
                AtLeast,
                "The air is at least this humid before and during a calcium chloride test.",
                figure(40.0, SecondHand, F1869),
            ),
            Self::ChlorideRhMax => row(
                PercentRh,
                AtMost,
                "The air is at most this humid before and during a calcium chloride test.",
                figure(60.0, SecondHand, F1869),
            ),
            Self::ChlorideExposureMin => row(
                Hours,
                MinimumTime,
                "A calcium chloride dish is exposed for at least this long.",
                figure(60.0, SecondHand, F1869_EXPOSURE),
            ),
            Self::ChlorideExposureMax => row(
                Hours,
                AtMost,
                "A calcium chloride dish is exposed for at most this long.",
                figure(72.0, SecondHand, F1869_EXPOSURE),
            ),
            Self::MverMax => row(
                GramsPerM2Per24h,
                AtMost,
                "The slab gives off at most this much moisture (calcium chloride test).",
                figure(
                    MoistureEmission::from_lb_per_1000_ft2_24h(3.0).g_per_m2_24h(),
                    FromMemory,
                    "3 lb/1000 ft²/24 h, trade figure for glued wood floors",
                ),
            ),

            // Wood.
            Self::WoodMcMin => row(
                PercentMc,
                AtLeast,
                "The mean moisture content of the flooring is at least this.",
                figure(6.0, SecondHand, MILLING),
            ),
            Self::WoodMcMax => row(
                PercentMc,
                AtMost,
                "The mean moisture content of the flooring is at most this.",
                figure(9.0, SecondHand, MILLING),
            ),
            Self::McDifferenceMax => row(
                PercentMc,
                AtMost,
                "The moisture content of the flooring is this close to that of a wood \
                 subfloor, or to the balance with the air of the room.",
                figure(
                    2.0,
                    SecondHand,
                    "NWFA, row for boards of 3 in and wider, as a 2018 trade article quotes it",
                ),
            ),
            Self::MeterReadings => row(
                Count,
                AtLeast,
                "So many moisture meter readings of the flooring for each 1000 ft² (100 m²).",
                figure(40.0, Published, "NWFA, Hardwood Floors 2019-02-26"),
            ),

            // Heating.
            Self::SupplyWarn => row(
                Celsius,
                AtMost,
                "Above this supply temperature the program warns.",
                figure(
                    45.0,
                    CommonPractice,
                    "UK and French trade practice for wood floors (40 to 45 °C)",
                ),
            ),
            Self::SupplyMax => row(
                Celsius,
                AtMost,
                "The heating supplies water no warmer than this.",
                figure(55.0, SecondHand, "DIN 18560-2, cement and calcium sulphate screed"),
            ),
            Self::RunInAgeCement => row(
                Hours,
                MinimumTime,
                "A cement screed is this old before it is first heated.",
                figure(504.0, SecondHand, EN_1264_4),
            ),
            Self::RunInAgeCalciumSulphate => row(
                Hours,
                MinimumTime,
                "A calcium sulphate screed is this old before it is first heated.",
                figure(168.0, SecondHand, EN_1264_4),
            ),
            Self::RunInFirstMin => row(
                Celsius,
                AtLeast,
                "In the first stage of the run-in the supply is at least this warm.",
                figure(20.0, SecondHand, EN_1264_4),
            ),
            Self::RunInFirstMax => row(
                Celsius,
                AtMost,
                "In the first stage of the run-in the supply is at most this warm.",
                figure(25.0, SecondHand, EN_1264_4),
            ),
            Self::RunInFirstHold => row(
                Hours,
                MinimumTime,
                "The first stage of the run-in lasts this long.",
                figure(72.0, SecondHand, EN_1264_4),
            ),
            Self::RunInDesignHold => row(
                Hours,
                MinimumTime,
                "The run-in then holds the highest design supply temperature for this long.",
                figure(96.0, SecondHand, EN_1264_4),
            ),
            Self::RunInDesignTolerance => row(
                Kelvin,
                AtMost,
                "The supply counts as at its design maximum when it is at most this far below it.",
                figure(2.0, CommonPractice, NO_SOURCE),
            ),

            // Evidence.
            Self::CoverageMin => row(
                Percent,
                AtLeast,
                "At least this share of the expected samples is in the log.",
                figure(95.0, CommonPractice, NO_SOURCE),
            ),
            Self::GapMax => row(
                Hours,
                AtMost,
                "A longer gap in the log breaks whatever must hold without a break.",
                figure(1.0, CommonPractice, NO_SOURCE),
            ),
            Self::ProbeCheckAgeMax => row(
                Hours,
                AtMost,
                "The last check of a probe is at most this old.",
                figure(8760.0, CommonPractice, "yearly checks, no source found"),
            ),
            Self::ProbeTemperatureErrorMax => row(
                Kelvin,
                AtMost,
                "A temperature probe is off by at most this much at a check.",
                figure(0.5, CommonPractice, NO_SOURCE),
            ),
            Self::ProbeRhErrorMax => row(
                PercentRh,
                AtMost,
                "A humidity probe is off by at most this much at a check.",
                figure(3.0, CommonPractice, NO_SOURCE),
            ),
            Self::ProbeTemperatureUncertainty => row(
                Kelvin,
                Assumed,
                "Expanded uncertainty of a temperature probe when the job states none.",
                figure(0.5, FromMemory, "typical digital temperature sensor"),
            ),
            Self::ProbeRhUncertainty => row(
                PercentRh,
                Assumed,
                "Expanded uncertainty of a humidity probe when the job states none.",
                figure(3.0, FromMemory, "typical digital humidity sensor"),
            ),
            Self::ProbeUnchangedMax => row(
                Hours,
                AtMost,
                "A probe that does not change in the last digit for longer than this is \
                 taken to be stuck.",
                figure(24.0, CommonPractice, NO_SOURCE),
            ),
        }
    }
}
