//! What a job file says, as types.
//!
//! Field names of the serialised view end in the unit of the number.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use serde::Serialize;

use super::diagnose::JobErrors;
use super::serial::{date, known_date, logger, time, time_zone};
use crate::limits::LimitId;
use crate::quantity::{
    Altitude, Area, Length, Mass, MoistureContent, MoistureEmission, Pressure, RelativeHumidity,
    Temperature, TemperatureDifference, ThermalConductivity, ThermalResistance, TimeSpan, Units,
};

/// Version of the serialised view of a [`Job`]; raised when a field changes its meaning.
pub const SCHEMA: u32 = 1;

/// One job: a site, its rooms, and what has been measured and done there.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Job {
    /// Version of this view, [`SCHEMA`].
    pub schema: u32,
    /// The site.
    pub site: Site,
    /// The rooms, in the order of the file; may be empty.
    pub zones: Vec<Zone>,
    /// The slab or screed.
    pub concrete: Concrete,
    /// In-situ relative humidity tests (ASTM F2170).
    pub in_situ_tests: Vec<InSituTest>,
    /// Calcium chloride tests (ASTM F1869).
    pub calcium_chloride_tests: Vec<CalciumChlorideTest>,
    /// The wood floor and its data sheet.
    pub wood: Wood,
    /// Moisture meter readings.
    pub meter_readings: Vec<MeterReadings>,
    /// The moisture barrier and its data sheet.
    pub barrier: Barrier,
    /// The adhesive and its data sheet.
    pub adhesive: Adhesive,
    /// The radiant heating.
    pub heating: Heating,
    /// The milestones of the whole job; a room can have its own, see [`Zone::milestones`].
    pub milestones: Milestones,
    /// The probes: uncertainty and checks.
    pub probes: Vec<Probe>,
    /// Limits that the job sets itself, each with its reason.
    pub limit_overrides: Vec<LimitOverride>,
}

/// Where the job is.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Site {
    /// Name of the site.
    pub name: String,
    /// Time zone of the local times in the job and on everything shown.
    #[serde(serialize_with = "time_zone")]
    pub time_zone: TimeZone,
    /// The air pressure, or the altitude that gives it; sea level when the job says neither.
    pub air_pressure: AirPressure,
    /// Area to be glued.
    #[serde(rename = "area-m2")]
    pub area: Option<Area>,
    /// Units to show quantities in.
    pub units: Units,
    /// Which set of shipped defaults applies.
    pub profile: Profile,
}

/// What the job says about air pressure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AirPressure {
    /// Nothing: sea level is assumed.
    SeaLevel,
    /// Height above sea level.
    #[serde(rename = "altitude-m")]
    Altitude(Altitude),
    /// Measured at the site, not reduced to sea level.
    #[serde(rename = "pressure-pa")]
    Measured(Pressure),
}

/// Which trade's figures the shipped defaults follow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Profile {
    /// Trade practice of the United States.
    #[default]
    Us,
    /// European practice.
    Eu,
}

/// A room with its own logger, judged on its own.
#[derive(Clone, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Zone {
    /// Name of the room, unique in the job.
    pub name: String,
    /// The logger that stands in it.
    #[serde(serialize_with = "logger")]
    pub logger: Option<LoggerRef>,
    /// Area to be glued in it.
    #[serde(rename = "area-m2")]
    pub area: Option<Area>,
    /// Milestones of this room: its own where it has them, else those of the job.
    pub milestones: Milestones,
}

/// How a job file names a logger.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum LoggerRef {
    /// The id of the logger, 16 hex digits in the file.
    Id([u8; 8]),
    /// The name given to the logger in the archive.
    Name(String),
}

/// The slab or screed.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Concrete {
    /// Day of the pour, in the site's time zone.
    #[serde(serialize_with = "date")]
    pub poured: Option<Date>,
    /// Thickness.
    #[serde(rename = "thickness-m")]
    pub thickness: Option<Length>,
    /// What it is made of.
    pub kind: Option<ConcreteKind>,
    /// How many of its sides dry.
    pub drying: Option<Drying>,
}

/// What the slab or screed is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ConcreteKind {
    /// Cement-bound structural slab.
    CementSlab,
    /// Cement-bound screed.
    CementScreed,
    /// Calcium sulphate (anhydrite or gypsum) screed.
    CalciumSulphateScreed,
}

/// What binds the slab or screed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Binder {
    /// Cement.
    Cement,
    /// Calcium sulphate.
    CalciumSulphate,
}

/// How many sides of the slab dry; sets the depth of in-situ tests.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drying {
    /// One side, such as a slab on grade over a vapour retarder.
    OneSide,
    /// Both sides, such as a suspended slab.
    BothSides,
}

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

/// The moisture barrier and what its data sheet asks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Barrier {
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
    /// Time from the last coat until adhesive may be spread.
    #[serde(rename = "cure-h")]
    pub cure: Option<TimeSpan>,
}

/// The adhesive and what its data sheet asks for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Adhesive {
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

/// The radiant heating.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Heating {
    /// Highest supply temperature that the design calls for.
    #[serde(rename = "design-supply-c")]
    pub design_supply: Option<Temperature>,
    /// Start of the run-in, entered by hand when no logger saw it.
    #[serde(serialize_with = "time")]
    pub run_in_start: Option<Timestamp>,
    /// End of the run-in, entered by hand when no logger saw it.
    #[serde(serialize_with = "time")]
    pub run_in_end: Option<Timestamp>,
}

/// What was done when; `None` is not done yet, or not known.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Milestones {
    /// The wood was brought into the room.
    #[serde(serialize_with = "time")]
    pub delivered: Option<Timestamp>,
    /// The last coat of the moisture barrier was rolled.
    #[serde(serialize_with = "time")]
    pub barrier_rolled: Option<Timestamp>,
    /// The first adhesive was spread.
    #[serde(serialize_with = "time")]
    pub glue_started: Option<Timestamp>,
    /// The last board was laid in the adhesive.
    #[serde(serialize_with = "time")]
    pub glue_finished: Option<Timestamp>,
    /// Sanding started.
    #[serde(serialize_with = "time")]
    pub sanded: Option<Timestamp>,
    /// The heat was turned back up.
    #[serde(serialize_with = "time")]
    pub heat_on: Option<Timestamp>,
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

impl Job {
    /// Reads a job file.
    ///
    /// `file_name` is only used in messages. Time-zone rules come from the data built into the
    /// program, so that a job reads the same on every machine.
    ///
    /// # Errors
    ///
    /// Every error that can be found in one pass, in the order of the file.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, JobErrors> {
        super::read::job(text, file_name)
    }

    /// The text of a new job file: every key with a comment, optional ones commented out.
    ///
    /// `time_zone` is an IANA name such as `America/Denver`; it is not checked here, because reading
    /// the file does so. Examples are written in `units`.
    #[must_use]
    pub fn template(site_name: &str, time_zone: &str, units: Units) -> String {
        super::template::text(site_name, time_zone, units)
    }

    /// The zone of that name.
    #[must_use]
    pub fn zone(&self, name: &str) -> Option<&Zone> {
        self.zones.iter().find(|zone| zone.name == name)
    }

    /// What is known of the probe of a channel in a room: the room's own entry, else the one for all.
    #[must_use]
    pub fn probe(&self, room: &str, channel: Channel) -> Option<&Probe> {
        let of_channel = || self.probes.iter().filter(|probe| probe.channel == channel);
        of_channel()
            .find(|probe| probe.room.as_deref() == Some(room))
            .or_else(|| of_channel().find(|probe| probe.room.is_none()))
    }

    /// A time on the clock of the site.
    #[must_use]
    pub fn local(&self, time: Timestamp) -> ZonedDateTime {
        time.to_zoned_datetime(self.site.time_zone.clone())
    }
}

impl ConcreteKind {
    /// What binds it.
    #[must_use]
    pub fn binder(self) -> Binder {
        match self {
            Self::CementSlab | Self::CementScreed => Binder::Cement,
            Self::CalciumSulphateScreed => Binder::CalciumSulphate,
        }
    }
}

impl CalciumChlorideTest {
    /// What the dish gained, when both weights are known.
    #[must_use]
    pub fn gain(&self) -> Option<Mass> {
        let (start, end) = (self.start_weight?, self.end_weight?);
        Some(Mass::from_kilograms(end.kilograms() - start.kilograms()))
    }
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

impl ProbeCheck {
    /// How far off the probe was: reading minus reference, in K or %RH.
    #[must_use]
    pub fn error(&self) -> f64 {
        self.reading - self.reference
    }
}

impl LoggerRef {
    /// Reads an id of 16 hex digits; any other text is a name.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        if text.len() == 16 && text.chars().all(|c| c.is_ascii_hexdigit()) {
            if let Ok(number) = u64::from_str_radix(text, 16) {
                return Self::Id(number.to_be_bytes());
            }
        }
        Self::Name(text.to_owned())
    }
}

impl std::fmt::Display for LoggerRef {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Id(id) => write!(f, "{:016x}", u64::from_be_bytes(*id)),
            Self::Name(name) => f.write_str(name),
        }
    }
}
