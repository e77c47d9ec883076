//! What a requirement looks at, and the questions that many of them ask.

use super::correction::job_channel;
use super::{Broken, Figure, Finding, Outcome, Step};
use crate::history::{Channel, Damage, History};
use crate::job::{DecisionRule, Job, Milestones, Zone};
use crate::limits::{Bound, LimitId, ResolvedLimit, ResolvedLimits};
use glueday_types::Absent;

/// One zone, one step, one time.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The job.
    pub job: &'a Job,
    /// The zone of the job.
    pub zone: &'a Zone,
    /// The limits of the job.
    pub limits: &'a ResolvedLimits,
    /// The log of the zone's logger.
    pub history: &'a History,
    /// The step asked about.
    pub step: Step,
    /// The time asked about, in seconds of UTC.
    pub at_s: i64,
}

/// A span of time to look at, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// First second of UTC.
    pub from_s: i64,
    /// Last second of UTC.
    pub to_s: i64,
}

/// Why a requirement cannot be judged, and what would help.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// Why.
    pub because: String,
    /// What to do.
    pub todo: String,
}

/// Seconds in an hour.
pub(super) const HOUR_S: i64 = 3600;

/// Before work starts, conditions are judged over a day, so that the coldest and the dampest hour are
/// in it. Common practice, no source.
pub(super) const LOOK_BACK_S: i64 = 24 * HOUR_S;

impl Span {
    /// Length in hours.
    #[must_use]
    pub fn hours(self) -> f64 {
        hours(self.to_s - self.from_s)
    }
}

/// Seconds as hours.
#[must_use]
#[allow(clippy::cast_precision_loss)] // Exact up to 285 million years.
pub(crate) fn hours(seconds: i64) -> f64 {
    seconds as f64 / 3600.0
}

/// Hours as whole seconds, rounded up: a wait is never cut short.
#[must_use]
pub(super) fn seconds(hours: f64) -> i64 {
    let seconds = (hours * 3600.0).ceil();
    if seconds.is_finite() && seconds.abs() < 1e15 {
        // In range by the check.
        #[allow(clippy::cast_possible_truncation)]
        return seconds as i64;
    }
    i64::MAX / 4
}

impl<'a> Scene<'a> {
    /// The milestones of the zone that were passed by the time asked about.
    #[must_use]
    pub fn milestones(&self) -> Milestones {
        let passed = |time: Option<jiff::Timestamp>| time.filter(|t| t.as_second() <= self.at_s);
        let all = &self.zone.milestones;
        Milestones {
            delivered: passed(all.delivered),
            barrier_rolled: passed(all.barrier_rolled),
            glue_started: passed(all.glue_started),
            glue_finished: passed(all.glue_finished),
            sanded: passed(all.sanded),
            heat_on: passed(all.heat_on),
        }
    }

    /// A time on the clock of the site, to the minute, for a line of text.
    #[must_use]
    pub fn local(&self, time_s: i64) -> String {
        match jiff::Timestamp::from_second(time_s) {
            Ok(time) => self.job.local(time).strftime("%a %Y-%m-%d %H:%M").to_string(),
            // Only for seconds beyond the year 9999.
            Err(_) => format!("{time_s} s UTC"),
        }
    }

    /// The limit, or why there is none: only a data sheet can say.
    ///
    /// # Errors
    /// [`Missing`] when neither the program nor the job knows a value.
    pub fn limit(&self, id: LimitId) -> Result<&'a ResolvedLimit, Missing> {
        self.limits.get(id).ok_or_else(|| Missing {
            because: format!("the job gives no value for `{id}`, and there is no shipped one"),
            todo: format!("enter it in the job file from the product data sheet (limit `{id}`)"),
        })
    }

    /// The span in which conditions count for the step: from the work that is already done, or over the
    /// last day when none is.
    ///
    /// # Errors
    /// [`Missing`] when the step follows on gluing and the job does not say when that was.
    pub fn span(&self) -> Result<Span, Missing> {
        let milestones = self.milestones();
        let seconds = |time: jiff::Timestamp| time.as_second();
        let day_before = self.at_s - LOOK_BACK_S;
        let from_s = match self.step {
            Step::Membrane => milestones.barrier_rolled.map_or(day_before, seconds).min(day_before),
            // A barrier that was rolled out of limits is not mended by good days after.
            Step::GlueDown => milestones.barrier_rolled.map_or(day_before, seconds).min(day_before),
            Step::Traffic | Step::Sanding | Step::HeatUp | Step::Service => {
                let heat_on = milestones.heat_on.filter(|_| self.step == Step::Service);
                seconds(heat_on.or(milestones.glue_started).ok_or_else(|| Missing {
                    because: "the job does not say when gluing started".to_owned(),
                    todo: "enter `glue-started` under [milestones] in the job file".to_owned(),
                })?)
            }
        };
        Ok(Span { from_s, to_s: self.at_s })
    }

    /// The span that the log must cover for the step: all that any of its requirements looks back over.
    ///
    /// # Errors
    /// [`Missing`] when a milestone or a limit that shapes it is not known.
    pub fn time_that_counts(&self) -> Result<Span, Missing> {
        let back_s = match self.step {
            // The surface change of the last day looks back over another day.
            Step::Membrane => 2 * LOOK_BACK_S,
            Step::GlueDown => {
                let hold_s = seconds(self.limit(LimitId::LayingHoldBefore)?.value);
                let acclimation_s = seconds(self.limit(LimitId::Acclimation)?.value);
                (2 * LOOK_BACK_S).max(hold_s).max(acclimation_s)
            }
            _ => return self.span(),
        };
        Ok(Span { from_s: self.at_s.saturating_sub(back_s), to_s: self.at_s })
    }

    /// Expanded uncertainty of a channel's probe, in K or %RH: the job's, or the assumed one.
    #[must_use]
    pub fn uncertainty(&self, channel: Channel) -> f64 {
        let assumed = match channel {
            Channel::AirRh => LimitId::ProbeRhUncertainty,
            Channel::Slab | Channel::Air | Channel::Supply => LimitId::ProbeTemperatureUncertainty,
        };
        self.job
            .probe(&self.zone.name, job_channel(channel))
            .and_then(|probe| probe.uncertainty)
            .or_else(|| self.limits.value(assumed))
            .unwrap_or(0.0)
    }

    /// By how much the ends of a range are tightened for a channel: by nothing, or by the expanded
    /// uncertainty of its probe when the job asks for guarded acceptance (JCGM 106). Maxima and the
    /// distance from the dew point are guarded always, and not by this.
    #[must_use]
    pub fn range_guard(&self, channel: Channel) -> f64 {
        match self.job.site.decision_rule {
            DecisionRule::Simple => 0.0,
            DecisionRule::Guarded => self.uncertainty(channel),
        }
    }

    /// The longest gap that does not break what must hold without a break, in seconds.
    #[must_use]
    pub fn gap_max_s(&self) -> i64 {
        self.limits.value(LimitId::GapMax).map_or(0, seconds)
    }

    /// The last sample of the channels before the time asked about must be no older than a gap may be.
    ///
    /// # Errors
    /// [`Missing`] when it is older, or when there is none.
    pub fn fresh(&self, channels: &[Channel]) -> Result<(), Missing> {
        for channel in channels {
            let Some((time_s, _)) = self.last(*channel, self.at_s) else {
                return Err(self.never_measured(*channel));
            };
            let age_s = self.at_s - time_s;
            if age_s > self.gap_max_s() {
                return Err(Missing {
                    because: format!(
                        "the last {} reading is {} old",
                        channel.name(),
                        show_age(age_s)
                    ),
                    todo: "pull the logger; if its log ends there, see why".to_owned(),
                });
            }
        }
        Ok(())
    }

    /// Why a channel has no readings at all up to the time asked about.
    fn never_measured(&self, channel: Channel) -> Missing {
        let samples = self.history.range(i64::MIN, self.at_s);
        let reason = samples.rev().find_map(|i| self.history.value(channel, i).err());
        let because = match reason {
            None => "there is no dated log up to this time".to_owned(),
            Some(Absent::NotFitted) => format!("{} was not measured", channel.name()),
            Some(reason) => format!("{} has no reading: {}", channel.name(), absent(reason)),
        };
        let todo = match reason {
            None => "pull the logger with its clock synced, or import its file".to_owned(),
            Some(_) => format!("measure the {} and log it", channel.name()),
        };
        Missing { because, todo }
    }

    /// What is wrong with the log itself.
    pub(super) fn log_notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        for undated in self.history.undated.iter().filter(|undated| undated.samples > 0) {
            notes.push(format!(
                "boot {} has {} samples that no clock sync dates: they are not evidence",
                undated.boot, undated.samples
            ));
        }
        for note in &self.history.clock_notes {
            notes.push(format!(
                "a clock sync of boot {} was {} off against a later one and was dropped",
                note.boot,
                show_age(note.off_s.abs())
            ));
        }
        for damaged in &self.history.damaged {
            let block = damaged.block;
            notes.push(match &damaged.what {
                Damage::Bytes { from, to } => {
                    format!("block {block}: bytes {from} to {to} cannot be read")
                }
                Damage::Header(error) => format!("block {block}: {error}"),
                Damage::Missing { blocks } => {
                    format!("{blocks} blocks from {block} on are missing")
                }
                Damage::ChainBroken => {
                    format!("block {block} is not the one that the next block was chained to")
                }
                Damage::UnknownEntries(count) => {
                    format!("block {block}: {count} entries of a newer kind were passed over")
                }
            });
        }
        notes
    }
}

/// A reason why a measurement is missing, in words.
#[must_use]
pub(crate) fn absent(reason: Absent) -> &'static str {
    match reason {
        Absent::NotFitted => "no probe is fitted",
        Absent::NoAnswer => "the probe does not answer",
        Absent::BadChecksum => "the probe answers with a wrong checksum",
        Absent::OutOfRange => "the probe reads beyond its range",
        Absent::BusFault => "the bus of the probe is faulty",
        Absent::EmptyCell => "the cells of the file are empty",
    }
}

/// A length of time in words, to two digits or so.
#[must_use]
pub(crate) fn show_age(seconds: i64) -> String {
    match seconds {
        ..120 => format!("{seconds} s"),
        120..7_200 => format!("{} min", seconds / 60),
        7_200..172_800 => format!("{:.1} h", hours(seconds)),
        _ => format!("{:.1} d", hours(seconds) / 24.0),
    }
}

impl From<Missing> for Finding {
    fn from(missing: Missing) -> Self {
        Self {
            outcome: Outcome::NoEvidence,
            figure: None,
            clears_at_s: None,
            broken: Vec::new(),
            because: missing.because,
            todo: Some(missing.todo),
            warnings: Vec::new(),
        }
    }
}

impl Figure {
    /// `observed` against `limit`, tightened by `guard` (which is not negative).
    #[must_use]
    pub fn new(limit: &ResolvedLimit, observed: f64, guard: f64) -> Self {
        let bound = match limit.bound {
            Bound::AtMost => limit.value - guard,
            Bound::AtLeast | Bound::MinimumTime | Bound::Assumed => limit.value + guard,
        };
        Self {
            limit: limit.id,
            observed,
            bound,
            margin: Self::margin_of(limit, observed, guard),
            unit: limit.unit,
            guard,
            layer: limit.layer,
            source: limit.source.clone(),
            status: limit.status,
        }
    }

    /// The margin of [`Figure::new`] alone, for whoever looks at each reading of a log.
    #[must_use]
    pub fn margin_of(limit: &ResolvedLimit, observed: f64, guard: f64) -> f64 {
        match limit.bound {
            Bound::AtMost => limit.value - guard - observed,
            Bound::AtLeast | Bound::MinimumTime | Bound::Assumed => observed - limit.value - guard,
        }
    }

    /// Whether the limit is kept. Exactly at the limit is kept.
    #[must_use]
    pub fn is_met(&self) -> bool {
        Self::keeps(self.margin)
    }

    /// Whether a margin is that of a limit which is kept.
    #[must_use]
    pub fn keeps(margin: f64) -> bool {
        // The last digit of a sum or a unit conversion must not decide.
        margin >= -1e-9
    }
}

impl Finding {
    /// Met or not met, as the figure says.
    #[must_use]
    pub fn of(figure: Figure, because: String) -> Self {
        let outcome = if figure.is_met() { Outcome::Met } else { Outcome::NotMet };
        Self {
            outcome,
            figure: Some(figure),
            clears_at_s: None,
            broken: Vec::new(),
            because,
            todo: None,
            warnings: Vec::new(),
        }
    }

    /// With what to do.
    #[must_use]
    pub fn with_todo(mut self, todo: impl Into<String>) -> Self {
        self.todo = Some(todo.into());
        self
    }

    /// With when time alone clears it.
    #[must_use]
    pub fn with_clears_at(mut self, clears_at_s: Option<i64>) -> Self {
        self.clears_at_s = clears_at_s;
        self
    }

    /// With the spans that broke it.
    #[must_use]
    pub fn with_broken(mut self, broken: Vec<Broken>) -> Self {
        self.broken = broken;
        self
    }
}
