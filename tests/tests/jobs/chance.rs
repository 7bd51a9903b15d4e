//! Repeatable chance: the same draws on every machine (SplitMix64 by Steele, Lea and Flood, 2014).

/// A stream of draws.
pub struct Chance(u64);

impl Chance {
    /// A stream of its own for every seed.
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5851_F42D_4C95_7F2D)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in `low..high`.
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.bits() >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// A whole number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n as u64) as usize
    }

    /// Normal with this standard deviation (Box and Muller 1958).
    pub fn normal(&mut self, deviation: f64) -> f64 {
        let u = 1.0 - self.within(0.0, 1.0);
        let angle = self.within(0.0, core::f64::consts::TAU);
        deviation * (-2.0 * libm::log(u)).sqrt() * libm::cos(angle)
    }

    /// Puts a list into random order.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for i in (1..list.len()).rev() {
            list.swap(i, self.below(i + 1));
        }
    }
}
