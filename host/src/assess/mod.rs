//! May this step start now? The history against the job and its limits.
//!
//! Pure: the same history, job, limits and time give the same assessment. Nothing here can fail; what
//! is not known is an outcome of its own, [`Outcome::NoEvidence`], and never counts as met.
//!
//! Each requirement is one small file under `requirement/`: a [`Requirement`] that names the steps it
//! holds for and a function from a [`Scene`] to a [`Finding`].

pub mod caution;
mod correction;
pub mod marks;
mod requirement;
mod scene;
mod skim;
mod suspicion;
pub mod window;

pub use correction::corrected;
pub use requirement::REQUIREMENTS;
pub use scene::{Missing, Scene, Span};
pub(crate) use scene::{absent, hours, show_age};

use crate::history::History;
use crate::job::{Job, Zone};
use crate::limits::{Layer, LimitId, LimitUnit, ResolvedLimits, Status};
use std::sync::atomic::{AtomicUsize, Ordering};

/// A step of the work, each the question whether it may start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Rolling the moisture barrier.
    Membrane,
    /// Spreading adhesive and laying the floor.
    GlueDown,
    /// Walking on the floor.
    Traffic,
    /// Sanding the floor.
    Sanding,
    /// Turning the heat back up.
    HeatUp,
    /// Living with the floor: what holds all the time.
    Service,
}

impl Step {
    /// All steps, in the order of the work.
    pub const ALL: [Self; 6] =
        [Self::Membrane, Self::GlueDown, Self::Traffic, Self::Sanding, Self::HeatUp, Self::Service];

    /// The step as commands and JSON write it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Membrane => "membrane",
            Self::GlueDown => "glue-down",
            Self::Traffic => "traffic",
            Self::Sanding => "sanding",
            Self::HeatUp => "heat-up",
            Self::Service => "service",
        }
    }

    /// The step of that name, as [`Step::as_str`] writes it.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|step| step.as_str() == name)
    }

    /// The step in words, as in "Go: ...".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Membrane => "roll the moisture barrier",
            Self::GlueDown => "glue down the floor",
            Self::Traffic => "walk on the floor",
            Self::Sanding => "sand the floor",
            Self::HeatUp => "turn the heat back up",
            Self::Service => "keep the floor in service",
        }
    }
}

/// One thing that must hold before a step may start.
#[derive(Clone, Copy, Debug)]
pub struct Requirement {
    /// Stable id, as in `--why ID` and JSON.
    pub id: &'static str,
    /// What it asks for, in a few words.
    pub title: &'static str,
    /// The steps that it holds for.
    pub steps: &'static [Step],
    /// How it is judged, for people: rule, formula and source.
    pub rule: &'static str,
    /// Judges it.
    pub judge: fn(&Scene<'_>) -> Finding,
}

/// How a requirement stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outcome {
    /// It holds.
    Met,
    /// It does not hold.
    NotMet,
    /// It cannot be told. Never counts as met.
    NoEvidence,
}

impl Outcome {
    /// The outcome as JSON writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Met => "met",
            Self::NotMet => "not-met",
            Self::NoEvidence => "no-evidence",
        }
    }
}

/// What was found of one requirement.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How it stands.
    pub outcome: Outcome,
    /// The figures that decided it: the one nearest to its limit, or the furthest beyond.
    pub figure: Option<Figure>,
    /// When time alone can clear it: from when on it is met, if conditions hold, in seconds of UTC.
    pub clears_at_s: Option<i64>,
    /// Spans in which the limit was broken, in order of time.
    pub broken: Vec<Broken>,
    /// One line that says why it stands so.
    pub because: String,
    /// One line that says what to do, when something can be done.
    pub todo: Option<String>,
    /// Things to know that do not change the outcome.
    pub warnings: Vec<String>,
}

/// An observed value against its limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The limit.
    pub limit: LimitId,
    /// What was observed, in `unit`.
    pub observed: f64,
    /// The limit, tightened by `guard`.
    pub bound: f64,
    /// How much is left: positive when met, negative when broken.
    pub margin: f64,
    /// Unit of the three.
    pub unit: LimitUnit,
    /// Expanded uncertainty by which the limit was tightened (JCGM 106, guarded acceptance), or 0.
    pub guard: f64,
    /// The layer that the limit came from.
    pub layer: Layer,
    /// Source of the limit.
    pub source: String,
    /// How well the source is known; `None` for data sheets and overrides.
    pub status: Option<Status>,
}

/// A span in which a limit was broken.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// First sample beyond the limit, in seconds of UTC.
    pub from_s: i64,
    /// Last sample beyond the limit.
    pub to_s: i64,
    /// The value furthest beyond, in the unit of the limit.
    pub worst: f64,
    /// The limit.
    pub limit: LimitId,
}

/// A requirement and what was found.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The requirement.
    pub requirement: &'static Requirement,
    /// What was found.
    pub finding: Finding,
}

/// One zone judged.
#[derive(Clone, Debug)]
pub struct ZoneAssessment {
    /// Name of the zone.
    pub name: String,
    /// Every requirement that holds for the step.
    pub judged: Vec<Judged>,
    /// What is wrong with the log itself: undated boots, damage, contradicting clocks; and where its
    /// marks contradict the job file.
    pub log_notes: Vec<String>,
    /// Marks of the log beside the milestones of the job file. No requirement looks at them.
    pub marks: Vec<marks::Pairing>,
}

/// The answer to the question.
#[derive(Clone, Debug)]
pub struct Assessment {
    /// The step asked about.
    pub step: Step,
    /// The time asked about, in seconds of UTC.
    pub at_s: i64,
    /// The zones, in the order of the job. Never empty.
    pub zones: Vec<ZoneAssessment>,
}

impl ZoneAssessment {
    /// Whether every requirement is met.
    #[must_use]
    pub fn is_go(&self) -> bool {
        !self.judged.is_empty()
            && self.judged.iter().all(|judged| judged.finding.outcome == Outcome::Met)
    }

    /// When all that is not met is cleared by time alone: from when on. The time asked about when it
    /// is a go already.
    #[must_use]
    pub fn earliest_go_s(&self, at_s: i64) -> Option<i64> {
        self.judged
            .iter()
            .filter(|judged| judged.finding.outcome != Outcome::Met)
            .try_fold(at_s, |latest, judged| {
                judged.finding.clears_at_s.map(|clears_s| latest.max(clears_s))
            })
    }
}

impl Assessment {
    /// Whether every zone is a go. Without a zone nothing is known, and it is not.
    #[must_use]
    pub fn is_go(&self) -> bool {
        !self.zones.is_empty() && self.zones.iter().all(ZoneAssessment::is_go)
    }

    /// The earliest time at which every zone is a go, when time alone can bring it.
    #[must_use]
    pub fn earliest_go_s(&self) -> Option<i64> {
        if self.zones.is_empty() {
            return None;
        }
        self.zones
            .iter()
            .try_fold(self.at_s, |latest, zone| Some(latest.max(zone.earliest_go_s(self.at_s)?)))
    }
}

/// Judges a step for zones of a job, each with the history of its logger.
///
/// Only what was logged up to `at_s` counts, and each reading as [`corrected`] by the checks of its
/// probe: the histories given are as logged.
#[must_use]
pub fn assess(
    job: &Job,
    limits: &ResolvedLimits,
    zones: &[(&Zone, &History)],
    step: Step,
    at_s: i64,
) -> Assessment {
    let zones = zones
        .iter()
        .map(|(zone, history)| {
            let history = corrected(job, zone, history);
            history.sum_up();
            let scene = Scene { job, zone, limits, history: &history, step, at_s };
            let judged = judge_all(&scene);
            let marks = marks::pairings(job, zone, &history, at_s);
            let mut log_notes = scene.log_notes();
            log_notes.extend(marks::differences(&marks, |time_s| scene.local(time_s)));
            ZoneAssessment { name: zone.name.clone(), judged, log_notes, marks }
        })
        .collect();
    Assessment { step, at_s, zones }
}

/// Judges every requirement that holds for the step, on two cores where the log is so long that it is
/// worth a thread: a year of minutes takes some ten milliseconds.
fn judge_all(scene: &Scene<'_>) -> Vec<Judged> {
    let asked: Vec<&'static Requirement> =
        REQUIREMENTS.iter().filter(|requirement| requirement.steps.contains(&scene.step)).collect();
    let judge = |requirement: &'static Requirement| Judged {
        requirement,
        finding: (requirement.judge)(scene),
    };
    if !scene.history.is_worth_a_thread() {
        return asked.into_iter().map(judge).collect();
    }
    // Each core takes the next one when it is done with one: some take much longer than others.
    let next = AtomicUsize::new(0);
    let some = || {
        let mut judged = Vec::new();
        while let Some(requirement) = asked.get(next.fetch_add(1, Ordering::Relaxed)) {
            judged.push(judge(requirement));
        }
        judged
    };
    let mut judged = std::thread::scope(|scope| {
        let other = scope.spawn(some);
        let mut judged = some();
        judged.append(&mut other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        judged
    });
    let place = |judged: &Judged| asked.iter().position(|one| one.id == judged.requirement.id);
    judged.sort_by_key(place);
    judged
}
