//! Results kept for readings that come again and again.
//!
//! A log has hundredths of a degree or a percent in its columns, and few of them: a function that takes
//! a logarithm need not be asked twice for the same one.

/// Places for results: as many as a year of one channel has values, about.
const PLACES_LOG2: u32 = 11;

/// Keeps the last results of a function of one number.
pub(crate) struct Memo<T> {
    places: Vec<Option<(f64, T)>>,
}

impl<T: Copy> Memo<T> {
    /// With nothing kept.
    pub(crate) fn new() -> Self {
        Self { places: vec![None; 1 << PLACES_LOG2] }
    }

    /// What `of` gives for `value`: kept, or asked for now. It has to give the same each time.
    #[inline]
    pub(crate) fn get(&mut self, value: f64, of: impl FnOnce() -> T) -> T {
        let bits = value.to_bits();
        // The golden ratio spreads neighbours (Knuth, multiplicative hashing).
        let place = bits.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> (u64::BITS - PLACES_LOG2);
        let place = usize::try_from(place).ok().and_then(|place| self.places.get_mut(place));
        match place {
            Some(Some((kept, result))) if kept.to_bits() == bits => *result,
            Some(place) => {
                let result = of();
                *place = Some((value, result));
                result
            }
            // There is a place for every value.
            None => of(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_value_gets_its_own_result_however_many_there_are() {
        let mut memo = Memo::new();
        let mut asked = 0;
        for round in 0..3 {
            for centi in -4_000..6_000 {
                let value = f64::from(centi) / 100.0;
                let result = memo.get(value, || {
                    asked += 1;
                    value.sin()
                });
                assert_eq!(result.to_bits(), value.sin().to_bits(), "{round}: {value}");
            }
        }
        assert!(asked >= 10_000);
        // Zero and minus zero are two values, and so is what is not a number.
        for value in [0.0, -0.0, f64::NAN] {
            assert_eq!(memo.get(value, || value).to_bits(), value.to_bits());
        }
    }

    #[test]
    fn a_value_that_comes_again_is_not_asked_for_again() {
        let mut memo = Memo::new();
        let mut asked = 0;
        for _ in 0..10 {
            for centi in 2_000..2_100 {
                memo.get(f64::from(centi) / 100.0, || asked += 1);
            }
        }
        assert!(asked < 200, "{asked}");
    }
}
