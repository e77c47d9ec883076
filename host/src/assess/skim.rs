//! The questions that rules ask of a span of the log, answered from its stretches wherever these tell
//! enough, and from single samples where they do not. The answers are those of the samples, always.

use super::scene::{Scene, Span};
use super::window::{Coverage, Covering, Point, Row};
use crate::history::{Channel, Stretch};

impl<'a> Scene<'a> {
    /// The stretches of a span.
    pub(super) fn stretches(
        &self,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = Stretch<'a>> + Clone + use<'a> {
        let history = self.history;
        history.stretches(history.range(span.from_s, span.to_s))
    }

    /// Time and value of the readings of a channel in a stretch.
    pub(super) fn points_of(
        &self,
        channel: Channel,
        stretch: &Stretch<'_>,
    ) -> impl DoubleEndedIterator<Item = Point> + use<'a> {
        let history = self.history;
        let point = move |i| Some((*history.time_s.get(i)?, history.value(channel, i).ok()?));
        stretch.samples().filter_map(point)
    }

    /// Readings of a channel in a span, for finding the runs beyond a limit on one side. Of a stretch in
    /// which all are beyond it, the one furthest beyond tells the others; of one in which none is, any.
    pub(super) fn rows_beyond(
        &self,
        channel: Channel,
        span: Span,
        beyond: impl Fn(f64) -> Option<f64>,
    ) -> impl Iterator<Item = Row> {
        self.stretches(span).flat_map(move |stretch| {
            let row =
                stretch.whole().and_then(|whole| {
                    let [least, greatest] = whole.readings(channel).ends?;
                    let value =
                        match (beyond(least), beyond(greatest)) {
                            (None, None) => least,
                            // Its first and its last sample have to be readings.
                            (Some(low), Some(high)) if whole.full(channel).is_some() => {
                                if low > high { least } else { greatest }
                            }
                            _ => return None,
                        };
                    Some(Row { from_s: whole.from_s, to_s: whole.to_s, value })
                });
            let each = row.is_none().then(|| self.points_of(channel, &stretch).map(Row::from));
            row.into_iter().chain(each.into_iter().flatten())
        })
    }

    /// Readings of a channel in a span, those of a stretch as one row where all are alike: where `alike`
    /// says so of the least and the greatest, none is missing and none comes later after the one before
    /// than a gap may be.
    pub(super) fn rows(
        &self,
        channel: Channel,
        span: Span,
        alike: impl Fn([f64; 2]) -> bool,
    ) -> impl DoubleEndedIterator<Item = Row> {
        let gap_max_s = self.gap_max_s();
        self.stretches(span).flat_map(move |stretch| {
            let row =
                stretch.whole().filter(|whole| whole.is_joined(gap_max_s)).and_then(|whole| {
                    let ends = whole.full(channel).filter(|ends| alike(*ends))?;
                    let [value, _] = ends;
                    Some(Row { from_s: whole.from_s, to_s: whole.to_s, value })
                });
            let each = row.is_none().then(|| self.points_of(channel, &stretch).map(Row::from));
            row.into_iter().chain(each.into_iter().flatten())
        })
    }

    /// The least and the greatest reading of a channel in a span; `None` without any.
    pub(super) fn ends(&self, channel: Channel, span: Span) -> Option<[f64; 2]> {
        self.stretches(span)
            .filter_map(|stretch| stretch.ends(channel))
            .reduce(|[least, greatest], [low, high]| [least.min(low), greatest.max(high)])
    }

    /// The last reading of a channel up to a time.
    pub(super) fn last(&self, channel: Channel, to_s: i64) -> Option<Point> {
        let i = self.last_place(channel, to_s)?;
        Some((*self.history.time_s.get(i)?, self.history.value(channel, i).ok()?))
    }

    /// Where the last reading of a channel up to a time stands in the history.
    fn last_place(&self, channel: Channel, to_s: i64) -> Option<usize> {
        // A probe that is not fitted is missing in every sample.
        let tells = |stretch: &Stretch<'_>| {
            stretch.whole().is_none_or(|whole| whole.readings(channel).count > 0)
        };
        let reads = |i: &usize| self.history.value(channel, *i).is_ok();
        let mut stretches = self.stretches(Span { from_s: i64::MIN, to_s }).rev().filter(tells);
        stretches.find_map(|stretch| stretch.samples().rev().find(reads))
    }

    /// How well the readings of a channel cover a span. Each stands as [`super::window::reach_s`] says;
    /// the last one before the span may stand for its beginning.
    pub(super) fn covered(&self, channel: Channel, span: Span) -> Coverage {
        let history = self.history;
        let due = |i: usize| {
            history.value(channel, i).ok()?;
            Some((*history.time_s.get(i)?, i64::from(*history.interval_s.get(i)?)))
        };
        let mut covering = Covering::new(span.from_s, span.to_s);
        let before = self.last_place(channel, span.from_s.saturating_sub(1));
        before.and_then(due).into_iter().for_each(|point| covering.add(point));
        for stretch in self.stretches(span) {
            if let Some(whole) = stretch.whole()
                && covering.is_plain(whole.step_max_s(), whole.interval_min_s())
                && whole.full(channel).is_some()
            {
                covering.add_plain((whole.from_s, whole.to_s), whole.last_interval_s());
                continue;
            }
            stretch.samples().filter_map(due).for_each(|point| covering.add(point));
        }
        covering.end()
    }

    /// The longest stretch of a span without a reading of a channel, in seconds.
    pub(super) fn longest_gap_s(&self, channel: Channel, span: Span) -> i64 {
        self.covered(channel, span).gap_max_s
    }
}

/// Far more than the last digits of a sum of so many figures, as a share of it.
pub(super) const ROUNDING: f64 = 1e-8;

#[cfg(test)]
mod tests {
    use super::super::Step;
    use super::super::window::runs_beyond;
    use super::*;
    use crate::history::History;
    use crate::job::Job;
    use crate::limits::Limits;
    use glueday_types::{Absent, CentiCelsius, Sample};
    use proptest::prelude::*;

    /// Spells on either side of 25 °C or on both, some as long as a stretch, some without a reading.
    fn any_history() -> impl Strategy<Value = History> {
        let side = prop::sample::select(vec![2_300_i16..2_490, 2_510..2_700, 2_450..2_550]);
        let reads = prop_oneof![40 => Just(true), 1 => Just(false)];
        let spell = (side, prop_oneof![1_usize..5, 60_usize..200])
            .prop_flat_map(move |(side, len)| prop::collection::vec((side, reads.clone()), len));
        prop::collection::vec(spell, 1..6).prop_map(|spells| {
            let mut history = History::default();
            for (i, (slab, reads)) in spells.into_iter().flatten().enumerate() {
                let slab = if reads { Ok(CentiCelsius(slab)) } else { Err(Absent::NoAnswer) };
                let (air_rh, supply) = (Err(Absent::NotFitted), Err(Absent::NotFitted));
                let time_s = 60 * i64::try_from(i).unwrap_or(0);
                history.push(time_s, 60, &Sample { at_s: 0, slab, air: slab, air_rh, supply });
            }
            history
        })
    }

    proptest! {
        #[test]
        fn runs_by_stretches_are_those_by_single_readings(
            history in any_history(),
            from_s in 0_i64..9_000,
        ) {
            let text = "[site]\nname = \"T\"\ntime-zone = \"UTC\"\n[[room]]\nname = \"Hall\"\n";
            let job = Job::parse(text, "job.toml").map_err(|e| TestCaseError::fail(e.to_string()))?;
            let limits = Limits::resolve(&job);
            let (step, at_s) = (Step::GlueDown, i64::MAX);
            let (job, zone, limits) = (&job, &job.zones[0], &limits);
            let scene = Scene { job, zone, limits, history: &history, step, at_s };
            let span = Span { from_s, to_s: 60 * 900 };
            let above = |value: f64| (value > 25.0).then_some(value - 25.0);
            let below = |value: f64| (value < 25.0).then_some(25.0 - value);
            let single = || scene.points(Channel::Slab, span);
            let by_stretch = runs_beyond(scene.rows_beyond(Channel::Slab, span, above), above);
            prop_assert_eq!(by_stretch, runs_beyond(single(), above));
            let by_stretch = runs_beyond(scene.rows_beyond(Channel::Slab, span, below), below);
            prop_assert_eq!(by_stretch, runs_beyond(single(), below));
            let least = single().map(|point| point.1).min_by(f64::total_cmp);
            let greatest = single().map(|point| point.1).max_by(f64::total_cmp);
            let ends = scene.ends(Channel::Slab, span);
            prop_assert_eq!(ends, least.zip(greatest).map(|(least, greatest)| [least, greatest]));
            let last = scene.last(Channel::Slab, span.to_s);
            let ever = scene.points(Channel::Slab, Span { from_s: i64::MIN, ..span }).next_back();
            prop_assert_eq!(last, ever);
        }
    }
}
