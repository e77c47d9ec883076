//! From values and times to pixels.

/// Time from left to right.
#[derive(Clone, Copy, Debug)]
pub(super) struct TimeScale {
    pub(super) from_s: i64,
    pub(super) to_s: i64,
    pub(super) x0: f64,
    pub(super) x1: f64,
}

/// Values from bottom to top, with marks at round figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ValueScale {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) step: f64,
    /// Top.
    pub(super) y0: f64,
    /// Bottom.
    pub(super) y1: f64,
}

impl TimeScale {
    #[allow(clippy::cast_precision_loss)] // Far below a pixel.
    pub(super) fn x(&self, time_s: i64) -> f64 {
        let share = time_s.saturating_sub(self.from_s) as f64 / (self.to_s - self.from_s) as f64;
        (self.x0 + share * (self.x1 - self.x0)).clamp(self.x0, self.x1)
    }

    /// The column of pixels that a time falls into.
    pub(super) fn column(&self, time_s: i64) -> i64 {
        // Within the picture.
        #[allow(clippy::cast_possible_truncation)]
        let column = self.x(time_s).floor() as i64;
        column
    }

    #[allow(clippy::cast_precision_loss)] // Far below a pixel.
    pub(super) fn pixels_per_s(&self) -> f64 {
        (self.x1 - self.x0) / (self.to_s - self.from_s) as f64
    }

    pub(super) fn holds(&self, time_s: i64) -> bool {
        (self.from_s..=self.to_s).contains(&time_s)
    }
}

impl ValueScale {
    /// A scale that holds `low` to `high`, marked at most every `apart` pixels.
    pub(super) fn new(low: f64, high: f64, (y0, y1): (f64, f64), apart: f64) -> Self {
        let marks = ((y1 - y0) / apart).floor().max(1.0);
        let step = round_step((high - low).max(0.1) / marks);
        let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
        let high = if high > low { high } else { low + step };
        Self { low, high, step, y0, y1 }
    }

    pub(super) fn y(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        (self.y1 - share * (self.y1 - self.y0)).clamp(self.y0, self.y1)
    }

    pub(super) fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// The values marked, from low to high.
    pub(super) fn marks(&self) -> Vec<f64> {
        let count = self.intervals();
        (0..=count).map(|k| self.low + f64::from(k) * self.step).collect()
    }

    pub(super) fn intervals(&self) -> u32 {
        // A few dozen at most.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let count = ((self.high - self.low) / self.step).round().clamp(1.0, 1000.0) as u32;
        count
    }

    /// A value as its mark shows it.
    pub(super) fn mark(&self, value: f64) -> String {
        let places = if self.step >= 1.0 { 0 } else { 1 };
        let text = format!("{value:.places$}");
        if value.abs() < self.step / 2.0 { "0".to_owned() } else { text.replace('-', "−") }
    }
}

/// The next round figure that is no smaller: 1, 2 or 5 times a power of ten.
pub(super) fn round_step(least: f64) -> f64 {
    let power = 10.0_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .map(|m| m * power)
        .into_iter()
        .find(|s| *s >= least - 1e-9)
        .unwrap_or(power)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_end_at_round_figures_around_the_values() {
        let scale = ValueScale::new(-3.2, 47.0, (0.0, 300.0), 40.0);
        assert_eq!((scale.low, scale.high, scale.step), (-10.0, 50.0, 10.0));
        assert_eq!(scale.marks(), [-10.0, 0.0, 10.0, 20.0, 30.0, 40.0, 50.0]);
        assert_eq!((scale.y(-10.0), scale.y(50.0)), (300.0, 0.0));
        assert_eq!(scale.mark(-10.0), "−10");
        assert_eq!(scale.mark(0.0), "0");
    }

    #[test]
    fn one_value_still_has_a_scale() {
        let scale = ValueScale::new(20.0, 20.0, (0.0, 100.0), 40.0);
        assert!(scale.low < scale.high && scale.y(20.0).is_finite(), "{scale:?}");
    }
}
