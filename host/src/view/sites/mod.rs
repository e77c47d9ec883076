//! Many jobs at a glance: a row for each room.

mod json;
mod text;

pub use json::{SCHEMA, json};
pub use text::text;

use super::{View, blockers};
use crate::assess::{Step, ZoneAssessment};
use crate::job::Job;
use crate::limits::ResolvedLimits;
use jiff::tz::TimeZone;
use std::cmp::Ordering;

/// A room of a job, or a job that could not be judged.
#[derive(Clone, Debug)]
pub struct Row {
    /// The job file, as it was named.
    pub job: String,
    /// Name of the site, where the job file could be read.
    pub site: Option<String>,
    /// Name of the room, where the row speaks of one.
    pub room: Option<String>,
    /// How it stands.
    pub standing: Standing,
    /// When all of its logger's log was last pulled, or its file imported, in seconds of UTC.
    pub last_pull_s: Option<i64>,
    /// Its last dated sample.
    pub last_sample_s: Option<i64>,
    /// The supply of its logger, where that is known.
    pub battery: Option<Battery>,
    /// What is to be known beside.
    pub notes: Vec<String>,
}

/// How a row stands.
#[derive(Clone, Debug)]
pub enum Standing {
    /// It was judged.
    Judged(Judged),
    /// It could not be: why.
    Error(String),
}

/// The verdict on a room.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Whether the step may start.
    pub is_go: bool,
    /// Ids of the requirements that are not met, what matters most first.
    pub blocking: Vec<&'static str>,
    /// The first of them in words.
    pub blocked_by: Option<String>,
    /// When time alone brings a go: from when on.
    pub earliest_go_s: Option<i64>,
    /// The time asked about, in seconds of UTC.
    pub at_s: i64,
    /// The clock of the site.
    pub time_zone: TimeZone,
}

/// The supply of a logger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Battery {
    /// Its voltage in millivolts.
    pub supply_mv: u16,
    /// When that was, in seconds of UTC.
    pub at_s: i64,
    /// Whether the logger warned of it, and it was no better since.
    pub is_low: bool,
}

/// A column to sort by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Column {
    /// Name of the site, then of the room.
    Site,
    /// Errors, then waits without a date, waits with one, and goes.
    Verdict,
    /// The soonest first, those without a date last.
    EarliestGo,
    /// Those never pulled first, then the longest ago.
    LastPull,
    /// The lowest voltage first, those that are not known last.
    Battery,
}

/// How many rows there are of each kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Count {
    /// The step may start.
    pub go: usize,
    /// It may not.
    pub wait: usize,
    /// It is not known, because something is wrong with the job or the archive.
    pub error: usize,
}

impl Judged {
    /// The verdict on a room.
    #[must_use]
    pub fn of(zone: &ZoneAssessment, at_s: i64, job: &Job, limits: &ResolvedLimits) -> Self {
        let blockers = blockers(zone);
        let first = blockers.first().map(|first| View::new(job, limits, 80).reason(first));
        let blocked_by = first.map(|first| match blockers.len() {
            0 | 1 => first,
            causes => format!("{first} (and {} more)", causes - 1),
        });
        Self {
            is_go: zone.is_go(),
            blocking: blockers.iter().flat_map(|blocker| blocker.ids()).collect(),
            blocked_by,
            earliest_go_s: zone.earliest_go_s(at_s),
            at_s,
            time_zone: job.site.time_zone.clone(),
        }
    }
}

impl Row {
    /// A row that says why a job, or a room of it, could not be judged.
    #[must_use]
    pub fn error(job: String, site: Option<String>, room: Option<String>, why: String) -> Self {
        Self {
            job,
            site,
            room,
            standing: Standing::Error(why),
            last_pull_s: None,
            last_sample_s: None,
            battery: None,
            notes: Vec::new(),
        }
    }

    /// The verdict in a word.
    #[must_use]
    pub const fn verdict(&self) -> &'static str {
        match &self.standing {
            Standing::Judged(judged) if judged.is_go => "go",
            Standing::Judged(_) => "wait",
            Standing::Error(_) => "error",
        }
    }

    fn earliest_go_s(&self) -> Option<i64> {
        match &self.standing {
            Standing::Judged(judged) => judged.earliest_go_s,
            Standing::Error(_) => None,
        }
    }

    /// What it is called: the site, or the file where that could not be read.
    fn name(&self) -> &str {
        self.site.as_deref().unwrap_or(&self.job)
    }

    fn by(&self, other: &Self, column: Column) -> Ordering {
        // What is not known stands last, `None` is less than everything.
        let last = |value: Option<i64>| (value.is_none(), value);
        match column {
            Column::Site => Ordering::Equal,
            Column::Verdict => {
                let rank = |row: &Self| match (&row.standing, row.earliest_go_s()) {
                    (Standing::Error(_), _) => 0,
                    (Standing::Judged(judged), _) if judged.is_go => 3,
                    (_, None) => 1,
                    (_, Some(_)) => 2,
                };
                rank(self).cmp(&rank(other))
            }
            Column::EarliestGo => last(self.earliest_go_s()).cmp(&last(other.earliest_go_s())),
            Column::LastPull => self.last_pull_s.cmp(&other.last_pull_s),
            Column::Battery => {
                let volts = |row: &Self| last(row.battery.map(|battery| battery.supply_mv.into()));
                volts(self).cmp(&volts(other))
            }
        }
    }
}

impl Count {
    /// Counts rows.
    #[must_use]
    pub fn of(rows: &[Row]) -> Self {
        let count = |verdict| rows.iter().filter(|row| row.verdict() == verdict).count();
        Self { go: count("go"), wait: count("wait"), error: count("error") }
    }
}

/// Puts rows in order of a column; those that are alike in it, in order of site, room and file.
pub fn sort(rows: &mut [Row], column: Column, reverse: bool) {
    rows.sort_by(|a, b| {
        let alike = || (a.name(), &a.room, &a.job).cmp(&(b.name(), &b.room, &b.job));
        let order = a.by(b, column).then_with(alike);
        if reverse { order.reverse() } else { order }
    });
}

/// What the rows answer: may this step start?
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    /// The step.
    pub step: Step,
    /// The time now, against which pulls have an age, in seconds of UTC.
    pub now_s: i64,
}
