//! Random numbers that are the same each time.

/// SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators").
#[derive(Clone, Copy, Debug)]
pub struct Random(pub u64);

impl Random {
    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A random byte.
    pub fn byte(&mut self) -> u8 {
        self.bits().to_le_bytes()[7]
    }

    /// A number from 0 up to, but not including, `end`; 0 when that is 0.
    pub fn below(&mut self, end: u64) -> u64 {
        // The bias is below 2^-32 for the small ends that tests ask for.
        self.bits().checked_rem(end).unwrap_or(0)
    }

    /// Uniform in (0, 1).
    pub fn uniform(&mut self) -> f64 {
        (f64::from((self.bits() >> 32) as u32) + 0.5) / 4_294_967_296.0
    }

    /// Standard normal (Box and Muller 1958).
    pub fn gaussian(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
