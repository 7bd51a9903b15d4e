//! A small seeded source of chance, the same on every machine.
//!
//! SplitMix64 (Steele, Lea and Flood, 2014): one word of state, no tables, good enough for shaping
//! test traces. No global state: whoever needs chance is handed a generator.

use core::f64::consts::TAU;

/// A seeded generator.
#[derive(Clone, Debug)]
pub struct Rng {
    state: u64,
}

impl Rng {
    /// The generator of a seed; neighbouring seeds give unrelated runs.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self {
            state: seed ^ 0x5851_F42D_4C95_7F2D,
        }
    }

    /// The generator of a seed and a name, so that every case has its own run.
    #[must_use]
    pub fn named(seed: u64, name: &str) -> Self {
        let mut rng = Self::new(seed);
        for byte in name.bytes() {
            rng.state ^= u64::from(byte).wrapping_mul(0x0100_0000_01B3);
            rng.word();
            rng.state = rng.state.rotate_left(9);
        }
        rng
    }

    /// The next 64 random bits.
    pub fn word(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0..1.
    pub fn unit(&mut self) -> f64 {
        (self.word() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `lo..hi`.
    pub fn range(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * self.unit()
    }

    /// A whole number in `0..n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }

    /// True with probability `p`.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Standard normal (Box and Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        let u = 1.0 - self.unit();
        let v = self.unit();
        libm::sqrt(-2.0 * libm::log(u)) * libm::cos(TAU * v)
    }

    /// A whole number of mm in `lo..=hi`, small ones as likely as large ones by ratio.
    pub fn mm(&mut self, lo: f64, hi: f64) -> f64 {
        libm::round(lo * libm::exp(self.unit() * libm::log(hi / lo)))
    }

    /// Puts a slice into random order (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}
