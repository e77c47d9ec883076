//! How far some values in hundredths moved over time, and their mean.

/// The share of the bound of a spread that a drift may take: see the rule of [`super::Judge`].
pub const DRIFT_SHARE: f64 = 0.75;

/// Sums over values that come one by one, the latest first. All of them are exact: a day of values a
/// second apart stays far below the largest `i128`.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Series {
    ends: Option<(i32, i32)>,
    count: u32,
    sum: i64,
    sum_s: i128,
    sum_s_squared: i128,
    sum_products: i128,
    /// Seconds from the first to the last.
    pub(super) span_s: u32,
}

impl Series {
    /// Adds a value of so many seconds before the latest.
    pub(super) fn add(&mut self, ago_s: u32, value: i32) {
        let (low, high) = self.ends.unwrap_or((value, value));
        self.ends = Some((low.min(value), high.max(value)));
        self.count += 1;
        self.sum += i64::from(value);
        let (s, value) = (i128::from(ago_s), i128::from(value));
        self.sum_s += s;
        self.sum_s_squared += s * s;
        self.sum_products += s * value;
        self.span_s = self.span_s.max(ago_s);
    }

    /// Highest less lowest.
    pub(super) fn spread(&self) -> i32 {
        self.ends.map_or(0, |(low, high)| high - low)
    }

    /// The size of the drift as numerator and denominator.
    fn drift_parts(&self) -> (i128, i128) {
        let (count, sum) = (i128::from(self.count), i128::from(self.sum));
        let above = (count * self.sum_products - self.sum_s * sum).abs();
        (above * i128::from(self.span_s), count * self.sum_s_squared - self.sum_s * self.sum_s)
    }

    /// Whether the spread is at most so many hundredths, and the drift three quarters of them.
    pub(super) fn rests_within(&self, most: i32) -> bool {
        let (above, below) = self.drift_parts();
        self.spread() <= most && 4 * above <= 3 * i128::from(most) * below
    }

    /// The size of the drift of the fitted line from end to end, not in hundredths any more.
    pub(super) fn drift(&self) -> f64 {
        let (above, below) = self.drift_parts();
        // Only to be shown: the last digits do not matter.
        #[allow(clippy::cast_precision_loss)]
        let drift = if below > 0 { above as f64 / below as f64 } else { 0.0 };
        drift / 100.0
    }

    /// The mean, not in hundredths any more.
    pub(super) fn mean(&self) -> Option<f64> {
        // Sums of a day of readings are exact in an f64.
        #[allow(clippy::cast_precision_loss)]
        let sum = self.sum as f64;
        (self.count > 0).then(|| sum / f64::from(self.count) / 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(values: &[(u32, i32)]) -> Series {
        let mut series = Series::default();
        values.iter().for_each(|&(ago_s, value)| series.add(ago_s, value));
        series
    }

    #[test]
    fn a_straight_line_drifts_by_its_ends() {
        let line = series(&[(0, 40), (300, 30), (600, 20), (900, 10)]);
        assert_eq!(line.spread(), 30);
        assert!((line.drift() - 0.3).abs() < 1e-12);
        // Three quarters of 40 are 30.
        assert!(line.rests_within(40) && !line.rests_within(39));
        assert_eq!((line.mean(), line.span_s), (Some(0.25), 900));
    }

    /// By hand: times 0 to 3, values 0 0 10 10: slope 20 / 5 = 4 (the sign is not told), over 3 it is 12.
    #[test]
    fn a_step_drifts_by_more_than_its_spread() {
        let step = series(&[(0, 10), (60, 10), (120, 0), (180, 0)]);
        assert_eq!(step.spread(), 10);
        assert!((step.drift() - 0.12).abs() < 1e-12);
        assert!(step.rests_within(16) && !step.rests_within(15));
    }

    #[test]
    fn a_swing_that_comes_back_has_a_spread_and_no_drift() {
        let swing = series(&[(0, 5), (60, -8), (120, -8), (180, 5)]);
        assert_eq!((swing.spread(), swing.drift()), (13, 0.0));
        assert!(swing.rests_within(13) && !swing.rests_within(12));
    }

    #[test]
    fn nothing_and_one_value_do_not_move() {
        assert_eq!((Series::default().mean(), Series::default().drift()), (None, 0.0));
        let one = series(&[(0, 2150)]);
        assert!(one.rests_within(0));
        assert_eq!((one.mean(), one.drift()), (Some(21.5), 0.0));
    }

    /// What the rule says of noise: no order of values makes more of them than 1.5 times the spread.
    #[test]
    fn the_drift_of_evenly_spaced_values_is_at_most_one_and_a_half_spreads() {
        for count in 2..=12_u32 {
            for high in 0..1_u32 << count {
                let values: Vec<(u32, i32)> =
                    (0..count).map(|i| (i * 60, i32::from(high >> i & 1 == 1) * 100)).collect();
                assert!(series(&values).drift() <= 1.5 + 1e-12, "{values:?}");
            }
        }
    }
}
