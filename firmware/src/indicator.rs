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
}

/// Whether `at_ms` is within one of `count` flashes of 50 ms that begin 250 ms apart.
fn flashes(count: u32, at_ms: u32) -> bool {
    at_ms / 250 < count && at_ms % 250 < 50
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
            [(2, 100), (4, 200), (5, 5000), (15, 750), (50, 5000)],
            "flashes in 10 s and milliseconds lit"
        );
    }
}
