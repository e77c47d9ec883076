//! A connected logger as it stands: what it reads now, what holds since when, and what blocks.
//!
//! Nothing is judged here: verdict, figures and spans are those of the assessment.

mod json;
mod text;

pub use json::{SCHEMA, json};
pub use text::{line, screen};

use crate::assess::{Assessment, Judged, Outcome, ZoneAssessment};
use crate::history::{Channel, History};
use crate::job::Job;
use crate::limits::{Bound, LimitId, LimitUnit, ResolvedLimits};
use crate::physics::air::dew_point_c;
use glueday_types::Absent;

/// All that is shown.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its limits.
    pub limits: &'a ResolvedLimits,
    /// The room of the logger, judged now, alone in its assessment.
    pub assessment: &'a Assessment,
    /// The latest sample, where the logger told one.
    pub reading: Option<&'a Reading>,
    /// How the line is.
    pub line: &'a Line,
    /// The time now, in seconds of UTC: ages go on while no refresh comes.
    pub now_s: i64,
}

/// The latest sample of the logger, corrected by the checks of its probes.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// In the order of [`Channel::ALL`].
    pub values: [Result<f64, Absent>; 4],
    /// When it was taken, in seconds of UTC by the clock of this computer.
    pub time_s: i64,
    /// Supply of the logger in millivolts.
    pub supply_mv: Option<u16>,
}

/// How the line to the logger is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Line {
    /// Nothing came yet.
    Waiting {
        /// The port.
        port: String,
    },
    /// The log is on its way.
    Moving {
        /// The port.
        port: String,
        /// Bytes that came.
        bytes: u64,
        /// Bytes that there are to come.
        total: u64,
    },
    /// The logger answered.
    Up {
        /// The port.
        port: String,
        /// When, in seconds of UTC.
        at_s: i64,
    },
    /// It does not answer.
    Lost {
        /// Why.
        why: String,
        /// Since when, in seconds of UTC.
        since_s: i64,
        /// How often it was tried since.
        tries: u32,
    },
}

impl Line {
    /// As JSON writes it.
    #[must_use]
    pub const fn as_str(&self) -> &'static str {
        match self {
            Self::Waiting { .. } => "waiting",
            Self::Moving { .. } => "moving",
            Self::Up { .. } => "up",
            Self::Lost { .. } => "lost",
        }
    }
}

impl Reading {
    /// The only sample of a history.
    #[must_use]
    pub fn of(history: &History, time_s: i64, supply_mv: Option<u16>) -> Self {
        Self { values: Channel::ALL.map(|channel| history.value(channel, 0)), time_s, supply_mv }
    }

    /// Dew point of the air, °C, where it can be told.
    #[must_use]
    pub fn dew_point_c(&self) -> Option<f64> {
        let [_, Ok(air_c), Ok(rh_pct), _] = self.values else { return None };
        dew_point_c(air_c, rh_pct).ok()
    }

    /// How far the slab surface is above the dew point, K.
    #[must_use]
    pub fn dew_gap_k(&self) -> Option<f64> {
        let [Ok(slab_c), ..] = self.values else { return None };
        Some(slab_c - self.dew_point_c()?)
    }
}

/// For how long something has held that must hold for a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Streak {
    /// Id of the requirement.
    pub id: &'static str,
    /// What it asks for.
    pub title: &'static str,
    /// How long it held so far, in hours.
    pub held_h: f64,
    /// How long it has to, in hours.
    pub needed_h: f64,
    /// Whether the requirement is met.
    pub is_met: bool,
}

/// The streaks of a room, in the order of the requirements.
///
/// A requirement of so much time has held for what was observed of it. One whose limit was broken holds
/// since the last break, and needs the time from there until it clears.
#[must_use]
pub fn streaks(zone: &ZoneAssessment, at_s: i64) -> Vec<Streak> {
    zone.judged.iter().filter_map(|judged| streak(judged, at_s)).collect()
}

fn streak(judged: &Judged, at_s: i64) -> Option<Streak> {
    let (requirement, finding) = (judged.requirement, &judged.finding);
    let is_met = finding.outcome == Outcome::Met;
    let made = |held_h: f64, needed_h: f64| Streak {
        id: requirement.id,
        title: requirement.title,
        held_h: held_h.max(0.0),
        needed_h,
        is_met,
    };
    let time = |f: &&crate::assess::Figure| {
        f.unit == LimitUnit::Hours && f.limit.bound() == Bound::MinimumTime
    };
    if let Some(figure) = finding.figure.as_ref().filter(time) {
        return Some(made(figure.observed, figure.bound));
    }
    let since_s = finding.broken.iter().map(|broken| broken.to_s).max()?;
    let clears_s = finding.clears_at_s?;
    let hours = crate::assess::hours;
    Some(made(hours(at_s - since_s), hours(clears_s - since_s)))
}

/// The smallest distance from the dew point that the step allows now, K, with the uncertainty of the
/// probes; from the finding, which knows it.
fn dew_gap_min_k(zone: &ZoneAssessment) -> Option<f64> {
    let figures = zone.judged.iter().filter_map(|judged| judged.finding.figure.as_ref());
    let mut of_dew = figures.filter(|figure| {
        matches!(figure.limit, LimitId::BarrierDewMargin | LimitId::AdhesiveDewMargin)
    });
    of_dew.next().map(|figure| figure.bound)
}
