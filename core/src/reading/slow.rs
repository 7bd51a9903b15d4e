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

use crate::relate::blocks::{EdgeResiduals, Noise, block_noise};
use crate::relate::normal::LogProduct;
use crate::relate::round::Round;
use crate::relate::solve::Solved;
use core::f64::consts::PI;

/// The evidence of a reading and the slow error it comes with.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Nats, less the half nat a block that a true reading is expected to leave.
    pub misfit: f64,
    /// Slow error, mm.
    pub slow: f64,
    /// How far along it is correlated, mm.
    pub correlation: f64,
    /// Slow and fast together against fast alone, at the longest waves: a factor on variances.
    pub factor: f64,
    /// The part of the misfit that the worst edge leaves, nats.
    pub worst: f64,
    /// The most that any edge leaves of the longest wave its own free numbers do not take up (of a line the bow):
    /// its square against what is expected of it.
    pub bow: f64,
}

/// Sizes of slow error tried, against the wander (besides none): the first, and those to either side.
const FIRST: f64 = 1.2;
const LARGER: [f64; 6] = [2.0, 3.5, 6.0, 10.0, 18.0, 30.0];
const SMALLER: [f64; 1] = [0.7];
/// Correlation lengths tried: against the wander's own, and against the drawing.
const LENGTHS: [f64; 2] = [1.5, 3.0];
const LENGTHS_OF_SIZE: [f64; 2] = [0.06, 0.15];

/// By how much the variance of lengths and directions exceeds what the wander measured on short
/// windows says, over hands of several forms (checked by the scoreboard's shares inside the ±).
const UNDERSTATED: f64 = 1.4;
/// Price of there being a slow error at all, nats: else chance alone would find a little of it in
/// most careful traces.
const SLOW_PRICE: f64 = 3.0;

/// Evidence of a solved chain; `size` is the drawing's diagonal, mm.
#[must_use]
pub fn of_chain(s: &Solved, noise: &Noise, size: f64) -> Evidence {
    let left = s.normal.freedoms().saturating_sub(1) as f64;
    evidence(&s.residuals, noise, left, size)
}

/// Evidence of a whole circle.
#[must_use]
pub fn of_circle(c: &Round, noise: &Noise, size: f64) -> Evidence {
    evidence(core::slice::from_ref(&c.residuals), noise, 3.0, size)
}

/// Evidence of a reading with `freedoms` free numbers; `size` is the drawing's diagonal, mm.
#[must_use]
fn evidence(edges: &[EdgeResiduals], noise: &Noise, freedoms: f64, size: f64) -> Evidence {
    let modes: Vec<Mode> = edges.iter().flat_map(|e| modes(e, noise)).collect();
    let absorbed = modes.iter().filter(|m| m.absorbed).count() as f64;
    let share = (freedoms / absorbed.max(1.0)).clamp(0.0, 1.0);
    let (misfit, factor) = at(&modes, &vec![0.0; modes.len()], share, 0.0);
    let mut best = Evidence {
        misfit,
        factor,
        ..Evidence::default()
    };
    let lengths = LENGTHS.map(|l| l * noise.correlation).into_iter();
    for correlation in lengths.chain(LENGTHS_OF_SIZE.map(|l| l * size)) {
        let shape: Vec<f64> = modes.iter().map(|m| m.shape(correlation)).collect();
        let (part, (misfit, factor)) = least(|part| {
            let (misfit, factor) = at(&modes, &shape, share, part * noise.size);
            (misfit + SLOW_PRICE, factor)
        });
        if misfit < best.misfit {
            best = Evidence {
                misfit,
                slow: part * noise.size,
                correlation,
                factor,
                ..Evidence::default()
            };
        }
    }
    let mut rest = modes.iter();
    for edge in edges {
        let own: Vec<&Mode> = rest.by_ref().take(edge.blocks.len()).collect();
        let square =
            |m: &&Mode| m.square / (1.0 + m.shape(best.correlation) * best.slow * best.slow);
        let worst = 0.5 * own.iter().map(|m| square(m) - 1.0).sum::<f64>();
        let bow = own.iter().find(|m| !m.absorbed).map_or(0.0, square);
        best.worst = best.worst.max(worst + edge.hidden);
        best.bow = best.bow.max(bow);
    }
    // No slow error excuses what goes to and fro within a block.
    best.misfit += edges.iter().map(|e| e.hidden).sum::<f64>();
    best
}

/// The size at which a function with one valley is least, its value there, and what else it says
/// there: downhill among the larger sizes, or where they only rise among the smaller.
fn least(f: impl Fn(f64) -> (f64, f64)) -> (f64, (f64, f64)) {
    let first = (FIRST, f(FIRST));
    let downhill = |ladder: &[f64]| {
        let mut best = first;
        for &next in ladder {
            let value = f(next);
            if value.0 >= best.1.0 {
                break;
            }
            best = (next, value);
        }
        best
    };
    let larger = downhill(&LARGER);
    if larger.0 > FIRST {
        larger
    } else {
        downhill(&SMALLER)
    }
}

/// One cosine mode of one edge.
struct Mode {
    /// Squared coefficient against the fast spectrum.
    square: f64,
    fast: f64,
    omega: f64,
    block: f64,
    /// One of the longest waves, which the edge's own free numbers take up.
    absorbed: bool,
}

impl Mode {
    /// The spectrum of a slow error of size 1 against the fast one.
    fn shape(&self, correlation: f64) -> f64 {
        let a = correlation / self.block;
        let q = 1.0 + a * a * self.omega * self.omega;
        4.0 * a / (q * q * self.fast)
    }
}

/// Squared cosine coefficients (DCT-II, orthonormal) with the fast spectrum at each.
fn modes(edge: &EdgeResiduals, noise: &Noise) -> Vec<Mode> {
    let m = edge.blocks.len();
    if m == 0 {
        return Vec::new();
    }
    let (first, _, rho) = block_noise(noise, edge.length);
    let variance = 1.0 / (first * first);
    // Waves are even or odd about the middle of the edge: half the blocks say all.
    let half = m / 2;
    let ends = edge.blocks.iter().zip(edge.blocks.iter().rev()).take(half);
    let (even, odd): (Vec<f64>, Vec<f64>) = ends.map(|(a, b)| (a + b, a - b)).unzip();
    let middle = edge.blocks.get(half).filter(|_| m % 2 == 1);
    (0..m)
        .map(|k| {
            let omega = PI * k as f64 / m as f64;
            // cos(ω(i + ½)) by its recurrence: exact enough over the blocks of an edge.
            let twice = 2.0 * libm::cos(omega);
            let mut now = libm::cos(0.5 * omega);
            let mut last = now;
            let mut sum = 0.0;
            for r in if k % 2 == 0 { &even } else { &odd } {
                sum += r * now;
                (last, now) = (now, twice * now - last);
            }
            if k % 2 == 0 {
                // The middle block, if there is one, stands where the wave is at its full height.
                let sign = if k % 4 == 0 { 1.0 } else { -1.0 };
                sum += middle.map_or(0.0, |r| sign * r);
            }
            let norm = if k == 0 { 1.0 } else { 2.0 } / m as f64;
            let fast = variance * (1.0 - rho * rho) / (1.0 - rho * twice + rho * rho);
            Mode {
                square: sum * sum * norm / fast,
                fast,
                omega,
                block: edge.length,
                absorbed: k < edge.freedoms,
            }
        })
        .collect()
}

/// Evidence at one slow error, and the factor on variances that comes with it. `shape` is
/// [`Mode::shape`] of each mode.
fn at(modes: &[Mode], shape: &[f64], share: f64, slow: f64) -> (f64, f64) {
    let (mut sum, mut count) = (0.0, 0.0_f64);
    let (mut logs, mut absorbed) = (LogProduct::default(), LogProduct::default());
    for (m, s) in modes.iter().zip(shape) {
        let both = 1.0 + s * slow * slow;
        sum += m.square / both - 1.0;
        logs.times(both);
        if m.absorbed {
            absorbed.times(both);
            count += 1.0;
        }
    }
    let absorbed = absorbed.total();
    (
        0.5 * (sum + logs.total() - share * absorbed),
        UNDERSTATED * libm::exp(absorbed / count.max(1.0)),
    )
}
