//! Valid ranges, and the error for a value outside of one.

/// The valid range of one quantity, both ends included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The quantity, as a reader of the message knows it.
    pub what: &'static str,
    /// Unit of the ends and of the value.
    pub unit: &'static str,
    /// Lowest valid value.
    pub low: f64,
    /// Highest valid value.
    pub high: f64,
    /// What to do about a value outside of it.
    pub fix: &'static str,
}

/// A value outside the range in which its formula means anything, or not a number.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{what}: {value} {unit} is not within {low} to {high} {unit}; {fix}")]
pub struct OutOfRange {
    /// The quantity.
    pub what: &'static str,
    /// The value as given.
    pub value: f64,
    /// Unit of the value and of the ends.
    pub unit: &'static str,
    /// Lowest valid value.
    pub low: f64,
    /// Highest valid value.
    pub high: f64,
    /// What to do about it.
    pub fix: &'static str,
}

impl Range {
    /// Hands the value back when it lies in the range.
    ///
    /// # Errors
    /// [`OutOfRange`] for a value below, above, infinite or NaN.
    pub fn check(&self, value: f64) -> Result<f64, OutOfRange> {
        // NaN compares false with both ends.
        if value >= self.low && value <= self.high {
            return Ok(value);
        }
        Err(OutOfRange {
            what: self.what,
            value,
            unit: self.unit,
            low: self.low,
            high: self.high,
            fix: self.fix,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDTH: Range =
        Range { what: "board width", unit: "mm", low: 1.0, high: 500.0, fix: "measure it again" };

    #[test]
    fn both_ends_belong_to_the_range() {
        assert_eq!(WIDTH.check(1.0), Ok(1.0));
        assert_eq!(WIDTH.check(500.0), Ok(500.0));
        for value in [0.999, 500.001, f64::INFINITY, f64::NEG_INFINITY, f64::NAN] {
            assert!(WIDTH.check(value).is_err(), "{value}");
        }
    }

    #[test]
    fn the_message_names_value_range_and_fix() {
        let error = WIDTH.check(0.5).unwrap_err();
        assert_eq!(
            error.to_string(),
            "board width: 0.5 mm is not within 1 to 500 mm; measure it again"
        );
    }
}
