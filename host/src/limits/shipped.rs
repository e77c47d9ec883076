//! The shipped defaults: one arm per limit, with the source of its figure.

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
const NWFA_CLIMATE: &str =
    "NWFA ambient range (60 to 80 °F, 30 to 50 %RH), Hardwood Floors 2018-07-02";
const VDP: &str = "vdp parquet industry leaflet after EN 15251, 08/2016";
const NO_SOURCE: &str = "trade practice, no source found";
const F2170_NUMBER: &str = "ASTM F2170, clause 10.1; ASTM F1869 asks for the same";
const F2170_DEPTH: &str = "ASTM F2170, test depth";
const F1869: &str = "ASTM F1869 conditioning clause (75 ± 10 °F, 50 ± 10 %RH)";
const F1869_EXPOSURE: &str = "ASTM F1869, exposure of 60 to 72 h";
const MILLING: &str = "range at milling, NWFA guidelines as quoted in the trade press";
const EN_1264_4: &str = "EN 1264-4, clause 4.2.4";
const ISO_8502_4: &str = "coating practice citing ISO 8502-4 and ISO 12944-7";

const fn row(unit: LimitUnit, bound: Bound, figure: Option<Figure>) -> Shipped {
    Shipped { unit, bound, figure }
}

const fn figure(value: f64, status: Status, source: &'static str) -> Option<Figure> {
    Some(Figure { value, status, source })
}

/// Sources that speak in °F are kept exact, so that 80 °F stays 80.0 °F on the record.
const fn fahrenheit(degrees: f64) -> f64 {
    (degrees - 32.0) / 1.8
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

    /// Unit, bound and default.
    #[must_use]
    pub const fn shipped(self, profile: Profile) -> Shipped {
        match self {
            // Air in the room.
            Self::AirMin => row(Celsius, AtLeast, figure(18.0, SecondHand, TKB_4_11)),
            Self::AirMax => row(Celsius, AtMost, figure(fahrenheit(80.0), Published, NWFA_CLIMATE)),
            Self::AirRhMin => row(
                PercentRh,
                AtLeast,
                match profile {
                    Profile::Us => figure(30.0, Published, NWFA_CLIMATE),
                    Profile::Eu => figure(30.0, Published, VDP),
                },
            ),
            Self::AirRhMax => row(
                PercentRh,
                AtMost,
                match profile {
                    Profile::Us => figure(50.0, Published, NWFA_CLIMATE),
                    Profile::Eu => figure(65.0, Published, VDP),
                },
            ),
            Self::Acclimation => row(
                Hours,
                MinimumTime,
                figure(
                    72.0,
                    SecondHand,
                    "at least 3 days, as a trade page quotes NWFA; others hold 5 to 7 days",
                ),
            ),
            Self::ConditionsBeforeDelivery => {
                row(Hours, MinimumTime, figure(120.0, CommonPractice, NO_SOURCE))
            }

            // Slab surface.
            Self::SlabSurfaceMin => row(Celsius, AtLeast, figure(15.0, SecondHand, TKB_4_11)),
            Self::LayingSurfaceMin => row(Celsius, AtLeast, figure(18.0, SecondHand, TKB)),
            Self::LayingSurfaceMax => row(Celsius, AtMost, figure(22.0, SecondHand, TKB)),
            Self::LayingHoldBefore => row(Hours, MinimumTime, figure(72.0, SecondHand, TKB)),
            Self::LayingHoldAfter => row(Hours, MinimumTime, figure(168.0, SecondHand, TKB)),
            Self::SurfaceMax => row(
                Celsius,
                AtMost,
                figure(
                    fahrenheit(80.0),
                    Published,
                    "NWFA 2019 (80 °F), Hardwood Floors 2020-01-30",
                ),
            ),
            Self::SurfaceAbsoluteMax => {
                row(Celsius, AtMost, figure(29.0, SecondHand, "EN 1264-2, occupied zone"))
            }
            Self::SurfaceChangeMax => row(
                Kelvin,
                AtMost,
                figure(
                    5.0 / 1.8,
                    CommonPractice,
                    "US trade pages (5 °F a day), no association text found",
                ),
            ),
            Self::SurfaceChangeWarn => row(
                Kelvin,
                AtMost,
                figure(
                    1.0,
                    CommonPractice,
                    "UK trade pages (1 °C a day), no association text found",
                ),
            ),

            // Moisture barrier.
            Self::BarrierDewMargin => row(Kelvin, AtLeast, figure(3.0, SecondHand, ISO_8502_4)),
            Self::BarrierSurfaceMin => row(
                Celsius,
                AtLeast,
                figure(
                    15.0,
                    SecondHand,
                    "TKB leaflet, July 2004, clause 4.11, written for adhesives",
                ),
            ),
            Self::BarrierSurfaceMax => row(Celsius, AtMost, SHEET_ONLY),
            Self::BarrierAirMin => row(Celsius, AtLeast, SHEET_ONLY),
            Self::BarrierAirMax => row(Celsius, AtMost, SHEET_ONLY),
            Self::BarrierRhMin => row(PercentRh, AtLeast, SHEET_ONLY),
            Self::BarrierRhMax => row(PercentRh, AtMost, figure(85.0, SecondHand, ISO_8502_4)),
            Self::BarrierCure => row(Hours, MinimumTime, SHEET_ONLY),

            // Adhesive.
            Self::AdhesiveDewMargin => row(Kelvin, AtLeast, figure(3.0, SecondHand, ISO_8502_4)),
            Self::AdhesiveSurfaceMin => row(Celsius, AtLeast, figure(15.0, SecondHand, TKB_4_11)),
            Self::AdhesiveSurfaceMax => row(Celsius, AtMost, SHEET_ONLY),
            Self::AdhesiveAirMin => row(Celsius, AtLeast, figure(18.0, SecondHand, TKB_4_11)),
            Self::AdhesiveAirMax => row(Celsius, AtMost, SHEET_ONLY),
            Self::AdhesiveRhMin => row(PercentRh, AtLeast, SHEET_ONLY),
            Self::AdhesiveRhMax => row(PercentRh, AtMost, figure(75.0, SecondHand, TKB_4_11)),
            Self::TrafficCure => row(Hours, MinimumTime, SHEET_ONLY),
            Self::SandingCure => row(Hours, MinimumTime, SHEET_ONLY),
            Self::HeatUpCure => row(Hours, MinimumTime, figure(168.0, SecondHand, TKB)),

            // Concrete and its moisture tests.
            Self::ConcreteAge => row(Hours, MinimumTime, figure(672.0, CommonPractice, NO_SOURCE)),
            Self::ConcreteEquivalentAge => row(
                Hours,
                MinimumTime,
                figure(
                    672.0,
                    CommonPractice,
                    "trade practice for the age; method of ASTM C1074, constants from memory",
                ),
            ),
            Self::TestConditions => row(
                Hours,
                MinimumTime,
                figure(48.0, SecondHand, "ASTM F2170 and F1869, conditioning clauses"),
            ),
            Self::TestsFirstArea => row(Count, AtLeast, figure(3.0, SecondHand, F2170_NUMBER)),
            Self::TestsFurtherArea => row(Count, AtLeast, figure(1.0, SecondHand, F2170_NUMBER)),
            Self::InSituDepthOneSide => {
                row(Percent, AtLeast, figure(40.0, SecondHand, F2170_DEPTH))
            }
            Self::InSituDepthBothSides => {
                row(Percent, AtLeast, figure(20.0, SecondHand, F2170_DEPTH))
            }
            Self::InSituWait => row(
                Hours,
                MinimumTime,
                figure(24.0, SecondHand, "ASTM F2170-18 and later; 72 h in older editions"),
            ),
            Self::InSituRhMax => row(
                PercentRh,
                AtMost,
                figure(75.0, SecondHand, "NWFA guidelines as quoted in the trade press"),
            ),
            Self::ChlorideAirMin => {
                row(Celsius, AtLeast, figure(fahrenheit(65.0), SecondHand, F1869))
            }
            Self::ChlorideAirMax => {
                row(Celsius, AtMost, figure(fahrenheit(85.0), SecondHand, F1869))
            }
            Self::ChlorideRhMin => row(PercentRh, AtLeast, figure(40.0, SecondHand, F1869)),
            Self::ChlorideRhMax => row(PercentRh, AtMost, figure(60.0, SecondHand, F1869)),
            Self::ChlorideExposureMin => {
                row(Hours, MinimumTime, figure(60.0, SecondHand, F1869_EXPOSURE))
            }
            Self::ChlorideExposureMax => {
                row(Hours, AtMost, figure(72.0, SecondHand, F1869_EXPOSURE))
            }
            Self::MverMax => row(
                GramsPerM2Per24h,
                AtMost,
                figure(
                    MoistureEmission::from_lb_per_1000_ft2_24h(3.0).g_per_m2_24h(),
                    FromMemory,
                    "3 lb/1000 ft²/24 h, trade figure for glued wood floors",
                ),
            ),

            // Wood.
            Self::WoodMcMin => row(PercentMc, AtLeast, figure(6.0, SecondHand, MILLING)),
            Self::WoodMcMax => row(PercentMc, AtMost, figure(9.0, SecondHand, MILLING)),
            Self::McDifferenceMax => row(
                PercentMc,
                AtMost,
                figure(
                    2.0,
                    SecondHand,
                    "NWFA, row for boards of 3 in and wider, as a 2018 trade article quotes it",
                ),
            ),
            Self::MeterReadings => {
                row(Count, AtLeast, figure(40.0, Published, "NWFA, Hardwood Floors 2019-02-26"))
            }

            // Heating.
            Self::SupplyWarn => row(
                Celsius,
                AtMost,
                figure(
                    45.0,
                    CommonPractice,
                    "UK and French trade practice for wood floors (40 to 45 °C)",
                ),
            ),
            Self::SupplyMax => row(
                Celsius,
                AtMost,
                figure(55.0, SecondHand, "DIN 18560-2, cement and calcium sulphate screed"),
            ),
            Self::RunInAgeCement => row(Hours, MinimumTime, figure(504.0, SecondHand, EN_1264_4)),
            Self::RunInAgeCalciumSulphate => {
                row(Hours, MinimumTime, figure(168.0, SecondHand, EN_1264_4))
            }
            Self::RunInFirstMin => row(Celsius, AtLeast, figure(20.0, SecondHand, EN_1264_4)),
            Self::RunInFirstMax => row(Celsius, AtMost, figure(25.0, SecondHand, EN_1264_4)),
            Self::RunInFirstHold => row(Hours, MinimumTime, figure(72.0, SecondHand, EN_1264_4)),
            Self::RunInDesignHold => row(Hours, MinimumTime, figure(96.0, SecondHand, EN_1264_4)),
            Self::RunInDesignTolerance => {
                row(Kelvin, AtMost, figure(2.0, CommonPractice, NO_SOURCE))
            }

            // Evidence.
            Self::CoverageMin => row(Percent, AtLeast, figure(95.0, CommonPractice, NO_SOURCE)),
            Self::GapMax => row(Hours, AtMost, figure(1.0, CommonPractice, NO_SOURCE)),
            Self::ProbeCheckAgeMax => {
                row(Hours, AtMost, figure(8760.0, CommonPractice, "yearly checks, no source found"))
            }
            Self::ProbeTemperatureErrorMax => {
                row(Kelvin, AtMost, figure(0.5, CommonPractice, NO_SOURCE))
            }
            Self::ProbeRhErrorMax => row(PercentRh, AtMost, figure(3.0, CommonPractice, NO_SOURCE)),
            Self::ProbeTemperatureUncertainty => {
                row(Kelvin, Assumed, figure(0.5, FromMemory, "typical digital temperature sensor"))
            }
            Self::ProbeRhUncertainty => {
                row(PercentRh, Assumed, figure(3.0, FromMemory, "typical digital humidity sensor"))
            }
            Self::ProbeUnchangedMax => row(Hours, AtMost, figure(24.0, CommonPractice, NO_SOURCE)),
        }
    }
}
