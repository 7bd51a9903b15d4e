//! The hand's errors, block by block: how large they are, how like their neighbours, and what a hand
//! leaves of a sharp corner.
//!
//! The wander along an edge is an Ornstein–Uhlenbeck process (a random walk pulled back to the line).
//! Means over blocks of it are again normal, with variances and covariances in closed form; so a block
//! can be whitened by the one before it, and a path of thousands of stations costs no more than its
//! blocks. A corner that was rounded is a sharp one smoothed by a Gaussian of one width.
#![allow(
    clippy::indexing_slicing,
    reason = "running sums are one more than the stations; places are taken modulo their number"
)]

use crate::geom::{Point, Vec2};
use crate::trace::Stations;

/// How the hand errs, as far as the solve needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Standard deviation of the fast part across the path, mm.
    pub size: f64,
    /// Its correlation length along the path, mm.
    pub correlation: f64,
    /// The slow part, as far as it is known.
    pub slow: Slow,
    /// The length all built-in lengths are stated in (mm).
    pub unit: f64,
    /// Corners may be rounded by the hand.
    pub rounds_corners: bool,
}

/// A slow error: long waves beside the wander.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Slow {
    /// Standard deviation across the path, mm.
    pub size: f64,
    /// How far along the path it stays alike, mm.
    pub correlation: f64,
}

impl Default for Noise {
    fn default() -> Self {
        Self {
            size: 0.5,
            correlation: 5.0,
            slow: Slow::default(),
            unit: 1.0,
            rounds_corners: true,
        }
    }
}

impl Noise {
    /// Fast and slow part as one process of the fast one's kind, with the power of both at the longest waves:
    /// what a solve is whitened by, so that a drift is not taken for a bend.
    #[must_use]
    pub fn whole(&self) -> Self {
        let (fast, slow) = (self.size * self.size, self.slow.size * self.slow.size);
        // At frequency 0 the one has 2σ²ℓ, the other (Matérn 3/2) 4σ²ℓ.
        let power = fast * self.correlation + 2.0 * slow * self.slow.correlation;
        Self {
            size: (fast + slow).sqrt(),
            correlation: power / (fast + slow),
            slow: Slow::default(),
            ..*self
        }
    }

    /// The wander's own price of misfit, 2σ²·2ℓ: so many mm³ of squared distance along the path cost a nat.
    #[must_use]
    pub fn scale(&self) -> f64 {
        4.0 * self.size * self.size * self.correlation
    }
}

/// A block that the hand went over several times weighs as much as so many at most.
pub const MOST_PASSES: f64 = 3.0;

/// Residuals of one edge: block means in order, and the length of a block, mm.
#[derive(Clone, Debug, Default)]
pub struct EdgeResiduals {
    /// Mean distance of each block, mm, times the share of it that was traced.
    pub blocks: Vec<f64>,
    /// Length of a block, mm.
    pub length: f64,
    /// How many free numbers shape the edge: 2 of a line, 3 of an arc.
    pub freedoms: usize,
    /// What the means of long blocks hide, nats: scatter within them far beyond the wander's.
    pub hidden: f64,
    /// The first block after the place where the pen was set down, if that lies within the edge: errors do not
    /// run on over it.
    pub seam: Option<usize>,
}

/// Standardising factors of a block of `len` mm (first of an edge, later ones) and its correlation
/// with the block before it, for means of an Ornstein–Uhlenbeck process.
#[must_use]
pub fn block_noise(noise: &Noise, len: f64) -> (f64, f64, f64) {
    let u = len / noise.correlation;
    let decay = libm::exp(-u);
    let var = 2.0 * noise.size * noise.size * (u - 1.0 + decay) / (u * u);
    let cov = noise.size * noise.size * (1.0 - decay) * (1.0 - decay) / (u * u);
    let rho = cov / var;
    (
        1.0 / var.sqrt(),
        1.0 / (var * (1.0 - rho * rho)).sqrt(),
        rho,
    )
}

/// What a smoothed corner leaves along a stretch: mean offset, mm, with its first and second
/// derivative by the width of the smoothing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rounding {
    pub offset: f64,
    pub slope: f64,
    pub bend: f64,
}

/// The mean offset, between `near` and `far` mm from it along either side, of a corner that turns with
/// sine 1 and was smoothed by a Gaussian of width `c`.
///
/// At a distance `t` (in widths) the offset is `ψ(t) = φ(t) − t Q(t)`, whose integral from `t` on is
/// `½ ((1 + t²) Q(t) − t φ(t))`.
pub(super) fn rounded(near: f64, far: f64, c: f64) -> Rounding {
    let at = |t: f64| {
        let (density, beyond) = normal_tail(t);
        let here = density - t * beyond;
        let whole = 0.5 * ((1.0 + t * t) * beyond - t * density);
        // Integral of the offset, and its first and second derivative by the width.
        (
            c * c * whole,
            c * (2.0 * whole + t * here),
            2.0 * whole + t * (2.0 * here + t * beyond),
        )
    };
    let a = at(near / c);
    let b = if far < 6.0 * c {
        at(far / c)
    } else {
        (0.0, 0.0, 0.0)
    };
    let k = 1.0 / (far - near).max(1e-12);
    Rounding {
        offset: k * (a.0 - b.0),
        slope: k * (a.1 - b.1),
        bend: k * (a.2 - b.2),
    }
}

/// The normal density at `t ≥ 0` and the probability beyond it, the latter to 8e-8 (Abramowitz and Stegun,
/// 26.2.17).
fn normal_tail(t: f64) -> (f64, f64) {
    if t == 0.0 {
        return (FRAC_1_SQRT_2PI, 0.5);
    }
    const P: f64 = 0.231_641_9;
    const B: [f64; 5] = [
        0.319_381_530,
        -0.356_563_782,
        1.781_477_937,
        -1.821_255_978,
        1.330_274_429,
    ];
    let density = libm::exp(-0.5 * t * t) * FRAC_1_SQRT_2PI;
    let k = 1.0 / (1.0 + P * t);
    let sum = B.iter().rev().fold(0.0, |sum, b| (sum + b) * k);
    (density, density * sum)
}

/// 1 / √(2π).
const FRAC_1_SQRT_2PI: f64 = 0.398_942_280_401_432_7;

/// Running sums of the stations' weights and weighted places.
pub(super) struct Running {
    origin: Point,
    sums: Vec<(f64, Vec2)>,
}

impl Running {
    pub(super) fn new(stations: &Stations) -> Self {
        let origin = stations.points.first().copied().unwrap_or_default();
        let mut sums = Vec::with_capacity(2 * stations.len() + 1);
        let mut sum = (0.0, Vec2::default());
        sums.push(sum);
        // Twice round: a stretch may run past the last station to the first.
        for _ in 0..2 {
            for (p, w) in stations.points.iter().zip(&stations.weights) {
                let w = w.max(1e-9);
                sum = (sum.0 + w, sum.1 + (*p - origin) * w);
                sums.push(sum);
            }
        }
        Self { origin, sums }
    }

    /// Mean place and weight of stations `from..to`, which may run past the last to the first.
    #[inline]
    pub(super) fn mean(&self, from: usize, to: usize) -> (Point, f64) {
        let (a, b) = (self.sums[from], self.sums[to]);
        let weight = b.0 - a.0;
        (
            self.origin + (b.1 - a.1) * (1.0 / weight.max(1e-12)),
            weight,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_is_that_of_the_error_function() {
        for i in 0..60 {
            let t = 0.1 * f64::from(i);
            let exact = 0.5 * libm::erfc(t * core::f64::consts::FRAC_1_SQRT_2);
            assert!((normal_tail(t).1 - exact).abs() < 8e-8, "{t}");
        }
    }

    #[test]
    fn the_rounding_agrees_with_sums_and_differences() {
        let (near, far, c) = (0.7, 4.7, 1.3);
        let psi = |t: f64| {
            let (density, beyond) = normal_tail(t);
            c * (density - t * beyond)
        };
        let n = 10_000;
        let at = |i: i32| near + (far - near) * (f64::from(i) + 0.5) / f64::from(n);
        let mean = (0..n).map(|i| psi(at(i) / c)).sum::<f64>() / f64::from(n);
        let r = rounded(near, far, c);
        assert!((r.offset - mean).abs() < 1e-6, "{} {mean}", r.offset);
        let h = 1e-4;
        let (up, down) = (rounded(near, far, c + h), rounded(near, far, c - h));
        assert!((r.slope - (up.offset - down.offset) / (2.0 * h)).abs() < 1e-5);
        assert!((r.bend - (up.slope - down.slope) / (2.0 * h)).abs() < 1e-5);
    }
}
