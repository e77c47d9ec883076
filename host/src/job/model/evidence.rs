//! Moisture tests, meter readings, probe checks, and limits that the job sets itself.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use crate::job::serial::{date, known_date, time};
use crate::limits::LimitId;
use crate::quantity::{Area, Length, Mass, MoistureContent, RelativeHumidity, Temperature};

/// One in-situ relative humidity test (ASTM F2170).
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct InSituTest {
    /// Name of the hole.
    pub hole: String,
    /// Room it is in.
    pub room: Option<String>,
    /// Depth of the probe below the surface.
    #[serde(rename = "depth-m")]
    pub depth: Option<Length>,
    /// When the hole was drilled.
    #[serde(serialize_with = "time")]
    pub drilled: Option<Timestamp>,
    /// When the lined hole was sealed; the waiting time runs from here.
    #[serde(serialize_with = "time")]
    pub sealed: Option<Timestamp>,
    /// When the reading was taken.
    #[serde(serialize_with = "time")]
    pub read: Option<Timestamp>,
    /// Relative humidity read.
    #[serde(rename = "reading-percent")]
    pub reading: Option<RelativeHumidity>,
    /// Temperature in the hole at the reading.
    #[serde(rename = "temperature-c")]
    pub temperature: Option<Temperature>,
    /// Whether the floor heating was on during the test.
    pub heat_on: Option<bool>,
}

/// One calcium chloride test (ASTM F1869).
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct CalciumChlorideTest {
    /// Name of the dish.
    pub dish: String,
    /// Room it is in.
    pub room: Option<String>,
    /// When the dome was sealed over the open dish.
    #[serde(serialize_with = "time")]
    pub start: Option<Timestamp>,
    /// When the dish was closed again.
    #[serde(serialize_with = "time")]
    pub end: Option<Timestamp>,
    /// Area of concrete under the dome; editions of the method differ in whether the dish is deducted.
    #[serde(rename = "area-m2")]
    pub area: Option<Area>,
    /// Weight of the closed dish before.
    #[serde(rename = "start-weight-kg")]
    pub start_weight: Option<Mass>,
    /// Weight of the closed dish after.
    #[serde(rename = "end-weight-kg")]
    pub end_weight: Option<Mass>,
    /// Whether the floor heating was on during the test.
    pub heat_on: Option<bool>,
}

/// Moisture meter readings of one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct MeterReadings {
    /// The day, in the site's time zone.
    #[serde(serialize_with = "date")]
    pub date: Option<Date>,
    /// What was measured.
    pub of: MeterTarget,
    /// Room they were taken in.
    pub room: Option<String>,
    /// The readings; at least one.
    #[serde(rename = "readings-percent")]
    pub readings: Vec<MoistureContent>,
}

/// What a moisture meter was held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MeterTarget {
    /// The new flooring.
    Wood,
    /// A wood subfloor.
    Subfloor,
}

/// What is known of one probe.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Probe {
    /// Room it is in; `None` when it holds for every room.
    pub room: Option<String>,
    /// What it measures.
    pub channel: Channel,
    /// Expanded uncertainty (k = 2), in K or, for humidity, in %RH.
    pub uncertainty: Option<f64>,
    /// Checks, in the order of the file.
    pub checks: Vec<ProbeCheck>,
}

/// A channel of the logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Channel {
    /// Slab surface temperature.
    Slab,
    /// Air temperature.
    Air,
    /// Relative humidity of the air.
    Rh,
    /// Supply temperature of the heating.
    Supply,
}

/// One check of a probe against something known.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ProbeCheck {
    /// The day, in the site's time zone.
    #[serde(serialize_with = "known_date")]
    pub date: Date,
    /// What it was checked against.
    pub method: CheckMethod,
    /// The known value, in °C or, for humidity, in %RH.
    pub reference: f64,
    /// What the probe read, in the same unit.
    pub reading: f64,
    /// Temperature of the jar in a salt check.
    #[serde(rename = "temperature-c")]
    pub temperature: Option<Temperature>,
}

/// What a probe was checked against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CheckMethod {
    /// A bath of crushed ice and water, 0.00 °C.
    Ice,
    /// The air over a saturated salt solution.
    Salt,
    /// A calibrated instrument beside it.
    Comparison,
    /// A point of the calibration certificate of the probe or of the logger.
    Certificate,
}

/// A limit that the job sets itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct LimitOverride {
    /// Which limit.
    pub id: LimitId,
    /// The value, in [`LimitId::unit`].
    pub value: f64,
    /// The value as written.
    pub text: String,
    /// Why, in the contractor's words; never empty.
    pub reason: String,
}

impl CalciumChlorideTest {
    /// What the dish gained, when both weights are known.
    #[must_use]
    pub fn gain(&self) -> Option<Mass> {
        let (start, end) = (self.start_weight?, self.end_weight?);
        Some(Mass::from_kilograms(end.kilograms() - start.kilograms()))
    }
}

impl ProbeCheck {
    /// How far off the probe was: reading minus reference, in K or %RH.
    #[must_use]
    pub fn error(&self) -> f64 {
        self.reading - self.reference
    }
}
