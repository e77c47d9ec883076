//! How each requirement stood at times before the one asked about.

use crate::assess::{Outcome, Step, assess};
use crate::history::History;
use crate::job::{Job, Zone};
use crate::limits::ResolvedLimits;

/// Each requirement of a step as it would have been judged at times in the past.
///
/// Made with [`Course::judge`]; the strips of a chart show it when it is given to
/// [`Chart::with_course`](super::Chart::with_course).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Course {
    /// Times, in seconds of UTC and in order, with the outcomes of all requirements.
    judged: Vec<(i64, Vec<Outcome>)>,
}

/// A span of time in which an outcome held, in seconds of UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    pub(super) from_s: i64,
    pub(super) to_s: i64,
    pub(super) outcome: Outcome,
}

impl Course {
    /// Judges a zone at evenly spaced times from `from_s` to `to_s`, both among them.
    ///
    /// `history` is the log as it was logged, without corrections, as for [`assess`]. Nothing is judged
    /// after `at_s`, the time asked about. A long log is judged at fewer times, so that the work
    /// stays bounded: 16 to 96 of them.
    #[must_use]
    pub fn judge(
        job: &Job,
        limits: &ResolvedLimits,
        (zone, history): (&Zone, &History),
        (step, at_s): (Step, i64),
        (from_s, to_s): (i64, i64),
    ) -> Self {
        let to_s = to_s.min(at_s);
        let length_s = to_s.saturating_sub(from_s);
        if length_s <= 0 {
            return Self::default();
        }
        let intervals = intervals(history.len());
        let judged = (0..=intervals).map(|k| {
            // Wide, since spans may be centuries long.
            let past_s = i128::from(length_s) * i128::from(k) / i128::from(intervals);
            let time_s = from_s.saturating_add(i64::try_from(past_s).unwrap_or(length_s));
            let zones = assess(job, limits, &[(zone, history)], step, time_s).zones;
            let outcomes = zones.iter().flat_map(|zone| &zone.judged).map(|j| j.finding.outcome);
            (time_s, outcomes.collect())
        });
        Self { judged: judged.collect() }
    }

    /// The stretches of one requirement, by its place among those of the step.
    pub(super) fn of(&self, requirement: usize) -> Vec<Stretch> {
        self.stretches(|outcomes| outcomes.get(requirement).copied())
    }

    /// The stretches of all requirements together: met where each is met.
    pub(super) fn together(&self) -> Vec<Stretch> {
        self.stretches(|outcomes| outcomes.iter().copied().reduce(worse))
    }

    /// Between two times the worse of both outcomes: met is only shown where nothing speaks against it.
    fn stretches(&self, outcome: impl Fn(&[Outcome]) -> Option<Outcome>) -> Vec<Stretch> {
        let mut stretches: Vec<Stretch> = Vec::new();
        for pair in self.judged.windows(2) {
            let [(from_s, before), (to_s, after)] = pair else { continue };
            let both = outcome(before).zip(outcome(after));
            let outcome = both.map_or(Outcome::NoEvidence, |(a, b)| worse(a, b));
            match stretches.last_mut() {
                Some(last) if last.outcome == outcome => last.to_s = *to_s,
                _ => stretches.push(Stretch { from_s: *from_s, to_s: *to_s, outcome }),
            }
        }
        stretches
    }

    /// How far apart the times are, in seconds; `None` when there are none.
    pub(super) fn every_s(&self) -> Option<i64> {
        let first = self.judged.first()?.0;
        let count = i64::try_from(self.judged.len()).ok()?.checked_sub(1)?;
        self.judged.last()?.0.saturating_sub(first).checked_div(count)
    }
}

/// What is not met is worse than what is not known, as in the answer itself.
fn worse(a: Outcome, b: Outcome) -> Outcome {
    let rank = |outcome| match outcome {
        Outcome::Met => 0,
        Outcome::NoEvidence => 1,
        Outcome::NotMet => 2,
    };
    if rank(a) >= rank(b) { a } else { b }
}

/// Into how many parts the time is divided for a log of so many samples.
fn intervals(samples: usize) -> u32 {
    /// Samples looked through in all.
    const SAMPLES: usize = 2_000_000;
    let count = SAMPLES.checked_div(samples).unwrap_or(usize::MAX).clamp(16, 96);
    u32::try_from(count).unwrap_or(16)
}

#[cfg(test)]
mod tests {
    use super::*;
    use Outcome::{Met, NoEvidence, NotMet};

    fn course(outcomes: &[[Outcome; 2]]) -> Course {
        let judged = outcomes.iter().zip(0..).map(|(o, k)| (k * 10, o.to_vec()));
        Course { judged: judged.collect() }
    }

    #[test]
    fn between_two_times_the_worse_outcome_is_shown() {
        let course = course(&[
            [Met, Met],
            [Met, Met],
            [NoEvidence, Met],
            [NoEvidence, NotMet],
            [Met, Met],
            [Met, Met],
        ]);
        let of = |from_s, to_s, outcome| Stretch { from_s, to_s, outcome };
        assert_eq!(course.of(0), [of(0, 10, Met), of(10, 40, NoEvidence), of(40, 50, Met)]);
        assert_eq!(course.of(1), [of(0, 20, Met), of(20, 40, NotMet), of(40, 50, Met)]);
        assert_eq!(
            course.together(),
            [of(0, 10, Met), of(10, 20, NoEvidence), of(20, 40, NotMet), of(40, 50, Met)]
        );
        assert_eq!(course.every_s(), Some(10));
    }

    #[test]
    fn a_requirement_that_was_not_judged_is_no_evidence() {
        let course = course(&[[Met, Met], [Met, Met]]);
        let expected = [Stretch { from_s: 0, to_s: 10, outcome: NoEvidence }];
        assert_eq!(course.of(2), expected);
        assert_eq!((Course::default().of(0), Course::default().every_s()), (Vec::new(), None));
    }

    #[test]
    fn long_logs_are_judged_at_fewer_times() {
        assert_eq!([0, 1000, 50_000, 10_000_000].map(intervals), [96, 96, 40, 16]);
    }
}
