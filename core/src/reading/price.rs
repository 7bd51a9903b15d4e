//! The price of a reading: what is measured of it, and what each measure costs.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is priced; features have a fixed number"
)]

use super::slow::{self, Evidence};
use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::relate::blocks::Noise;
use crate::relate::constraint::{Condition, constraints};
use crate::relate::figure::Figure;
use crate::relate::find::Found;
use crate::relate::mirror::mirrored;
use crate::relate::quantity::Quantity;
use crate::relate::round::Round;
use crate::relate::solve::Solved;
use crate::report::RelationKind;
use core::f64::consts::PI;

/// Number of measures.
pub const MEASURES: usize = 33;
/// Their names, in order.
pub const NAMES: [&str; MEASURES] = [
    "misfit",
    "soft",
    "log_rms",
    "occam",
    "prior",
    "gain",
    "relation_price",
    "lines",
    "arcs",
    "blunt",
    "flat",
    "short_mm",
    "short_rel",
    "big_radius",
    "corner_off",
    "same_circle",
    "circle",
    "kink_arc",
    "corner_width",
    "open",
    "tangents",
    "right_angles",
    "slow",
    "sharp_arc",
    "fillets",
    "further_fillets",
    "softer",
    "odd_angles",
    "equals",
    "angular",
    "worst",
    "bow",
    "mirrored",
];

/// Everything the price is made of.
pub type Measures = [f64; MEASURES];

/// Kinds of hand with prices of their own.
const HANDS: usize = 3;

/// What the prices are: of each measure for each kind of hand, nats, and how the kind is told from
/// what all readings of a trace say together (see [`Context`]).
///
/// Fitted so that the cheapest reading is the right one most often, on recorded free drawings and
/// generated traces together: a conditional logit, then its expected error (`tests/outside/prices.py`).
/// Measures that gain are negative. The kinds have no names: the fit found that a careful trace, a
/// free drawing and what lies between ask for different prices, and which it is shows in the trace.
///
/// What measures cost is not all: some are cheap only together (a short edge beside two tangents is a
/// fillet, and a slip elsewhere). What they say together is added by a few smooth steps, each a weighted sum of
/// measures and context put through a hyperbolic tangent; they are bounded, so that what lies far from all
/// that was fitted on is priced by the sums above.
struct Prices {
    of_measures: [Measures; HANDS],
    of_context: [[f64; CONTEXT]; HANDS],
    steps: [Step; STEPS],
}

/// A part of the price that measures have together: `height · tanh(offset + Σ weight · number)`, nats.
struct Step {
    height: f32,
    offset: f32,
    weights: [f32; MEASURES + CONTEXT - 1],
}

/// How many there are.
const STEPS: usize = 12;

#[allow(
    clippy::approx_constant,
    reason = "fitted numbers may lie near anything"
)]
const PRICES: Prices = include!("price_weights.in");

/// Numbers that tell the hand: see [`Context::of`].
const CONTEXT: usize = 4;

/// What all readings of a trace say together of the hand that left it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Context {
    /// How much of each kind of hand it was, summing to 1.
    hands: [f64; HANDS],
    /// The least misfit of any reading, nats: what is left is noise that no reading explains.
    least_misfit: f64,
    /// What tells the hand; the last is 1.
    told: [f64; CONTEXT],
}

impl Context {
    /// The context of some readings' measures.
    ///
    /// The hand is told by what even the best reading leaves: its misfit (a careful trace has a
    /// reading that leaves none), the slow error it needs, and its distance against the drawing.
    #[must_use]
    pub fn of<'a>(readings: impl Iterator<Item = &'a Measures> + Clone) -> Self {
        let least = |i: usize| readings.clone().map(|m| m[i]).fold(f64::INFINITY, f64::min);
        let (misfit, slow, rms) = (least(MISFIT), least(SLOW), least(LOG_RMS));
        if !(misfit.is_finite() && slow.is_finite() && rms.is_finite()) {
            return Self::default();
        }
        let told: [f64; CONTEXT] = [
            misfit.clamp(-25.0, 60.0) / 15.0,
            slow - 0.5,
            (rms + 6.3) / 0.7,
            1.0,
        ];
        let mut hands = PRICES.of_context.map(|row| {
            let sum: f64 = row.iter().zip(&told).map(|(a, b)| a * b).sum();
            libm::exp(sum.clamp(-30.0, 30.0))
        });
        let whole: f64 = hands.iter().sum();
        for h in &mut hands {
            *h /= whole;
        }
        Self {
            hands,
            least_misfit: misfit,
            told,
        }
    }
}

/// Where some measures stand.
const MISFIT: usize = 0;
const SOFT: usize = 1;
const LOG_RMS: usize = 2;
const SLOW: usize = 22;
const SOFTER: usize = 26;

/// The misfit of a reading, nats.
#[must_use]
pub fn misfit(m: &Measures) -> f64 {
    m[MISFIT]
}

/// The price of a reading among the others of its trace.
///
/// Misfit counts against the least misfit found, in full while it is small and by its logarithm
/// beyond some ten (and some forty) nats: whatever the model of the hand leaves out is in there. What
/// no hand on record needed is not excused at all: a scrap of thirty short edges, carefully traced, is
/// no rectangle drawn freely.
#[must_use]
pub fn total(m: &Measures, context: &Context) -> f64 {
    let over = (m[MISFIT] - context.least_misfit).max(0.0);
    let mut m = *m;
    m[SOFT] = 10.0 * libm::log(1.0 + over / 10.0);
    m[SOFTER] = 40.0 * libm::log(1.0 + over / 40.0);
    let price = |prices: &Measures| -> f64 { prices.iter().zip(&m).map(|(p, v)| p * v).sum() };
    let hands = context.hands.iter().zip(&PRICES.of_measures);
    let told: f64 = hands.map(|(share, prices)| share * price(prices)).sum();
    told + together(&m, over, context) + (over - EXCUSED).max(0.0)
}

/// What the measures of a reading cost together besides, nats; `over` is its misfit over the least.
fn together(m: &Measures, over: f64, context: &Context) -> f64 {
    let mut m = *m;
    m[MISFIT] = libm::log(1.0 + over);
    for i in WIDE {
        m[i] = libm::copysign(libm::log(1.0 + m[i].abs()), m[i]);
    }
    let step = |s: &Step| {
        let numbers = m.iter().chain(&context.told);
        let sum: f64 = s
            .weights
            .iter()
            .zip(numbers)
            .map(|(w, v)| f64::from(*w) * v)
            .sum();
        f64::from(s.height) * libm::tanh(f64::from(s.offset) + sum)
    };
    PRICES.steps.iter().map(step).sum()
}

/// Measures of so wide a range that [`together`] takes their logarithms: gain, price of relations, short edges,
/// distance from corners and their width.
const WIDE: [usize; 5] = [5, 6, 11, 14, 18];

/// The right reading of hardly any recorded or generated trace left more misfit than this over the
/// least one of its readings, nats (of 3,900 traces: one; 99 % lie below 190).
const EXCUSED: f64 = 250.0;

fn misfit_measures(m: &mut Measures, e: &Evidence, mean_square: f64, noise: &Noise, size: f64) {
    m[MISFIT] = e.misfit;
    m[LOG_RMS] = 0.5 * libm::log(mean_square / (size * size) + 1e-7);
    m[SLOW] = libm::log(1.0 + e.slow / noise.size);
    m[30] = libm::log(1.0 + e.worst);
    m[31] = libm::log(1.0 + e.bow);
}

/// Measures of a solved chain with its relations; `e` is what its residuals say.
#[must_use]
pub fn of_chain(s: &Solved, found: &Found, e: &Evidence, noise: &Noise, size: f64) -> Measures {
    let f = &s.figure;
    let mut m = [0.0; MEASURES];
    let p = f.parameters() as f64;
    misfit_measures(&mut m, e, s.mean_square, noise, size);
    m[3] = 0.5 * s.free.log_det() - 0.5 * p * libm::log(2.0 * PI);
    m[4] = 2.0 * f.corners.len() as f64 * libm::log(size)
        + f.bulges
            .iter()
            .filter(|b| **b != 0.0)
            .map(|b| libm::log(PI * (1.0 + b * b)))
            .sum::<f64>();
    m[5] = found.gain;
    m[6] = found.price;
    for c in constraints(&found.conditions) {
        match c.terms.as_slice() {
            [(_, Quantity::Turn(_))] if c.value == 0.0 => m[20] += 1.0,
            _ if c.is_angle() && is_right(c.value) => m[21] += 1.0,
            _ if c.is_angle() => m[27] += 1.0,
            _ => m[28] += 1.0,
        }
    }
    fillet_measures(&mut m, f, &found.conditions);
    m[32] = mirrored(0, f).len().min(2) as f64;
    let unit = noise.unit;
    for e in 0..f.len() {
        let len = f.edge_length(e);
        let short = (1.0 - len / (16.0 * unit)).max(0.0);
        let short_rel = (1.0 - len / (0.12 * size)).max(0.0);
        m[11] += short * short;
        m[12] += short_rel * short_rel;
        match f.kinds[e] {
            Kind::Line => m[7] += 1.0,
            Kind::Arc => {
                m[8] += 1.0;
                m[10] += (1.0 - f.sweep(e).abs() / 1.1).max(0.0);
                m[13] += libm::log((f.radius(e) / size).max(1.0));
            }
        }
    }
    joint_measures(&mut m, f);
    m[18] =
        (s.corner_width / (0.5 * unit + noise.size)) * (s.corner_width / (0.5 * unit + noise.size));
    m[19] = f64::from(u8::from(!f.closed));
    m
}

/// A multiple of a quarter turn.
fn is_right(angle: f64) -> bool {
    let quarters = angle / (0.5 * PI);
    (quarters - libm::round(quarters)).abs() < 1e-6
}

/// Arcs tangent at both ends that turn less than a half turn, and how many of them share the radius
/// of another: whoever rounds one corner rounds the others alike.
fn fillet_measures(m: &mut Measures, f: &Figure, conditions: &[Condition]) {
    let n = f.len();
    let tangent = |e: usize| conditions.iter().any(|c| c.is(RelationKind::Tangent, &[e]));
    let is_fillet = |e: usize| {
        f.kinds[e] == Kind::Arc
            && f.sweep(e).abs() < 0.9 * PI
            && tangent(e)
            && tangent((e + n - 1) % n)
    };
    let mut alike = 0.0;
    for e in (0..n).filter(|&e| is_fillet(e)) {
        m[24] += 1.0;
        let pair = |c: &Condition| match c.of.as_slice() {
            [(_, Some(a)), (_, Some(b))] if c.kind == RelationKind::EqualRadius => {
                (*a == e && is_fillet(*b)) || (*b == e && is_fillet(*a))
            }
            _ => false,
        };
        if conditions.iter().any(pair) {
            alike += 1.0;
        }
    }
    m[25] = (alike - 1.0_f64).max(0.0);
}

fn joint_measures(m: &mut Measures, f: &Figure) {
    let n = f.len();
    let joints = if f.closed { n } else { n.saturating_sub(1) };
    for e in 0..joints {
        let next = (e + 1) % n;
        let turn = f.turn_after(e);
        let blunt = (1.0 - 2.0 * libm::sin(turn.abs().min(0.5 * PI))).max(0.0);
        match (f.kinds[e], f.kinds[next]) {
            (Kind::Line, Kind::Line) => m[9] += blunt,
            _ => {
                if turn.abs() > 0.02 {
                    m[17] += blunt;
                    m[23] += 1.0;
                }
            }
        }
        if f.kinds[e] == Kind::Arc && f.kinds[next] == Kind::Arc && n > 1 {
            let (r, s) = (f.radius(e), f.radius(next));
            let same_way = f.bulges[e] * f.bulges[next] > 0.0;
            if same_way && turn.abs() < 0.35 && r.max(s) < 1.6 * r.min(s) {
                m[15] += 1.0;
            }
        }
    }
}

/// Adds how far corners lie from the nearest station, beyond what the wander explains.
pub fn add_corner_distance(m: &mut Measures, f: &Figure, stations: &[Point], noise: &Noise) {
    for c in &f.corners {
        let near = stations
            .iter()
            .map(|p| (*p - *c).length_squared())
            .fold(f64::INFINITY, f64::min)
            .sqrt();
        let over = (near - 3.0 * noise.unit - 2.0 * noise.size).max(0.0)
            / noise.size.max(0.3 * noise.unit);
        m[14] += (over * over).min(400.0);
    }
}

/// Measures of a whole circle.
#[must_use]
pub fn of_circle(c: &Round, noise: &Noise, size: f64) -> Measures {
    let mut m = [0.0; MEASURES];
    let e = slow::of_circle(c, noise, size);
    misfit_measures(&mut m, &e, c.mean_square, noise, size);
    m[3] = 0.5 * c.normal.log_det() - 1.5 * libm::log(2.0 * PI);
    m[4] = 3.0 * libm::log(size);
    m[8] = 1.0;
    m[16] = 1.0;
    m[29] = angular(c, noise);
    m
}

/// By how much a circle is off round other than by being oval, against [`ANGULAR`], as a logarithm: people
/// draw circles as ovals, but what goes out and in three times and more has corners.
fn angular(c: &Round, noise: &Noise) -> f64 {
    let mut off = c.residuals.blocks.clone();
    let n = off.len() as f64;
    if off.len() < FEWEST_BLOCKS {
        return 0.0;
    }
    let mean = off.iter().sum::<f64>() / n;
    for v in &mut off {
        *v -= mean;
    }
    let waves = [libm::cos as fn(f64) -> f64, libm::sin];
    for (rounds, wave) in [1.0, 2.0].into_iter().flat_map(|k| waves.map(|w| (k, w))) {
        let at = |i: usize| wave(2.0 * PI * (i as f64 + 0.5) / n * rounds);
        let along: f64 = off.iter().enumerate().map(|(i, v)| v * at(i)).sum();
        for (i, v) in off.iter_mut().enumerate() {
            *v -= 2.0 * along / n * at(i);
        }
    }
    let left = off.iter().map(|v| v * v).sum::<f64>() / n - noise.size * noise.size;
    let part = left.max(0.0).sqrt() / (ANGULAR * c.radius);
    libm::log(1.0 + part * part)
}

/// Of 133 circles drawn by many people nine in ten are off by less than this part of their radius beyond
/// being oval, of 46 squares one in twenty.
const ANGULAR: f64 = 0.05;
/// A circle of fewer blocks tells nothing of its form.
const FEWEST_BLOCKS: usize = 8;
