//! From evidence to what can be assessed: the same way for a command, a record and its check.

use super::Evidence;
use crate::assess::{Assessment, Step, assess};
use crate::history::{self, History};
use crate::job::{Job, JobErrors, Zone};
use crate::limits::{Limits, ResolvedLimits};

/// A question with all that it takes to answer it.
#[derive(Clone, Debug)]
pub struct Case {
    /// The job.
    pub job: Job,
    /// Its limits.
    pub limits: ResolvedLimits,
    /// Each room asked about, with the log of its logger; empty when it has none.
    pub rooms: Vec<(Zone, History)>,
    /// The step asked about.
    pub step: Step,
    /// The time asked about, in seconds of UTC.
    pub at_s: i64,
}

/// A room was asked about that the job does not have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the job has no room \"{name}\"; its rooms are: {known}")]
pub struct UnknownRoom {
    /// The name.
    pub name: String,
    /// The names that there are.
    pub known: String,
}

/// Why evidence cannot be judged.
#[derive(Debug, thiserror::Error)]
pub enum NoCase {
    /// The job file has errors.
    #[error("{0}")]
    Job(#[from] JobErrors),
    /// A room asked about is not in it.
    #[error("{0}")]
    Room(#[from] UnknownRoom),
}

/// The rooms asked about. A job without rooms has one that bears the name of the site.
///
/// # Errors
/// [`UnknownRoom`] for a name that the job does not have.
pub fn rooms(job: &Job, names: &[String]) -> Result<Vec<Zone>, UnknownRoom> {
    if let Some(name) = names.iter().find(|name| job.zone(name).is_none()) {
        let known: Vec<&str> = job.zones.iter().map(|zone| zone.name.as_str()).collect();
        return Err(UnknownRoom { name: name.clone(), known: known.join(", ") });
    }
    if job.zones.is_empty() {
        return Ok(vec![Zone {
            name: job.site.name.clone(),
            logger: None,
            area: job.site.area,
            milestones: job.milestones.clone(),
        }]);
    }
    let asked = |zone: &&Zone| names.is_empty() || names.contains(&zone.name);
    Ok(job.zones.iter().filter(asked).cloned().collect())
}

impl Case {
    /// Reads the job and the logs. `job_name` is what messages call the job file.
    ///
    /// # Errors
    /// See [`NoCase`].
    pub fn of(evidence: &Evidence, job_name: &str) -> Result<Self, NoCase> {
        let job = Job::parse(&evidence.job_text, job_name)?;
        let limits = Limits::resolve(&job);
        let rooms = rooms(&job, &evidence.rooms)?
            .into_iter()
            .map(|zone| {
                let log = zone.logger.as_ref().and_then(|reference| evidence.log(reference));
                let history = log.map_or_else(History::default, |log| {
                    history::build(log.blocks.iter().map(Vec::as_slice))
                });
                (zone, history)
            })
            .collect();
        Ok(Self { job, limits, rooms, step: evidence.step, at_s: evidence.at_s })
    }

    /// Answers the question.
    #[must_use]
    pub fn assess(&self) -> Assessment {
        let zones: Vec<_> = self.rooms.iter().map(|(zone, history)| (zone, history)).collect();
        assess(&self.job, &self.limits, &zones, self.step, self.at_s)
    }
}
