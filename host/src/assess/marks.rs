//! Marks of the log beside the milestones of the job file.
//!
//! **What counts is the job file, always**: no requirement looks at a mark. A mark that says something
//! else is told, and whoever knows which is right corrects the file. So a mark can never turn a wait
//! into a go, nor the other way round.
//!
//! A mark that names a milestone belongs to it; of several, the nearest in time. A press of the button
//! names none: it belongs to the nearest milestone within [`REACH_S`] that has no mark of its own, the
//! closest pairs first, and each press to one milestone at most.

use crate::history::{EventKind, History};
use crate::job::{Job, Milestones, Zone};
use glueday_types::MarkKind;

/// A mark within so many seconds of the time in the job file bears it out: people look at the clock
/// before or after, and write down round times. Common practice, no source.
pub const TOLERANCE_S: i64 = 30 * 60;
/// A press of the button further from a milestone than this many seconds is not thought to mean it.
pub const REACH_S: i64 = 2 * 3600;

/// A milestone of the job file, a mark of the log, or both where they belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pairing {
    /// The milestone, and its time in the job file in seconds of UTC.
    pub milestone: Option<(MarkKind, i64)>,
    /// What was marked, and when.
    pub mark: Option<(MarkKind, i64)>,
}

/// How mark and milestone stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Agreement {
    /// Within [`TOLERANCE_S`].
    Agrees,
    /// Further apart.
    Differs,
    /// No mark belongs to the milestone.
    NoMark,
    /// No milestone belongs to the mark.
    NotInJob,
}

impl Agreement {
    /// As JSON and tables write it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Agrees => "agrees",
            Self::Differs => "differs",
            Self::NoMark => "no-mark",
            Self::NotInJob => "not-in-job",
        }
    }
}

impl Pairing {
    /// How they stand to each other.
    #[must_use]
    pub fn agreement(&self) -> Agreement {
        match (self.milestone, self.mark, self.off_s()) {
            (None, ..) => Agreement::NotInJob,
            (_, None, _) => Agreement::NoMark,
            (.., Some(off_s)) if off_s.abs() <= TOLERANCE_S => Agreement::Agrees,
            _ => Agreement::Differs,
        }
    }

    /// By how many seconds the mark is later than the time in the job file.
    #[must_use]
    pub fn off_s(&self) -> Option<i64> {
        Some(self.mark?.1.saturating_sub(self.milestone?.1))
    }

    /// Where it stands among others: by the mark, or by the job file where there is none.
    fn time_s(&self) -> i64 {
        self.mark.or(self.milestone).map_or(0, |(_, time_s)| time_s)
    }
}

/// A milestone as job files and commands name it, and `button` for a press.
#[must_use]
pub const fn mark_name(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Button => "button",
        MarkKind::Delivered => "delivered",
        MarkKind::BarrierRolled => "barrier-rolled",
        MarkKind::GlueStarted => "glue-started",
        MarkKind::GlueFinished => "glue-finished",
        MarkKind::Sanded => "sanded",
        MarkKind::HeatOn => "heat-on",
    }
}

/// The milestones that a room has, in the order of the work.
fn milestones(of: &Milestones) -> impl Iterator<Item = (MarkKind, i64)> {
    [
        (MarkKind::Delivered, of.delivered),
        (MarkKind::BarrierRolled, of.barrier_rolled),
        (MarkKind::GlueStarted, of.glue_started),
        (MarkKind::GlueFinished, of.glue_finished),
        (MarkKind::Sanded, of.sanded),
        (MarkKind::HeatOn, of.heat_on),
    ]
    .into_iter()
    .filter_map(|(kind, time)| Some((kind, time?.as_second())))
}

/// Every mark of the log up to `at_s` and every milestone passed by then, those that belong together as
/// one, in order of time. Marks from before the day of the pour are of another job.
#[must_use]
pub fn pairings(job: &Job, zone: &Zone, history: &History, at_s: i64) -> Vec<Pairing> {
    let zone_of_site = || job.site.time_zone.clone();
    let poured = job.concrete.poured.and_then(|day| day.to_zoned_datetime(zone_of_site()).ok());
    let from_s = poured.map_or(i64::MIN, |day| day.timestamp().as_second());
    let mut marks: Vec<(MarkKind, i64)> = history
        .events
        .iter()
        .filter(|event| (from_s..=at_s).contains(&event.time_s))
        .filter_map(|event| match event.kind {
            EventKind::Mark(kind) => Some((kind, event.time_s)),
            _ => None,
        })
        .collect();
    let mut found = Vec::new();
    let mut open = Vec::new();
    for milestone in milestones(&zone.milestones) {
        match nearest(&marks, milestone) {
            Some(i) => {
                let mark = Some(marks.remove(i));
                found.push(Pairing { milestone: Some(milestone), mark });
            }
            // What has not come yet needs no mark.
            None if milestone.1 <= at_s => open.push(milestone),
            None => {}
        }
    }
    while let Some((i, k)) = closest(&open, &marks) {
        let mark = Some(marks.remove(k));
        found.push(Pairing { milestone: Some(open.remove(i)), mark });
    }
    found.extend(open.into_iter().map(|it| Pairing { milestone: Some(it), mark: None }));
    found.extend(marks.into_iter().map(|it| Pairing { milestone: None, mark: Some(it) }));
    found.sort_by_key(Pairing::time_s);
    found
}

/// The place of the mark that names the milestone and is nearest to it.
fn nearest(marks: &[(MarkKind, i64)], milestone: (MarkKind, i64)) -> Option<usize> {
    let of_kind = marks.iter().enumerate().filter(|(_, mark)| mark.0 == milestone.0);
    of_kind.min_by_key(|(_, mark)| mark.1.abs_diff(milestone.1)).map(|(i, _)| i)
}

/// The milestone and the press of the button that are closest to each other.
fn closest(open: &[(MarkKind, i64)], marks: &[(MarkKind, i64)]) -> Option<(usize, usize)> {
    let presses = || marks.iter().enumerate().filter(|(_, mark)| mark.0 == MarkKind::Button);
    open.iter()
        .enumerate()
        .flat_map(|(i, milestone)| {
            presses().map(move |(k, press)| (milestone.1.abs_diff(press.1), i, k))
        })
        .filter(|(off_s, ..)| *off_s <= REACH_S.unsigned_abs())
        .min()
        .map(|(_, i, k)| (i, k))
}

/// What is to be told of a room, a line for each: times that differ and marks without a milestone.
/// `local` writes a time on the clock of the site.
pub(super) fn differences(pairings: &[Pairing], local: impl Fn(i64) -> String) -> Vec<String> {
    let lines = pairings.iter().filter_map(|pairing| {
        let line = match (pairing.agreement(), pairing.milestone, pairing.mark) {
            (Agreement::Differs, Some((milestone, job_s)), Some((kind, mark_s))) => {
                let off = super::show_age((mark_s - job_s).abs());
                let side = if mark_s > job_s { "later" } else { "earlier" };
                let what = match kind {
                    MarkKind::Button => "the nearest press of the logger's button was",
                    _ => "it was marked in the log",
                };
                format!(
                    "{}: the job file says {}, and {what} {off} {side}, {}; the job file counts: \
                     correct it if the log is right",
                    mark_name(milestone),
                    local(job_s),
                    local(mark_s),
                )
            }
            (Agreement::NotInJob, _, Some((MarkKind::Button, mark_s))) => format!(
                "the logger's button was pressed {}, and no time in the job file is within {} of it",
                local(mark_s),
                super::show_age(REACH_S),
            ),
            (Agreement::NotInJob, _, Some((kind, mark_s))) => {
                let name = mark_name(kind);
                let known = pairings.iter().any(|p| p.milestone.is_some_and(|m| m.0 == kind));
                let why = if known {
                    "another mark is nearer to its time in the job file"
                } else {
                    "the job file has no time for it, and so it does not count: enter it if it is right"
                };
                format!("{name} was marked in the log {}: {why}", local(mark_s))
            }
            _ => return None,
        };
        Some(line)
    });
    lines.collect()
}

/// The milestones that rest on the job file alone, in a line.
#[must_use]
pub fn without_marks(pairings: &[Pairing]) -> Option<String> {
    let names: Vec<&str> = pairings
        .iter()
        .filter(|pairing| pairing.agreement() == Agreement::NoMark)
        .filter_map(|pairing| Some(mark_name(pairing.milestone?.0)))
        .collect();
    (!names.is_empty()).then(|| format!("no mark in the log bears out {}", names.join(", ")))
}
