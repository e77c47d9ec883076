//! Random bits: for the id of a logger, and for its key.

use rp2040_hal::rosc::{Enabled, RingOscillator};
use rp2040_hal::timer::Timer;
use sha2::{Digest as _, Sha256};

/// Draws that are mixed for one lot: the ring oscillator against the crystal. A single draw is neither
/// even nor independent of the one before, and the maker says that it is not for security (RP2040 data
/// sheet, section 2.17.5, from memory). 256 bits come of 16,384 draws and the times of them: if one in
/// 64 draws brings a bit that nobody can guess, that is enough for a key.
const DRAWS: u32 = 16_384;

/// The ring oscillator, running.
pub(crate) struct Lot {
    rosc: RingOscillator<Enabled>,
    timer: Timer,
}

impl Lot {
    /// Starts to draw.
    pub(crate) fn new(rosc: rp2040_hal::pac::ROSC, timer: Timer) -> Self {
        Self { rosc: RingOscillator::new(rosc).initialize(), timer }
    }

    /// 32 bytes, other ones each time; takes about 80 ms.
    pub(crate) fn draw(&self) -> [u8; 32] {
        let mut digest = Sha256::new();
        for _ in 0..DRAWS {
            let ticks = self.timer.get_counter_low().to_le_bytes();
            digest.update([u8::from(self.rosc.get_random_bit()), ticks[0], ticks[1]]);
        }
        digest.finalize().into()
    }
}
