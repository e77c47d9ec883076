//! The job: what the contractor knows of one site, written in a TOML file.
//!
//! Reading it is pure: text in, a [`Job`] or every error found, each with its place and its cure.
//! Only the name of the site and its time zone are required. Whatever else is missing is simply not
//! known, and later gives *no evidence* instead of an error here.

mod diagnose;
mod edit;
mod model;
mod read;
mod section;
mod serial;
mod template;
mod time;

pub use diagnose::{JobError, JobErrors};
pub use edit::{EditError, Edited, NewCheck, add_check};
pub(crate) use edit::{channel_name, method_name};
pub use model::{
    Adhesive, AirPressure, Barrier, Binder, CalciumChlorideTest, Channel, CheckMethod, Concrete,
    ConcreteKind, DecisionRule, Drying, Heating, InSituTest, Job, LimitOverride, LoggerRef,
    MeterReadings, MeterTarget, Milestones, Probe, ProbeCheck, Profile, SCHEMA, Site, SlabProduct,
    Wood, Zone,
};

#[cfg(test)]
mod tests;
