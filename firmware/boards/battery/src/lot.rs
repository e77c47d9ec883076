//! Random bits of the chip's generator, for the key.

use embassy_stm32::pac::{RCC, RNG, rcc};
use glueday_types::digest;

/// Words that are mixed into 32 bytes. Each is specified to be random already (reference manual of the
/// family, chapter on the generator, from memory).
const WORDS: usize = 32;
/// A word takes some 40 periods of 48 MHz, the oscillator some 6 µs to start.
const LOOKS_MAX: u32 = 20_000;

/// 32 bytes; `None` when the generator does not run, or says that its bits are not random.
///
/// Its oscillator runs for this only: it takes 0.3 mA.
pub(crate) fn draw() -> Option<[u8; 32]> {
    RCC.crrcr().modify(|w| w.set_hsi48on(true));
    RCC.ccipr().modify(|w| w.set_clk48sel(rcc::vals::Clk48sel::HSI48));
    RCC.ahb2enr().modify(|w| w.set_rngen(true));
    let words = wait(|| RCC.crrcr().read().hsi48rdy()).and_then(|()| {
        RNG.cr().modify(|w| w.set_rngen(true));
        words()
    });
    RNG.cr().modify(|w| w.set_rngen(false));
    RCC.ahb2enr().modify(|w| w.set_rngen(false));
    RCC.crrcr().modify(|w| w.set_hsi48on(false));
    words.map(|words| digest(words.as_flattened()))
}

fn words() -> Option<[[u8; 4]; WORDS]> {
    let mut words = [[0; 4]; WORDS];
    // The first is not used, as the manual asks, but for a look whether the next is another.
    let mut before = word()?;
    for place in &mut words {
        let word = word()?;
        if word == before {
            return None;
        }
        before = word;
        *place = word.to_le_bytes();
    }
    Some(words)
}

/// The next word, which must not be zero: that is what the register holds when there is none.
fn word() -> Option<u32> {
    wait(|| RNG.sr().read().drdy())?;
    let state = RNG.sr().read();
    if state.seis() || state.ceis() || state.secs() || state.cecs() {
        return None;
    }
    Some(RNG.dr().read()).filter(|word| *word != 0)
}

/// Waits until something is so, not for ever.
fn wait(is_so: impl Fn() -> bool) -> Option<()> {
    (0..LOOKS_MAX).any(|_| is_so()).then_some(())
}
