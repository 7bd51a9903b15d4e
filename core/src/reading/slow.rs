//! How well a reading explains its path, for a hand whose slow error is unknown.
//!
//! **Problem.** The wander measured on short windows is the fast part of the hand's error. A hand
//! also drifts, and one that draws freely bows whole sides: a slow error besides, of unknown size. If
//! it is left out, every bow must become an edge; if it is taken from a reading's own residuals, a
//! wrong reading excuses itself.
//!
//! **Idea.** The slow error is a second process, long in correlation, whose size and length each
//! reading may choose, *and pays for*: along every edge the residuals are taken apart into cosine
//! modes, which nearly diagonalise a stationary process, and the evidence is
//!
//! ```text
//! ½ Σ [ c²/(S + T) + ln(1 + T/S) ] − ½ F/A Σ' ln(1 + T/S),
//! ```
//!
//! `S` the fast spectrum, `T` the slow one. The last sum, over the longest waves of each edge (two of
//! a line, three of an arc, `A` in all), is what the free numbers of the reading give back: the modes
//! they absorb are no residuals. Relations leave fewer of them free (`F`). A careful trace has no use for `T` and keeps its
//! fillets; a free drawing explains its bows by a few logarithms, cheaper than edges.
//!
//! **Fails** where a slow error runs on across a joint: the edges' modes are taken as independent.

use crate::relate::solve::{EdgeResiduals, Noise, block_noise};
use core::f64::consts::PI;

/// The evidence of a reading and the slow error it comes with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evidence {
    /// Nats, less the half nat a block that a true reading is expected to leave.
    pub misfit: f64,
    /// Slow error, mm.
    pub slow: f64,
    /// How far along it is correlated, mm.
    pub correlation: f64,
    /// Slow and fast together against fast alone, at the longest waves: a factor on variances.
    pub factor: f64,
}

/// Sizes of slow error tried, against the wander (and none).
const SIZES: [f64; 9] = [0.0, 0.7, 1.2, 2.0, 3.5, 6.0, 10.0, 18.0, 30.0];
/// Correlation lengths tried: against the wander's own, and against the drawing.
const LENGTHS: [f64; 2] = [1.5, 3.0];
const LENGTHS_OF_SIZE: [f64; 2] = [0.06, 0.15];

/// By how much the variance of lengths and directions exceeds what the wander measured on short
/// windows says, over hands of several forms (checked by the scoreboard's shares inside the ±).
const UNDERSTATED: f64 = 1.4;
/// Price of there being a slow error at all, nats: else chance alone would find a little of it in
/// most careful traces.
const SLOW_PRICE: f64 = 3.0;

/// Evidence of a reading with `freedoms` free numbers; `size` is the drawing's diagonal, mm.
#[must_use]
pub fn evidence(edges: &[EdgeResiduals], noise: &Noise, freedoms: f64, size: f64) -> Evidence {
    let modes: Vec<Mode> = edges.iter().flat_map(|e| modes(e, noise)).collect();
    let absorbed = modes.iter().filter(|m| m.absorbed).count() as f64;
    let share = (freedoms / absorbed.max(1.0)).clamp(0.0, 1.0);
    let lengths = LENGTHS.map(|l| l * noise.correlation).into_iter();
    let lengths = lengths.chain(LENGTHS_OF_SIZE.map(|l| l * size));
    let mut best = Evidence {
        misfit: f64::INFINITY,
        slow: 0.0,
        correlation: 0.0,
        factor: UNDERSTATED,
    };
    for correlation in lengths {
        // No slow error is the same whatever its correlation would be: tried once.
        let parts = if best.misfit.is_finite() {
            &SIZES[1..]
        } else {
            &SIZES[..]
        };
        for part in parts {
            let slow = part * noise.size;
            let (misfit, factor) = at(&modes, share, slow, correlation);
            let misfit = if slow > 0.0 {
                misfit + SLOW_PRICE
            } else {
                misfit
            };
            if misfit < best.misfit {
                best = Evidence {
                    misfit,
                    slow,
                    correlation,
                    factor,
                };
            }
        }
    }
    best
}

/// One cosine mode of one edge.
struct Mode {
    square: f64,
    fast: f64,
    omega: f64,
    block: f64,
    /// One of the longest waves, which the edge's own free numbers take up.
    absorbed: bool,
}

/// Squared cosine coefficients (DCT-II, orthonormal) with the fast spectrum at each.
fn modes(edge: &EdgeResiduals, noise: &Noise) -> Vec<Mode> {
    let m = edge.blocks.len();
    if m == 0 {
        return Vec::new();
    }
    let (first, _, rho) = block_noise(noise, edge.length);
    let variance = 1.0 / (first * first);
    (0..m)
        .map(|k| {
            let omega = PI * k as f64 / m as f64;
            // cos(ω(i + ½)) by its recurrence: exact enough over the few hundred blocks of an edge.
            let twice = 2.0 * libm::cos(omega);
            let mut now = libm::cos(0.5 * omega);
            let mut last = now;
            let mut sum = 0.0;
            for r in &edge.blocks {
                sum += r * now;
                (last, now) = (now, twice * now - last);
            }
            let norm = if k == 0 { 1.0 } else { 2.0 } / m as f64;
            let fast = variance * (1.0 - rho * rho) / (1.0 - rho * twice + rho * rho);
            Mode {
                square: sum * sum * norm,
                fast,
                omega,
                block: edge.length,
                absorbed: k < edge.freedoms,
            }
        })
        .collect()
}

/// Evidence at one slow error, and the factor on variances that comes with it.
fn at(modes: &[Mode], share: f64, slow: f64, correlation: f64) -> (f64, f64) {
    let ratio = |m: &Mode| {
        let a = correlation / m.block;
        let q = 1.0 + a * a * m.omega * m.omega;
        4.0 * a * slow * slow / (q * q) / m.fast
    };
    let (mut sum, mut count) = (0.0, 0.0_f64);
    let (mut logs, mut absorbed) = (LogSum::default(), LogSum::default());
    for m in modes {
        let r = ratio(m);
        sum += 0.5 * (m.square / (m.fast * (1.0 + r))) - 0.5;
        logs.add(1.0 + r);
        if m.absorbed {
            absorbed.add(1.0 + r);
            count += 1.0;
        }
    }
    sum += 0.5 * logs.total();
    let absorbed = absorbed.total();
    (
        sum - 0.5 * share * absorbed,
        UNDERSTATED * libm::exp(absorbed / count.max(1.0)),
    )
}

/// A sum of logarithms, kept as a product so that one logarithm serves many factors (all ≥ 1).
struct LogSum {
    product: f64,
    sum: f64,
}

impl Default for LogSum {
    fn default() -> Self {
        Self {
            product: 1.0,
            sum: 0.0,
        }
    }
}

impl LogSum {
    fn add(&mut self, factor: f64) {
        self.product *= factor;
        if self.product > 1e200 {
            self.sum += libm::log(self.product);
            self.product = 1.0;
        }
    }

    fn total(&self) -> f64 {
        self.sum + libm::log(self.product)
    }
}
