//! Exact rules over time, linear in the samples.
//!
//! Each works on pairs of time and value in order of time; where a measurement is missing there is no
//! pair. Intervals may be unequal, and two samples may bear the same time.

use std::collections::VecDeque;

/// A value at a time, in seconds of UTC.
pub type Point = (i64, f64);

/// The stretch of values in range that ends with the last point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Streak {
    /// First point in range after the last break.
    pub from_s: i64,
    /// The last point.
    pub to_s: i64,
    /// What came before.
    pub broken_by: Break,
}

/// Why a streak does not reach further back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Break {
    /// A point out of range, at this time.
    OutOfRange(i64),
    /// A gap in the points, from this time on.
    Gap(i64),
    /// There are no points before.
    Start,
}

/// The streak of points in range, without a gap longer than `gap_max_s`, that ends with the last point.
/// `None` when the last point is out of range, or when there is none.
pub fn streak(
    points: impl DoubleEndedIterator<Item = Point>,
    in_range: impl Fn(f64) -> bool,
    gap_max_s: i64,
) -> Option<Streak> {
    let mut streak: Option<Streak> = None;
    for (time_s, value) in points.rev() {
        if !in_range(value) {
            return streak.map(|s| Streak { broken_by: Break::OutOfRange(time_s), ..s });
        }
        match &mut streak {
            None => {
                streak = Some(Streak { from_s: time_s, to_s: time_s, broken_by: Break::Start });
            }
            Some(s) if s.from_s - time_s > gap_max_s => {
                return Some(Streak { broken_by: Break::Gap(time_s), ..*s });
            }
            Some(s) => s.from_s = time_s,
        }
    }
    streak
}

/// Runs of neighbouring points for which `beyond` gives how far they are beyond the limit: first time,
/// last time and the value furthest beyond.
pub fn runs_beyond(
    points: impl Iterator<Item = Point>,
    beyond: impl Fn(f64) -> Option<f64>,
) -> Vec<(i64, i64, f64)> {
    let mut runs: Vec<(i64, i64, f64)> = Vec::new();
    let mut open: Option<f64> = None;
    for (time_s, value) in points {
        match (beyond(value), open) {
            (None, _) => open = None,
            (Some(by), None) => {
                runs.push((time_s, time_s, value));
                open = Some(by);
            }
            (Some(by), Some(worst_by)) => {
                if let Some(run) = runs.last_mut() {
                    run.1 = time_s;
                    if by > worst_by {
                        run.2 = value;
                        open = Some(by);
                    }
                }
            }
        }
    }
    runs
}

/// For each point the largest rise and the largest fall within the `window_s` before it, both not
/// negative: its value minus the lowest, and the highest minus its value, of all points at most
/// `window_s` older.
pub fn rise_and_fall(
    points: impl Iterator<Item = Point>,
    window_s: i64,
) -> impl Iterator<Item = (i64, f64, f64)> {
    // Candidates for the lowest (highest) value, oldest first, values rising (falling).
    let mut lows: VecDeque<Point> = VecDeque::new();
    let mut highs: VecDeque<Point> = VecDeque::new();
    points.map(move |(time_s, value)| {
        while lows.back().is_some_and(|low| low.1 >= value) {
            lows.pop_back();
        }
        while highs.back().is_some_and(|high| high.1 <= value) {
            highs.pop_back();
        }
        lows.push_back((time_s, value));
        highs.push_back((time_s, value));
        let oldest_s = time_s.saturating_sub(window_s);
        while lows.front().is_some_and(|low| low.0 < oldest_s) {
            lows.pop_front();
        }
        while highs.front().is_some_and(|high| high.0 < oldest_s) {
            highs.pop_front();
        }
        let low = lows.front().map_or(value, |low| low.1);
        let high = highs.front().map_or(value, |high| high.1);
        (time_s, value - low, high - value)
    })
}

/// For each point its value and the highest of all points at most `window_s` older, itself among them.
pub fn highest(
    points: impl Iterator<Item = Point>,
    window_s: i64,
) -> impl Iterator<Item = (i64, f64, f64)> {
    let mut highs: VecDeque<Point> = VecDeque::new();
    points.map(move |(time_s, value)| {
        while highs.back().is_some_and(|high| high.1 <= value) {
            highs.pop_back();
        }
        highs.push_back((time_s, value));
        let oldest_s = time_s.saturating_sub(window_s);
        while highs.front().is_some_and(|high| high.0 < oldest_s) {
            highs.pop_front();
        }
        (time_s, value, highs.front().map_or(value, |high| high.1))
    })
}

/// How well points cover a span.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// Covered share of the span, 0 to 1.
    pub share: f64,
    /// The longest stretch without a point, its ends at the span's ends or at points, in seconds.
    pub gap_max_s: i64,
    /// Where that stretch begins.
    pub gap_from_s: i64,
}

/// For how long a point with its nominal interval stands, when the next one comes at `next_s`: up to it
/// when that is within one and a half intervals, and else for one interval.
#[must_use]
pub fn reach_s((time_s, interval_s): (i64, i64), next_s: i64) -> i64 {
    let step_s = next_s - time_s;
    if step_s.saturating_mul(2) <= interval_s.saturating_mul(3) { step_s } else { interval_s }
}

/// How well points cover the span from `from_s` to `to_s`. Each point carries the nominal interval in
/// seconds after which the next one was due; it covers the time for which it stands, see [`reach_s`].
/// The last point before the span, when it is among them, may cover its beginning.
#[must_use]
pub fn coverage(points: impl Iterator<Item = (i64, i64)>, from_s: i64, to_s: i64) -> Coverage {
    let mut covered_s = 0_i64;
    let mut gap = (0_i64, from_s);
    let mut before: Option<(i64, i64)> = None;
    let mut any = false;
    let mut cover_up_to = |before: Option<(i64, i64)>, next_s: i64| {
        let since_s = before.map_or(from_s, |before| before.0.max(from_s));
        if next_s - since_s > gap.0 {
            gap = (next_s - since_s, since_s);
        }
        covered_s += before.map_or(0, |before| stands_s(before, next_s, from_s));
    };
    for point in points.take_while(|point| point.0 <= to_s) {
        if point.0 >= from_s {
            cover_up_to(before, point.0);
            any = true;
        }
        before = Some(point);
    }
    cover_up_to(before, to_s);
    let span_s = to_s - from_s;
    let share = if span_s > 0 {
        (super::scene::hours(covered_s) / super::scene::hours(span_s)).min(1.0)
    } else {
        f64::from(u8::from(any))
    };
    Coverage { share, gap_max_s: gap.0, gap_from_s: gap.1 }
}

/// The part from `from_s` on of the time for which a point stands, see [`reach_s`].
#[must_use]
pub fn stands_s(point: (i64, i64), next_s: i64, from_s: i64) -> i64 {
    (point.0 + reach_s(point, next_s) - point.0.max(from_s)).max(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const H: i64 = 3600;

    /// The rules again, quadratic and to the letter.
    mod naive {
        use super::super::{Break, Point, Streak};

        pub(super) fn rise_and_fall(points: &[Point], window_s: i64) -> Vec<(i64, f64, f64)> {
            (0..points.len())
                .map(|i| {
                    let (time_s, value) = points[i];
                    let within = points[..=i].iter().filter(|p| p.0 >= time_s - window_s);
                    let rise = within.clone().map(|p| value - p.1).fold(0.0, f64::max);
                    let fall = within.map(|p| p.1 - value).fold(0.0, f64::max);
                    (time_s, rise, fall)
                })
                .collect()
        }

        /// Tries every start, from the earliest: the first from which all points to the end are in
        /// range and none of the gaps is too long.
        pub(super) fn streak(
            points: &[Point],
            in_range: impl Fn(f64) -> bool,
            gap_max_s: i64,
        ) -> Option<Streak> {
            (0..points.len()).find_map(|start| {
                let tail = &points[start..];
                let whole = tail.iter().all(|p| in_range(p.1))
                    && tail.windows(2).all(|w| w[1].0 - w[0].0 <= gap_max_s);
                whole.then(|| Streak {
                    from_s: tail[0].0,
                    to_s: tail[tail.len() - 1].0,
                    broken_by: match start.checked_sub(1).map(|before| points[before]) {
                        None => Break::Start,
                        Some((time_s, value)) if !in_range(value) => Break::OutOfRange(time_s),
                        Some((time_s, _)) => Break::Gap(time_s),
                    },
                })
            })
        }
    }

    /// Points at unequal intervals with gaps, some at the same time.
    fn any_points() -> impl Strategy<Value = Vec<Point>> {
        let step = prop_oneof![Just(600_i64), 0_i64..4_000, Just(86_400), Just(3_600), Just(3_601)];
        prop::collection::vec((step, -500_i32..3_500), 0..120).prop_map(|steps| {
            let mut time_s = 1_700_000_000;
            let point = |(step_s, centi): (i64, i32)| {
                time_s += step_s;
                (time_s, f64::from(centi) / 100.0)
            };
            steps.into_iter().map(point).collect()
        })
    }

    proptest! {
        #[test]
        fn rise_and_fall_agree_with_the_letter_of_the_rule(points in any_points()) {
            let fast: Vec<_> = rise_and_fall(points.iter().copied(), 24 * H).collect();
            prop_assert_eq!(fast, naive::rise_and_fall(&points, 24 * H));
        }

        #[test]
        fn highest_is_the_value_from_which_the_points_fell(points in any_points()) {
            let highest: Vec<_> = highest(points.iter().copied(), 24 * H).collect();
            for (fast, naive) in highest.iter().zip(naive::rise_and_fall(&points, 24 * H)) {
                prop_assert_eq!(fast.0, naive.0);
                prop_assert_eq!((fast.2 - fast.1).max(0.0), naive.2);
            }
            prop_assert_eq!(highest.len(), points.len());
        }

        #[test]
        fn streak_agrees_with_the_letter_of_the_rule(points in any_points(), low in -5.0..20.0_f64) {
            let in_range = |value: f64| value >= low;
            prop_assert_eq!(
                streak(points.iter().copied(), in_range, H),
                naive::streak(&points, in_range, H)
            );
        }

        #[test]
        fn taking_points_away_never_covers_more(points in any_points(), drop in 0_usize..120) {
            let whole: Vec<(i64, i64)> = points.iter().map(|p| (p.0, 600)).collect();
            let (from_s, to_s) = (1_700_000_000, 1_700_000_000 + 40 * 86_400);
            let less: Vec<_> = whole
                .iter()
                .enumerate()
                .filter(|(i, _)| *i != drop)
                .map(|(_, p)| *p)
                .collect();
            let a = coverage(whole.into_iter(), from_s, to_s);
            let b = coverage(less.into_iter(), from_s, to_s);
            prop_assert!(b.share <= a.share + 1e-12);
            prop_assert!(b.gap_max_s >= a.gap_max_s);
        }
    }

    #[test]
    fn a_gap_of_an_hour_holds_and_of_an_hour_and_a_second_breaks() {
        for (gap_s, from_s) in [(H, 0), (H + 1, 2 * H + 1)] {
            let points = [(0, 20.0), (H, 20.0), (H + gap_s, 20.0), (H + gap_s + 600, 20.0)];
            let found = streak(points.into_iter(), |_| true, H).unwrap();
            assert_eq!(found.from_s, from_s, "gap of {gap_s} s");
        }
    }

    #[test]
    fn a_run_names_its_worst_value_and_ends_with_the_last_point_beyond() {
        let points = [(0, 49.0), (1, 51.0), (2, 58.0), (3, 52.0), (4, 50.0), (5, 50.5)];
        let runs = runs_beyond(points.into_iter(), |rh| (rh > 50.0).then_some(rh - 50.0));
        assert_eq!(runs, [(1, 3, 58.0), (5, 5, 50.5)]);
    }

    #[test]
    fn a_point_exactly_a_window_old_still_counts() {
        let points = [(0, 10.0), (24 * H, 12.0), (24 * H + 1, 13.0)];
        let changes: Vec<_> = rise_and_fall(points.into_iter(), 24 * H).collect();
        assert_eq!(changes, [(0, 0.0, 0.0), (24 * H, 2.0, 0.0), (24 * H + 1, 1.0, 0.0)]);
    }

    #[test]
    fn coverage_counts_what_is_missing_at_both_ends() {
        // Ten hours, a sample each ten minutes but for the last two hours.
        let points = (0..=48).map(|i| (i * 600, 600));
        let found = coverage(points, 0, 10 * H);
        // 48 intervals and the one that the last sample stands for, of 60.
        assert!((found.share - 49.0 / 60.0).abs() < 1e-12, "{found:?}");
        assert_eq!((found.gap_max_s, found.gap_from_s), (2 * H, 8 * H));
    }

    #[test]
    fn an_empty_span_of_points_covers_nothing() {
        let found = coverage(std::iter::empty(), 0, H);
        assert_eq!(found, Coverage { share: 0.0, gap_max_s: H, gap_from_s: 0 });
    }
}
