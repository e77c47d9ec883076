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

/// Steps of which most are about as long as an interval, and few are much longer.
fn any_step() -> impl Strategy<Value = i64> {
    prop_oneof![30 => 500_i64..700, 30 => Just(600), 10 => 700_i64..900, 1 => 900_i64..9_000]
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
            streak(points.iter().copied().map(Row::from), in_range, H),
            naive::streak(&points, in_range, H)
        );
    }

    #[test]
    fn plain_points_at_once_cover_what_they_cover_one_by_one(
        steps in prop::collection::vec((any_step(), 500_i64..700), 1..80),
        late_s in 0_i64..3_000,
    ) {
        let mut time_s = 0;
        let points: Vec<(i64, i64)> = steps
            .into_iter()
            .map(|(step_s, interval_s)| {
                time_s += step_s;
                (time_s, interval_s)
            })
            .collect();
        let to_s = time_s + 300;
        let one_by_one = coverage(points.iter().copied(), late_s, to_s);
        let mut covering = Covering::new(late_s, to_s);
        for some in points.chunks(4) {
            let step_s = some.windows(2).map(|pair| pair[1].0 - pair[0].0).max().unwrap_or(0);
            let interval_s = some.iter().map(|point| point.1).min().unwrap_or(0);
            let (first, last) = (some[0], some[some.len() - 1]);
            if first.0 >= late_s && covering.is_plain(step_s, interval_s) {
                covering.add_plain((first.0, last.0), last.1);
            } else {
                some.iter().for_each(|point| covering.add(*point));
            }
        }
        prop_assert_eq!(covering.end(), one_by_one);
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
        let found = streak(points.into_iter().map(Row::from), |_| true, H).unwrap();
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
