//! The names of the limits, and the units in which they are held.

use std::fmt;
use std::str::FromStr;

use serde::{Serialize, Serializer};
use thiserror::Error;

use crate::quantity::{
    MoistureContent, MoistureEmission, Quantity, QuantityError, RelativeHumidity, Temperature,
    TemperatureDifference, TimeSpan, Units,
};

macro_rules! limit_ids {
    ($($variant:ident = $text:literal,)+) => {
        /// A limit: see [`LimitId::meaning`] and, for default and source, [`LimitId::shipped`].
        ///
        /// The text ids are stable: job files and records hold them.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum LimitId {
            $(
                #[doc = concat!("`", $text, "`")]
                $variant,
            )+
        }

        impl LimitId {
            /// Every limit, in the order in which they are listed.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The id as job files write it.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self {
                    $(Self::$variant => $text,)+
                }
            }
        }
    };
}

limit_ids! {
    // Air in the room while the wood acclimates and as long as the floor is in service.
    AirMin = "air-min",
    AirMax = "air-max",
    AirRhMin = "air-rh-min",
    AirRhMax = "air-rh-max",
    Acclimation = "acclimation",
    ConditionsBeforeDelivery = "conditions-before-delivery",
    // Slab surface.
    SlabSurfaceMin = "slab-surface-min",
    LayingSurfaceMin = "laying-surface-min",
    LayingSurfaceMax = "laying-surface-max",
    LayingHoldBefore = "laying-hold-before",
    LayingHoldAfter = "laying-hold-after",
    SurfaceMax = "surface-max",
    SurfaceAbsoluteMax = "surface-absolute-max",
    SurfaceChangeMax = "surface-change-24h-max",
    SurfaceChangeWarn = "surface-change-24h-warn",
    // Moisture barrier.
    BarrierDewMargin = "barrier-dew-margin",
    BarrierSurfaceMin = "barrier-surface-min",
    BarrierSurfaceMax = "barrier-surface-max",
    BarrierAirMin = "barrier-air-min",
    BarrierAirMax = "barrier-air-max",
    BarrierRhMin = "barrier-rh-min",
    BarrierRhMax = "barrier-rh-max",
    BarrierCure = "barrier-cure",
    // Adhesive.
    AdhesiveDewMargin = "adhesive-dew-margin",
    AdhesiveSurfaceMin = "adhesive-surface-min",
    AdhesiveSurfaceMax = "adhesive-surface-max",
    AdhesiveAirMin = "adhesive-air-min",
    AdhesiveAirMax = "adhesive-air-max",
    AdhesiveRhMin = "adhesive-rh-min",
    AdhesiveRhMax = "adhesive-rh-max",
    TrafficCure = "traffic-cure",
    SandingCure = "sanding-cure",
    HeatUpCure = "heat-up-cure",
    // Concrete and its moisture tests.
    ConcreteAge = "concrete-age",
    ConcreteEquivalentAge = "concrete-equivalent-age",
    TestConditions = "test-conditions",
    TestsFirstArea = "tests-first-area",
    TestsFurtherArea = "tests-further-area",
    InSituDepthOneSide = "in-situ-depth-one-side",
    InSituDepthBothSides = "in-situ-depth-both-sides",
    InSituWait = "in-situ-wait",
    InSituRhMax = "in-situ-rh-max",
    ChlorideAirMin = "calcium-chloride-air-min",
    ChlorideAirMax = "calcium-chloride-air-max",
    ChlorideRhMin = "calcium-chloride-rh-min",
    ChlorideRhMax = "calcium-chloride-rh-max",
    ChlorideExposureMin = "calcium-chloride-exposure-min",
    ChlorideExposureMax = "calcium-chloride-exposure-max",
    MverMax = "mver-max",
    // Wood.
    WoodMcMin = "wood-mc-min",
    WoodMcMax = "wood-mc-max",
    McDifferenceMax = "mc-difference-max",
    MeterReadings = "meter-readings",
    // Heating.
    SupplyWarn = "supply-warn",
    SupplyMax = "supply-max",
    RunInAgeCement = "run-in-age-cement",
    RunInAgeCalciumSulphate = "run-in-age-calcium-sulphate",
    RunInFirstMin = "run-in-first-min",
    RunInFirstMax = "run-in-first-max",
    RunInFirstHold = "run-in-first-hold",
    RunInDesignHold = "run-in-design-hold",
    RunInDesignTolerance = "run-in-design-tolerance",
    // Evidence.
    CoverageMin = "coverage-min",
    GapMax = "gap-max",
    ProbeCheckAgeMax = "probe-check-age-max",
    ProbeTemperatureErrorMax = "probe-temperature-error-max",
    ProbeRhErrorMax = "probe-rh-error-max",
    ProbeTemperatureUncertainty = "probe-temperature-uncertainty",
    ProbeRhUncertainty = "probe-rh-uncertainty",
    ProbeUnchangedMax = "probe-unchanged-max",
}

/// How a limit binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// The value may not be lower; the higher of two such limits is stricter.
    AtLeast,
    /// The value may not be higher; the lower of two such limits is stricter.
    AtMost,
    /// So much time must have passed; the longer of two such limits is stricter.
    MinimumTime,
    /// Not a bound but a figure that the check needs; the higher of two is the more careful one.
    Assumed,
}

impl Bound {
    /// Whether `a` asks for more than `b`.
    #[must_use]
    pub fn is_stricter(self, a: f64, b: f64) -> bool {
        match self {
            Self::AtLeast | Self::MinimumTime | Self::Assumed => a > b,
            Self::AtMost => a < b,
        }
    }
}

/// The unit in which the value of a limit is held and serialised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LimitUnit {
    /// Temperature, °C.
    Celsius,
    /// Temperature difference, K.
    Kelvin,
    /// Relative humidity, or a difference of two, %.
    PercentRh,
    /// Wood moisture content, or a difference of two, %.
    PercentMc,
    /// A share of a whole, %.
    Percent,
    /// Time, h.
    Hours,
    /// Moisture vapour emission rate, g/m² per 24 h.
    GramsPerM2Per24h,
    /// A number of tests or readings.
    Count,
}

impl LimitUnit {
    /// The unit in plain characters, as JSON has it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Celsius => "degC",
            Self::Kelvin => "K",
            Self::PercentRh => "%RH",
            Self::PercentMc => "%MC",
            Self::Percent => "%",
            Self::Hours => "h",
            Self::GramsPerM2Per24h => "g/m2/24h",
            Self::Count => "1",
        }
    }

    /// A value of this unit, to read, in the units asked for.
    #[must_use]
    pub fn show(self, value: f64, units: Units) -> String {
        match self {
            Self::Celsius => units.temperature(Temperature::from_celsius(value)),
            Self::Kelvin => units.difference(TemperatureDifference::from_kelvin(value)),
            Self::PercentRh => units.humidity(RelativeHumidity::from_percent(value)),
            Self::PercentMc => units.moisture_content(MoistureContent::from_percent(value)),
            Self::Percent => format!("{value:.1} %"),
            Self::Hours => units.time_span(TimeSpan::from_hours(value)),
            Self::GramsPerM2Per24h => units.emission(MoistureEmission::from_g_per_m2_24h(value)),
            Self::Count => format!("{value:.0}"),
        }
    }

    /// Reads a value of this unit as a job file writes it, such as `"80 F"` or, for a count, `"3"`.
    ///
    /// # Errors
    ///
    /// When the text is no such value.
    pub fn parse(self, text: &str) -> Result<f64, ParseValueError> {
        fn held<Q: Quantity>(text: &str) -> Result<f64, ParseValueError> {
            Ok(Q::parse(text)?.held())
        }
        match self {
            Self::Celsius => held::<Temperature>(text),
            Self::Kelvin => held::<TemperatureDifference>(text),
            Self::PercentRh | Self::Percent => held::<RelativeHumidity>(text),
            Self::PercentMc => held::<MoistureContent>(text),
            Self::Hours => held::<TimeSpan>(text),
            Self::GramsPerM2Per24h => held::<MoistureEmission>(text),
            Self::Count => match text.trim().parse::<u16>() {
                Ok(count) => Ok(f64::from(count)),
                Err(_) => Err(ParseValueError::Count(text.trim().to_owned())),
            },
        }
    }
}

impl fmt::Display for LimitUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for LimitUnit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}

/// Why a text is not a value for a limit.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ParseValueError {
    /// Not a quantity of the limit's kind.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// Not a whole number.
    #[error("`{0}` is not a whole number: write a count such as \"3\"")]
    Count(String),
}

impl ParseValueError {
    /// What is wrong, without the cure.
    #[must_use]
    pub fn problem(&self) -> String {
        match self {
            Self::Quantity(error) => error.problem(),
            Self::Count(text) => format!("`{text}` is not a whole number"),
        }
    }

    /// What to write instead.
    #[must_use]
    pub fn fix(&self) -> String {
        match self {
            Self::Quantity(error) => error.fix(),
            Self::Count(_) => "write a count such as \"3\"".to_owned(),
        }
    }
}

/// A text that names no limit.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("there is no limit `{text}`{}", .suggestion.map(|id| format!("; did you mean `{id}`?")).unwrap_or_default())]
pub struct UnknownLimit {
    /// The text.
    pub text: String,
    /// The limit whose id is nearest, when one is near.
    pub suggestion: Option<LimitId>,
}

impl FromStr for LimitId {
    type Err = UnknownLimit;

    fn from_str(text: &str) -> Result<Self, UnknownLimit> {
        let same = |id: &&Self| id.as_str() == text;
        if let Some(id) = Self::ALL.iter().find(same) {
            return Ok(*id);
        }
        let suggestion = Self::ALL
            .iter()
            .map(|id| (strsim::jaro_winkler(id.as_str(), text), *id))
            .filter(|(likeness, _)| *likeness > 0.8)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, id)| id);
        Err(UnknownLimit { text: text.to_owned(), suggestion })
    }
}

impl fmt::Display for LimitId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for LimitId {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}
