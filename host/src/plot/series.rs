//! From samples to the points of a line: gaps, runs without a gap, and thinning.

use crate::history::History;
use std::ops::RangeInclusive;

/// Time in seconds of UTC and a value.
pub(super) type Sample = (i64, f64);

/// The values of a line at neighbouring samples of a log.
pub(super) struct Values<'h> {
    time_s: &'h [i64],
    /// NaN where a sample has none: half of what times beside the values would take.
    values: Vec<f64>,
    /// Places from a first to a last value, with none further from the next than a gap may be.
    runs: Vec<RangeInclusive<usize>>,
}

impl<'h> Values<'h> {
    /// Of samples at these times, `value` by their place among them; runs end where two values are
    /// further apart than a gap may be.
    pub(super) fn new(
        time_s: &'h [i64],
        value: impl Fn(usize) -> Option<f64>,
        gap_max_s: i64,
    ) -> Self {
        let mut runs: Vec<RangeInclusive<usize>> = Vec::new();
        let mut last_s = None;
        let place = |(i, time_s): (usize, &i64)| {
            let value = value(i).filter(|value| value.is_finite());
            if value.is_some() {
                let joined =
                    last_s.is_some_and(|last_s| time_s.saturating_sub(last_s) <= gap_max_s);
                match runs.last_mut().filter(|_| joined) {
                    Some(run) => *run = *run.start()..=i,
                    None => runs.push(i..=i),
                }
                last_s = Some(*time_s);
            }
            value.unwrap_or(f64::NAN)
        };
        let values = time_s.iter().enumerate().map(place).collect();
        Self { time_s, values, runs }
    }

    /// Whether no sample has a value.
    pub(super) fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    /// The samples of each run in their order.
    pub(super) fn runs(&self) -> impl Iterator<Item = impl Iterator<Item = Sample>> {
        self.runs.iter().map(|run| {
            let times = self.time_s.get(run.clone()).unwrap_or_default();
            let values = self.values.get(run.clone()).unwrap_or_default();
            let samples = times.iter().copied().zip(values.iter().copied());
            samples.filter(|(_, value)| !value.is_nan())
        })
    }
}

/// At most four samples for each column of pixels: first, lowest, highest and last, in order of time.
/// So no spike is lost, however many samples a column holds.
pub(super) fn thin(run: impl Iterator<Item = Sample>, column: impl Fn(i64) -> i64) -> Vec<Sample> {
    let mut kept = Vec::new();
    let mut open: Option<(i64, Column)> = None;
    for (i, sample) in run.enumerate() {
        let here = column(sample.0);
        match &mut open {
            Some((at, extremes)) if *at == here => extremes.add(i, sample),
            _ => {
                if let Some((_, done)) = open.replace((here, Column::of(i, sample))) {
                    done.keep(&mut kept);
                }
            }
        }
    }
    if let Some((_, done)) = open {
        done.keep(&mut kept);
    }
    kept
}

/// The samples of a column that are kept, each with its place in the run; of equal ones the first.
struct Column {
    first: (usize, Sample),
    lowest: (usize, Sample),
    highest: (usize, Sample),
    last: (usize, Sample),
}

impl Column {
    fn of(i: usize, sample: Sample) -> Self {
        let only = (i, sample);
        Self { first: only, lowest: only, highest: only, last: only }
    }

    fn add(&mut self, i: usize, sample: Sample) {
        self.last = (i, sample);
        if sample.1 < self.lowest.1.1 {
            self.lowest = self.last;
        }
        if sample.1 > self.highest.1.1 {
            self.highest = self.last;
        }
    }

    fn keep(self, kept: &mut Vec<Sample>) {
        let mut all = [self.first, self.lowest, self.highest, self.last];
        all.sort_unstable_by_key(|(i, _)| *i);
        let mut before = None;
        for (i, sample) in all {
            if before != Some(i) {
                kept.push(sample);
            }
            before = Some(i);
        }
    }
}

/// Spans from `from_s` to `to_s` without any sample that are longer than a gap may be. A sample could
/// be there up to `until_s`: what is missing later is not a gap yet.
pub(super) fn gaps(
    history: &History,
    (from_s, to_s): (i64, i64),
    until_s: i64,
    gap_max_s: i64,
) -> Vec<(i64, i64)> {
    let to_s = to_s.min(until_s);
    let times = history.time_s.get(history.range(from_s, to_s)).unwrap_or_default();
    // A sample just outside of the picture also ends a gap.
    let before = history.range(i64::MIN, from_s.saturating_sub(1)).last();
    let after = history.range(to_s.saturating_add(1), i64::MAX).next();
    let time = |i: Option<usize>| i.and_then(|i| history.time_s.get(i).copied());
    let edges = time(before).into_iter().chain(times.iter().copied()).chain(time(after));
    let mut gaps = Vec::new();
    let mut last_s = None;
    for time_s in edges {
        push_gap(&mut gaps, last_s, time_s, (from_s, to_s), gap_max_s);
        last_s = Some(time_s);
    }
    if time(after).is_none() {
        push_gap(&mut gaps, last_s, until_s, (from_s, to_s), gap_max_s);
    }
    gaps
}

fn push_gap(
    gaps: &mut Vec<(i64, i64)>,
    last_s: Option<i64>,
    next_s: i64,
    (from_s, to_s): (i64, i64),
    gap_max_s: i64,
) {
    let start_s = last_s.unwrap_or(i64::MIN);
    if next_s.saturating_sub(start_s) > gap_max_s {
        let (start_s, end_s) = (start_s.max(from_s), next_s.min(to_s));
        if end_s > start_s {
            gaps.push((start_s, end_s));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Samples at unequal steps, some at one time; every so often one far off.
    fn any_run() -> impl Strategy<Value = Vec<Sample>> {
        let value = prop_oneof![9 => -1.0..1.0_f64, 1 => -90.0..90.0_f64];
        prop::collection::vec((0_i64..90, value), 1..300).prop_map(|steps| {
            let mut time_s = 0;
            let sample = |(step_s, value)| {
                time_s += step_s;
                (time_s, value)
            };
            steps.into_iter().map(sample).collect()
        })
    }

    fn runs(
        time_s: &[i64],
        value: impl Fn(usize) -> Option<f64>,
        gap_max_s: i64,
    ) -> Vec<Vec<Sample>> {
        Values::new(time_s, value, gap_max_s).runs().map(Iterator::collect).collect()
    }

    proptest! {
        /// What is kept are samples in their order, at most four of a column, and among them every
        /// sample that lies higher or lower than all others of its column: so no spike is lost,
        /// though it be one sample.
        #[test]
        fn thinning_never_hides_a_spike(run in any_run(), width_s in 1_i64..500) {
            let column = |time_s: i64| time_s / width_s;
            let kept = thin(run.iter().copied(), column);
            let mut rest = run.iter();
            prop_assert!(kept.iter().all(|k| rest.any(|sample| sample == k)), "not in order");
            for at in 0..=column(run[run.len() - 1].0) {
                let of = |all: &[Sample]| -> Vec<Sample> {
                    all.iter().copied().filter(|(time_s, _)| column(*time_s) == at).collect()
                };
                let (all, kept) = (of(&run), of(&kept));
                prop_assert!(kept.len() <= 4);
                prop_assert_eq!((kept.first(), kept.last()), (all.first(), all.last()));
                let highest = |samples: &[Sample]| samples.iter().map(|s| s.1).reduce(f64::max);
                let lowest = |samples: &[Sample]| samples.iter().map(|s| s.1).reduce(f64::min);
                prop_assert_eq!(highest(&kept), highest(&all));
                prop_assert_eq!(lowest(&kept), lowest(&all));
            }
        }

        /// No sample is in two runs or in none, and none but a gap parts them.
        #[test]
        fn runs_are_parted_by_gaps_alone(run in any_run(), gap_max_s in 0_i64..90) {
            // Where no value is, nothing is drawn, and a line goes on past it.
            let times: Vec<i64> = run.iter().map(|sample| sample.0).collect();
            let value = |i: usize| Some(run[i].1).filter(|value| *value > -0.5);
            let runs = runs(&times, value, gap_max_s);
            let run: Vec<Sample> = run.iter().copied().filter(|sample| sample.1 > -0.5).collect();
            prop_assert_eq!(runs.concat(), run);
            let is_long = |a: Sample, b: Sample| b.0 - a.0 > gap_max_s;
            for pair in runs.windows(2) {
                prop_assert!(is_long(pair[0][pair[0].len() - 1], pair[1][0]));
            }
            for run in &runs {
                prop_assert!(run.windows(2).all(|pair| !is_long(pair[0], pair[1])));
            }
        }
    }

    #[test]
    fn a_run_ends_where_the_gap_is_longer_than_allowed() {
        let values = [Some(1.0), None, Some(2.0), Some(f64::NAN), Some(3.0), None];
        let runs = runs(&[0, 10, 3600, 3700, 7201, 7300], |i| values[i], 3600);
        assert_eq!(runs, [vec![(0, 1.0), (3600, 2.0)], vec![(7201, 3.0)]]);
    }

    #[test]
    fn thinning_keeps_both_extremes_and_both_ends_of_a_column_in_order() {
        let run = [(0, 5.0), (1, 9.0), (2, 6.0), (3, 1.0), (4, 5.5), (10, 7.0)];
        let kept = thin(run.into_iter(), |t| t / 10);
        assert_eq!(kept, [(0, 5.0), (1, 9.0), (3, 1.0), (4, 5.5), (10, 7.0)]);
    }

    #[test]
    fn gaps_reach_from_edge_to_edge_and_no_further() {
        let history =
            |time_s: &[i64]| History { time_s: time_s.to_vec().into(), ..History::default() };
        let gaps = |time_s: &[i64], until_s| gaps(&history(time_s), (0, 100), until_s, 10);
        assert_eq!(gaps(&[], 200), [(0, 100)]);
        assert_eq!(gaps(&[40, 50, 61], 200), [(0, 40), (50, 61), (61, 100)]);
        assert_eq!(gaps(&[-5, 5, 95, 105], 200), [(5, 95)]);
        assert_eq!(gaps(&[-50, 150], 200), [(0, 100)]);
        // Nothing is missing yet.
        assert_eq!(gaps(&[0, 10, 20, 30], 40), []);
        assert_eq!(gaps(&[0, 10, 20, 30], 41), [(30, 41)]);
    }
}
