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

/// Points in a row that are alike to a rule: one, or those of a whole stretch of the log, none of which
/// is further from the next than a gap may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The first.
    pub from_s: i64,
    /// The last.
    pub to_s: i64,
    /// The value of one of them.
    pub value: f64,
}

impl From<Point> for Row {
    fn from((time_s, value): Point) -> Self {
        Self { from_s: time_s, to_s: time_s, value }
    }
}

/// The streak of points in range, without a gap longer than `gap_max_s`, that ends with the last point.
/// `None` when the last point is out of range, or when there is none. Of a row of many points all or
/// none are in range.
pub fn streak(
    rows: impl DoubleEndedIterator<Item = Row>,
    in_range: impl Fn(f64) -> bool,
    gap_max_s: i64,
) -> Option<Streak> {
    let mut streak: Option<Streak> = None;
    for Row { from_s, to_s, value } in rows.rev() {
        if !in_range(value) {
            return streak.map(|s| Streak { broken_by: Break::OutOfRange(to_s), ..s });
        }
        match &mut streak {
            None => streak = Some(Streak { from_s, to_s, broken_by: Break::Start }),
            Some(s) if s.from_s - to_s > gap_max_s => {
                return Some(Streak { broken_by: Break::Gap(to_s), ..*s });
            }
            Some(s) => s.from_s = from_s,
        }
    }
    streak
}

/// Runs of neighbouring points for which `beyond` gives how far they are beyond the limit: first time,
/// last time and the value furthest beyond. Of a row of many points all are beyond it or none is, and
/// its value is the one furthest beyond.
pub fn runs_beyond<R: Into<Row>>(
    rows: impl Iterator<Item = R>,
    beyond: impl Fn(f64) -> Option<f64>,
) -> Vec<(i64, i64, f64)> {
    let mut runs: Vec<(i64, i64, f64)> = Vec::new();
    let mut open: Option<f64> = None;
    for Row { from_s, to_s, value } in rows.map(Into::into) {
        match (beyond(value), open) {
            (None, _) => open = None,
            (Some(by), None) => {
                runs.push((from_s, to_s, value));
                open = Some(by);
            }
            (Some(by), Some(worst_by)) => {
                if let Some(run) = runs.last_mut() {
                    run.1 = to_s;
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

/// The highest of the last points, as they come in order of time.
#[derive(Clone, Debug, Default)]
pub struct Highs {
    /// Those that may yet become the highest, oldest first, values falling.
    points: VecDeque<Point>,
}

impl Highs {
    /// Takes a point in.
    pub fn push(&mut self, point: Point) {
        while self.points.back().is_some_and(|high| high.1 <= point.1) {
            self.points.pop_back();
        }
        self.points.push_back(point);
    }

    /// The highest of the points since `oldest_s`, that time included. Older ones are forgotten.
    pub fn since(&mut self, oldest_s: i64) -> Option<f64> {
        while self.points.front().is_some_and(|high| high.0 < oldest_s) {
            self.points.pop_front();
        }
        self.points.front().map(|high| high.1)
    }
}

/// The highest and the lowest of the last points, as they come in order of time.
#[derive(Clone, Debug, Default)]
pub struct Extremes {
    highs: Highs,
    /// The lowest is the highest below zero.
    depths: Highs,
}

impl Extremes {
    /// Takes a point in.
    pub fn push(&mut self, (time_s, value): Point) {
        self.highs.push((time_s, value));
        self.depths.push((time_s, -value));
    }

    /// The largest rise and the largest fall to a point within the `window_s` before it, both not
    /// negative: its value minus the lowest, and the highest minus its value, of all points at most
    /// `window_s` older. It has to be taken in before.
    pub fn rise_and_fall(&mut self, (time_s, value): Point, window_s: i64) -> (f64, f64) {
        let oldest_s = time_s.saturating_sub(window_s);
        let high = self.highs.since(oldest_s).unwrap_or(value);
        let low = self.depths.since(oldest_s).map_or(value, |depth| -depth);
        (value - low, high - value)
    }
}

/// For each point the largest rise and the largest fall to it, as [`Extremes::rise_and_fall`] has them.
pub fn rise_and_fall(
    points: impl Iterator<Item = Point>,
    window_s: i64,
) -> impl Iterator<Item = (i64, f64, f64)> {
    let mut extremes = Extremes::default();
    points.map(move |point| {
        extremes.push(point);
        let (rise, fall) = extremes.rise_and_fall(point, window_s);
        (point.0, rise, fall)
    })
}

/// For each point its value and the highest of all points at most `window_s` older, itself among them.
pub fn highest(
    points: impl Iterator<Item = Point>,
    window_s: i64,
) -> impl Iterator<Item = (i64, f64, f64)> {
    let mut highs = Highs::default();
    points.map(move |(time_s, value)| {
        highs.push((time_s, value));
        (time_s, value, highs.since(time_s.saturating_sub(window_s)).unwrap_or(value))
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
    let mut covering = Covering::new(from_s, to_s);
    points.take_while(|point| point.0 <= to_s).for_each(|point| covering.add(point));
    covering.end()
}

/// [`coverage`] on its way through the points.
pub(super) struct Covering {
    from_s: i64,
    to_s: i64,
    covered_s: i64,
    /// Length and beginning of the longest gap, the first of equal ones.
    gap: (i64, i64),
    before: Option<(i64, i64)>,
    any: bool,
}

impl Covering {
    pub(super) fn new(from_s: i64, to_s: i64) -> Self {
        Self { from_s, to_s, covered_s: 0, gap: (0, from_s), before: None, any: false }
    }

    /// Takes the next point in, none of them after the span.
    pub(super) fn add(&mut self, point: (i64, i64)) {
        if point.0 >= self.from_s {
            self.cover_up_to(point.0);
            self.any = true;
        }
        self.before = Some(point);
    }

    /// Whether points with steps and intervals like these would change nothing but the time covered:
    /// each stands for the time to the next, and no gap is longer than the longest so far.
    pub(super) fn is_plain(&self, step_max_s: i64, interval_min_s: i64) -> bool {
        reach_s((0, interval_min_s), step_max_s) == step_max_s && step_max_s <= self.gap.0
    }

    /// Takes plain points in, of which this is said: the times of the first and the last, and the
    /// interval of the last.
    pub(super) fn add_plain(&mut self, (first_s, last_s): (i64, i64), interval_s: i64) {
        self.add((first_s, interval_s));
        self.covered_s += last_s - first_s.max(self.from_s);
        self.before = Some((last_s, interval_s));
    }

    fn cover_up_to(&mut self, next_s: i64) {
        let since_s = self.before.map_or(self.from_s, |before| before.0.max(self.from_s));
        if next_s - since_s > self.gap.0 {
            self.gap = (next_s - since_s, since_s);
        }
        self.covered_s += self.before.map_or(0, |before| stands_s(before, next_s, self.from_s));
    }

    pub(super) fn end(mut self) -> Coverage {
        self.cover_up_to(self.to_s);
        let span_s = self.to_s - self.from_s;
        let share = if span_s > 0 {
            (super::scene::hours(self.covered_s) / super::scene::hours(span_s)).min(1.0)
        } else {
            f64::from(u8::from(self.any))
        };
        Coverage { share, gap_max_s: self.gap.0, gap_from_s: self.gap.1 }
    }
}

/// The part from `from_s` on of the time for which a point stands, see [`reach_s`].
#[must_use]
pub fn stands_s(point: (i64, i64), next_s: i64, from_s: i64) -> i64 {
    (point.0 + reach_s(point, next_s) - point.0.max(from_s)).max(0)
}

#[cfg(test)]
mod tests;
