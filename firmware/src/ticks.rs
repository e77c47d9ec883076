//! Time from a 16-bit counter of a watch crystal, for boards that rest with all other clocks off.
//!
//! The counter runs at 1024 Hz and is never stopped or set: what one rest loses the next cannot make
//! good. It goes round every 64 s, so it has to be looked at more often than that.

/// Counts a second.
pub const HZ: u32 = 1024;

/// The longest time from now to an alarm: half a turn, so that the past and the future stay apart.
const AHEAD_MAX: u64 = 0x8000;
/// An alarm nearer than this may be passed before the counter has taken it.
const AHEAD_MIN: u64 = 4;

/// The counter's turns, added up.
///
/// ```
/// use glueday_firmware::ticks::Ticks;
///
/// let mut ticks = Ticks::new(65_000); // wherever the counter stands
/// assert_eq!(ticks.now_ms(65_512), 500);
/// assert_eq!(ticks.now_ms(488), 1000); // it went round
/// assert_eq!(ticks.alarm(1250), Some(744)); // where it will stand a quarter of a second later
/// assert_eq!(ticks.alarm(1001), None); // too near to be worth a rest
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ticks {
    total: u64,
    counter: u16,
}

impl Ticks {
    /// Time begins with the counter at `counter`.
    #[must_use]
    pub fn new(counter: u16) -> Self {
        Self { total: 0, counter }
    }

    /// Milliseconds since time began, with the counter at `counter` now.
    pub fn now_ms(&mut self, counter: u16) -> u64 {
        self.total += u64::from(counter.wrapping_sub(self.counter));
        self.counter = counter;
        // A thousandth is 128 / 125 of a tick.
        self.total * 125 / 128
    }

    /// Where the counter stands at `until_ms`, or after half a turn if that is sooner. Counted from
    /// the latest look at it; `None` if that is too near.
    #[must_use]
    pub fn alarm(&self, until_ms: u64) -> Option<u16> {
        let until = until_ms.saturating_mul(128).div_ceil(125);
        let ahead = until.saturating_sub(self.total).min(AHEAD_MAX);
        let ahead = u16::try_from(ahead).ok().filter(|_| ahead >= AHEAD_MIN)?;
        Some(self.counter.wrapping_add(ahead))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_weeks_of_rests_do_not_drift() {
        // Looks at odd times, as the samples, the LED and the line make them.
        let mut ticks = Ticks::new(17);
        let (mut total, mut now_ms) = (0_u64, 0);
        let end = 8 * 7 * 86_400 * u64::from(HZ);
        let mut step = 1_u64;
        while total < end {
            step = (step * 29_791 + 7) % 65_535 + 1;
            total = (total + step).min(end);
            let counter = u16::try_from((total + 17) % 0x1_0000).unwrap();
            let before_ms = now_ms;
            now_ms = ticks.now_ms(counter);
            assert!(now_ms >= before_ms);
        }
        assert_eq!(now_ms, 8 * 7 * 86_400_000);
    }

    #[test]
    fn an_alarm_is_never_early_and_never_a_tick_late() {
        let mut ticks = Ticks::new(60_000);
        let counter = 60_000_u16.wrapping_add(10_240);
        let now_ms = ticks.now_ms(counter);
        assert_eq!(now_ms, 10_000);
        for in_ms in 4..32_000 {
            let alarm = ticks.alarm(now_ms + in_ms).unwrap();
            assert!(ticks.clone().now_ms(alarm) >= now_ms + in_ms, "early");
            assert!(ticks.clone().now_ms(alarm.wrapping_sub(1)) < now_ms + in_ms, "late");
        }
        for near_ms in [0, 5_000, now_ms, now_ms + 1, now_ms + 2] {
            assert_eq!(ticks.alarm(near_ms), None, "{near_ms}");
        }
        for far_ms in [now_ms + 32_000, now_ms + 1_000_000, u64::MAX] {
            assert_eq!(ticks.alarm(far_ms), Some(counter.wrapping_add(0x8000)), "half a turn");
        }
    }
}
