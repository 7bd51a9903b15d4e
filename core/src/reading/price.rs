//! The price of a reading: what its measures cost together.
//!
//! The evidence counts as it is, in nats: misfit in full, whatever the shape, so that no outline the stations
//! speak against is ever cheap. What kind of outline it is adds what the logarithm of its frequency would,
//! if that were known: a weighted sum of the other measures, and what some of them say only together (a short edge
//! beside two tangents is a rounded corner, and a slip elsewhere), as a few smooth steps. Those are bounded,
//! so what lies far from all that was fitted on is priced by evidence and the sums alone.
//!
//! **Source.** Fitted so that the cheapest reading is the right one most often (a conditional logit, McFadden
//! 1974), on outlines and hands made at random and judged on kinds left out of the fit: `tests/outside/prices.py`.
//! Either [`Instrument`] has its own row, for what is drawn from memory is simpler than what is traced.
#![allow(
    clippy::indexing_slicing,
    reason = "either instrument has its row, each measure its place in it"
)]

use super::evidence::Instrument;
use super::measures::{Measure, Measures};

/// Measures that are evidence, in nats, and count as they are.
const EVIDENCE: [(Measure, f64); 6] = [
    (Measure::Misfit, 1.0),
    (Measure::Occam, 1.0),
    (Measure::Room, 1.0),
    (Measure::Gain, -1.0),
    (Measure::Seldom, 1.0),
    (Measure::CornersMissed, 1.0),
];

/// Measures that say what kind of outline it is.
pub const STRUCTURE: usize = Measure::COUNT - EVIDENCE.len();

/// What the measures of one instrument's readings cost.
struct Prices {
    /// Nats for one of each measure.
    each: [f64; STRUCTURE],
    /// What each is divided by before the steps look at it.
    scale: [f64; STRUCTURE],
    /// What they cost together besides.
    steps: &'static [Step],
}

/// A part of the price that measures have together: `height · tanh(offset + Σ weight · measure / scale)`, nats.
struct Step {
    height: f64,
    offset: f64,
    weights: [f64; STRUCTURE],
}

#[allow(
    clippy::approx_constant,
    clippy::unreadable_literal,
    reason = "fitted numbers may lie near anything"
)]
const PRICES: [Prices; 2] = include!("price_weights.in");

/// Evidence alone, nats.
#[must_use]
pub fn evidence(m: &Measures) -> f64 {
    EVIDENCE.iter().map(|(i, k)| k * m[*i]).sum()
}

/// The price of a reading, nats; differences count.
#[must_use]
pub fn of(m: &Measures, instrument: Instrument) -> f64 {
    let prices = &PRICES[instrument as usize];
    let kind = &m.all()[EVIDENCE.len()..];
    let alone: f64 = prices.each.iter().zip(kind).map(|(p, v)| p * v).sum();
    let scaled = || kind.iter().zip(&prices.scale).map(|(v, s)| v / s);
    let step = |s: &Step| {
        let sum: f64 = s.weights.iter().zip(scaled()).map(|(w, v)| w * v).sum();
        s.height * libm::tanh(s.offset + sum)
    };
    evidence(m) + alone + prices.steps.iter().map(step).sum::<f64>()
}
