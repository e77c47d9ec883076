//! Draws the id of a logger by lot.

use rp2040_hal::pac::ROSC;
use rp2040_hal::rosc::RingOscillator;
use rp2040_hal::timer::Timer;
use sha2::{Digest as _, Sha256};

/// Draws that are mixed: the ring oscillator against the crystal. A single draw is neither even nor
/// independent of the one before (RP2040 data sheet, section 2.17.5, from memory); a logger's id has
/// to be unlikely to come twice, not secret.
const DRAWS: u32 = 4096;

/// Eight bytes by lot; takes about 20 ms.
pub(crate) fn draw(rosc: ROSC, timer: Timer) -> [u8; 8] {
    let rosc = RingOscillator::new(rosc).initialize();
    let mut digest = Sha256::new();
    for _ in 0..DRAWS {
        let ticks = timer.get_counter_low().to_le_bytes();
        digest.update([u8::from(rosc.get_random_bit()), ticks[0], ticks[1]]);
    }
    let mut id = [0; 8];
    for (to, from) in id.iter_mut().zip(digest.finalize()) {
        *to = from;
    }
    id
}
