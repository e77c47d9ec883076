//! Checking a probe against something known: melting ice, a saturated salt, a reference instrument.
//!
//! All of it is pure. [`Plan`] says what a check needs and what its reference is, [`Judge`] is fed the
//! samples that the logger takes and says when the probe has come to rest, and [`Outcome`] is what
//! goes into the job file. What a check is worth is decided by the rest: see [`Judge`] for how much a
//! degree costs.

mod guide;
mod outcome;
mod plan;
mod steady;

pub use guide::{cautions, steps};
pub use outcome::{Outcome, OutcomeError};
pub use plan::{Method, Plan, PlanError, SALT_UNCERTAINTY_MAX_PCT};
pub use steady::{DRIFT_SHARE, Judge, Restart, SAMPLES_MIN, Settings, State, Window};
