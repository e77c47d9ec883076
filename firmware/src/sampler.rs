//! When to sample: at exact multiples of the interval, counted in seconds since boot.

/// The sampling schedule.
///
/// ```
/// use glueday_firmware::Sampler;
///
/// let mut sampler = Sampler::new(600, 0);
/// assert_eq!(sampler.poll(0), Some(0));
/// assert_eq!(sampler.poll(599), None);
/// assert_eq!(sampler.poll(607), Some(600)); // late, but the next is due on time
/// assert_eq!(sampler.poll(1199), None);
/// assert_eq!(sampler.poll(9000), Some(9000)); // after a stall one sample, not fourteen
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampler {
    interval_s: u16,
    due_s: Option<u32>,
}

impl Sampler {
    /// A schedule of multiples of `interval_s`, from `now_s` on. An interval of 0 counts as 1.
    #[must_use]
    pub fn new(interval_s: u16, now_s: u32) -> Self {
        let interval_s = interval_s.max(1);
        Self { interval_s, due_s: now_s.checked_next_multiple_of(interval_s.into()) }
    }

    /// The time that a sample is due for, if one is due at `now_s`. Of several that were missed, only
    /// the last is due. A time before that of an earlier call finds nothing due.
    pub fn poll(&mut self, now_s: u32) -> Option<u32> {
        let due_s = self.due_s.filter(|due_s| *due_s <= now_s)?;
        let interval_s = u32::from(self.interval_s);
        let latest_s = now_s - now_s.checked_rem(interval_s)?;
        self.due_s = latest_s.checked_add(interval_s);
        Some(latest_s.max(due_s))
    }

    /// When the next sample is due; `None` when the seconds since boot no longer count that far.
    #[must_use]
    pub fn due_s(&self) -> Option<u32> {
        self.due_s
    }

    /// The interval in seconds.
    #[must_use]
    pub fn interval_s(&self) -> u16 {
        self.interval_s
    }

    /// Changes the interval; the next sample is due at the next multiple of it behind `now_s`.
    pub fn set_interval(&mut self, interval_s: u16, now_s: u32) {
        *self = match now_s.checked_add(1) {
            Some(next_s) => Self::new(interval_s, next_s),
            None => Self { interval_s: interval_s.max(1), due_s: None },
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_boot_off_the_grid_waits_for_it() {
        let mut sampler = Sampler::new(60, 7);
        assert_eq!(sampler.poll(59), None);
        assert_eq!(sampler.poll(60), Some(60));
    }

    #[test]
    fn a_new_interval_holds_from_the_next_multiple_on() {
        let mut sampler = Sampler::new(600, 0);
        assert_eq!(sampler.poll(600), Some(600));
        sampler.set_interval(60, 660);
        assert_eq!(sampler.poll(660), None, "the same second is not sampled twice");
        assert_eq!(sampler.poll(720), Some(720));
    }

    #[test]
    fn the_end_of_time_is_survived() {
        let mut sampler = Sampler::new(u16::MAX, u32::MAX - 1);
        assert_eq!(sampler.poll(u32::MAX), Some(u32::MAX), "2^32 - 1 is a multiple of 2^16 - 1");
        assert_eq!(sampler.poll(u32::MAX), None);
        sampler.set_interval(1, u32::MAX);
        assert_eq!(sampler.poll(u32::MAX), None);
        assert_eq!(Sampler::new(0, 5).interval_s(), 1);
    }

    proptest! {
        /// However irregularly it is polled: each due time is a multiple, none comes twice, each
        /// interval that was polled in has exactly one.
        #[test]
        fn the_grid_is_kept(interval_s in 1u16.., waits in prop::collection::vec(0u32..5000, 1..200)) {
            let mut sampler = Sampler::new(interval_s, 0);
            let (mut now_s, mut last) = (0, None);
            for wait_s in waits {
                now_s += wait_s;
                let expected = now_s / u32::from(interval_s) * u32::from(interval_s);
                let due = sampler.poll(now_s);
                if last == Some(expected) {
                    prop_assert_eq!(due, None);
                } else {
                    prop_assert_eq!(due, Some(expected));
                    last = due;
                }
            }
        }
    }
}
