//! What the one LED says, to somebody who walks past the slab.
//!
//! | LED | meaning | what to do |
//! |---|---|---|
//! | one short flash every 5 s | logging, clock synced | nothing |
//! | two short flashes every 5 s | logging, but the clock was not synced since the last start: nothing of it can be dated yet | sync it before the logger is switched off |
//! | slow blink, 1 s on, 1 s off | supply low | change the battery or the supply |
//! | three flashes every 2 s | a probe has no readings | check plug and cable, ask the logger which |
//! | fast blink, five a second | nothing is being logged: the flash fails | pull the log, replace the logger |
//!
//! With several at once, the one further down shows.

/// What the LED shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// All is well.
    Logging,
    /// Logging, but the clock was not synced in this boot.
    NeverSynced,
    /// The supply voltage is under its warning level.
    PowerLow,
    /// A probe that is expected has no readings.
    ProbeFault,
    /// The last entry could not be written.
    LogFailed,
}

impl State {
    /// Milliseconds after which the LED does the same again.
    #[must_use]
    pub fn period_ms(self) -> u32 {
        match self {
            Self::Logging | Self::NeverSynced => 5000,
            Self::PowerLow | Self::ProbeFault => 2000,
            Self::LogFailed => 200,
        }
    }

    /// Where in its period the LED is at `now_ms`, for [`State::is_lit`] and [`State::next_change_ms`].
    #[must_use]
    pub fn phase_ms(self, now_ms: u64) -> u32 {
        // Less than a period, which is a u32.
        u32::try_from(now_ms % u64::from(self.period_ms())).unwrap_or(0)
    }

    /// Whether the LED is lit `at_ms` milliseconds after any fixed moment.
    #[must_use]
    pub fn is_lit(self, at_ms: u32) -> bool {
        match self {
            Self::Logging => flashes(1, at_ms % 5000),
            Self::NeverSynced => flashes(2, at_ms % 5000),
            Self::PowerLow => at_ms % 2000 < 1000,
            Self::ProbeFault => flashes(3, at_ms % 2000),
            Self::LogFailed => at_ms % 200 < 100,
        }
    }

    /// Milliseconds from `at_ms` until the LED has to be looked at again: never zero, and never
    /// beyond the next change.
    #[must_use]
    pub fn next_change_ms(self, at_ms: u32) -> u32 {
        let flashing = |count: u32| {
            let in_period_ms = at_ms % self.period_ms();
            let in_flash_ms = in_period_ms % FLASH_EVERY_MS;
            let flash = in_period_ms / FLASH_EVERY_MS;
            if flash < count && in_flash_ms < FLASH_MS {
                FLASH_MS - in_flash_ms
            } else if flash + 1 < count {
                FLASH_EVERY_MS - in_flash_ms
            } else {
                self.period_ms() - in_period_ms
            }
        };
        match self {
            Self::Logging => flashing(1),
            Self::NeverSynced => flashing(2),
            Self::PowerLow => 1000 - at_ms % 1000,
            Self::ProbeFault => flashing(3),
            Self::LogFailed => 100 - at_ms % 100,
        }
    }
}

/// How long a short flash is. It can be seen well, and on a battery the LED must not be what uses it.
const FLASH_MS: u32 = 20;
/// Time from one short flash to the next of the same group.
const FLASH_EVERY_MS: u32 = 250;

/// Whether `at_ms` is within one of `count` short flashes.
fn flashes(count: u32, at_ms: u32) -> bool {
    at_ms / FLASH_EVERY_MS < count && at_ms % FLASH_EVERY_MS < FLASH_MS
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    const STATES: [State; 5] =
        [State::Logging, State::NeverSynced, State::PowerLow, State::ProbeFault, State::LogFailed];

    /// How often the LED goes on in 10 s, and for how many milliseconds it is lit in all.
    fn seen(state: State) -> (usize, usize) {
        let lit: Vec<bool> = (0..10_000).map(|at_ms| state.is_lit(at_ms)).collect();
        let rises = (0..lit.len()).filter(|&i| lit[i] && (i == 0 || !lit[i - 1])).count();
        (rises, lit.iter().filter(|lit| **lit).count())
    }

    #[test]
    fn patterns_are_as_documented() {
        assert_eq!(
            STATES.map(seen),
            [(2, 40), (4, 80), (5, 5000), (15, 300), (50, 5000)],
            "flashes in 10 s and milliseconds lit"
        );
    }

    #[test]
    fn whoever_looks_only_when_told_to_misses_no_change() {
        for state in STATES {
            let mut at_ms = 0;
            while at_ms < 20_000 {
                let next_ms = at_ms + state.next_change_ms(at_ms);
                assert!(next_ms > at_ms);
                let lit = state.is_lit(at_ms);
                assert!((at_ms..next_ms).all(|ms| state.is_lit(ms) == lit), "{state:?} {at_ms}");
                at_ms = next_ms;
            }
            let wakes = {
                let (mut at_ms, mut wakes) = (0, 0);
                while at_ms < 10_000 {
                    at_ms += state.next_change_ms(at_ms);
                    wakes += 1;
                }
                wakes
            };
            assert_eq!(wakes, 2 * seen(state).0, "{state:?}: looks in 10 s");
            assert_eq!(state.phase_ms(u64::from(u32::MAX) * 10_000 + 17), 17);
        }
    }
}
