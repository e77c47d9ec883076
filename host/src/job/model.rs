//! What a job file says, as types.
//!
//! Field names of the serialised view end in the unit of the number.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use serde::Serialize;

use super::diagnose::JobErrors;
use super::serial::{date, logger, time, time_zone};
use crate::quantity::{Altitude, Area, Length, Pressure, Temperature, Units};

mod evidence;
mod products;

pub use evidence::{
    CalciumChlorideTest, Channel, CheckMethod, InSituTest, LimitOverride, MeterReadings,
    MeterTarget, Probe, ProbeCheck,
};
pub use products::{Adhesive, Barrier, SlabProduct, Wood};

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
    /// How a reading near the end of a range is decided.
    pub decision_rule: DecisionRule,
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

/// How a reading near the end of a range of surface, air or humidity is decided (JCGM 106).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecisionRule {
    /// Simple acceptance: as it reads.
    #[default]
    Simple,
    /// Guarded acceptance: the range is tightened by the expanded uncertainty of the probe.
    Guarded,
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
        super::template::text(site_name, time_zone, units, None)
    }

    /// As [`Job::template`], with the logger of the first room named.
    #[must_use]
    pub fn template_with_logger(
        site_name: &str,
        time_zone: &str,
        units: Units,
        logger: &str,
    ) -> String {
        super::template::text(site_name, time_zone, units, Some(logger))
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

impl LoggerRef {
    /// Reads an id of 16 hex digits; any other text is a name.
    #[must_use]
    pub fn from_text(text: &str) -> Self {
        // A sign would pass the number parser.
        if text.len() == 16
            && text.chars().all(|c| c.is_ascii_hexdigit())
            && let Ok(number) = u64::from_str_radix(text, 16)
        {
            return Self::Id(number.to_be_bytes());
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
