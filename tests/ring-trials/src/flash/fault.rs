//! How a flash fails, and what that leaves behind.

/// One thing that the power can fail in the middle of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Programming one write unit.
    Program,
    /// Erasing one sector.
    Erase,
}

/// What the step is left like in which the power fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// As before.
    Nothing,
    /// Complete.
    Done,
    /// The first bytes of the unit or sector are done.
    First(usize),
    /// The last bytes of the unit or sector are done: after an erase, a header may survive.
    Last(usize),
    /// Of the bits that change, a random part has.
    Bits {
        /// Chooses which.
        seed: u64,
        /// Out of 256, how many have.
        share: u8,
    },
    /// Anything: bits that should not change may have, too.
    Noise {
        /// Chooses what.
        seed: u64,
    },
    /// The first bytes are zeros, as chips make them before they erase.
    Zeros(usize),
}

/// When to fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// How many steps still succeed.
    pub after: u64,
    /// What becomes of the step after them.
    pub outcome: Outcome,
    /// How it fails.
    pub failure: Failure,
}

/// How a step fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failure {
    /// The power is gone: nothing works until [`SimFlash::power_on`](super::SimFlash::power_on).
    Power,
    /// This step reports a failure; the next works again.
    Reported,
    /// This step reports success all the same; the next works again.
    Silent,
}

/// Whether the outcome of a cut is left out: given the sector, the offset in it where the write began,
/// and what was to be written. Then the step counts as not begun, or as done if it had not begun.
///
/// Torn and random bytes pass any check now and then; a campaign leaves those out that it can name.
pub type Veto = fn(sector: &[u8], offset: usize, written: &[u8]) -> bool;
