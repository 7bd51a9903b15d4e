//! The price of a reading: what is measured of it, and what each measure costs.

use super::slow::{self, Evidence};
use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::relate::condition::Condition;
use crate::relate::figure::Figure;
use crate::relate::find::Found;
use crate::relate::round::Round;
use crate::relate::solve::{Noise, Solved};
use core::f64::consts::PI;

/// Number of measures.
pub const MEASURES: usize = 24;
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
];

/// Everything the price is made of.
pub type Measures = [f64; MEASURES];

/// Price of each measure, nats.
pub const WEIGHTS: Measures = [
    0.02086, 1.368, 9.995, 0.0, 0.5992, -0.119, -1.386, 5.034, 20.52, 123.0, 41.21, 62.75, 67.65,
    8.531, 0.02502, 95.96, -0.8229, 0.0, 0.6087, 30.46, -7.277, -4.578, 0.1319, 0.5715,
];

/// The price: measures times weights.
#[must_use]
pub fn total(m: &Measures) -> f64 {
    m.iter().zip(&WEIGHTS).map(|(a, b)| a * b).sum()
}

fn misfit_measures(m: &mut Measures, e: &Evidence, mean_square: f64, noise: &Noise, size: f64) {
    m[0] = e.misfit;
    m[1] = if e.misfit > 0.0 {
        10.0 * libm::log(1.0 + 0.1 * e.misfit)
    } else {
        e.misfit
    };
    m[2] = 0.5 * libm::log(mean_square / (size * size) + 1e-7);
    m[22] = libm::log(1.0 + e.slow / noise.size);
}

/// Measures of a solved chain. `gain` is the evidence for its relations.
#[must_use]
pub fn of_chain(s: &Solved, found: &Found, noise: &Noise, size: f64) -> Measures {
    let f = &s.figure;
    let mut m = [0.0; MEASURES];
    let p = f.parameters() as f64;
    let e = slow::evidence(&s.residuals, noise, p, size);
    misfit_measures(&mut m, &e, s.mean_square, noise, size);
    m[3] = 0.5 * s.free.log_det() - 0.5 * p * libm::log(2.0 * PI);
    m[4] = 2.0 * f.corners.len() as f64 * libm::log(size)
        + f.bulges
            .iter()
            .filter(|b| **b != 0.0)
            .map(|b| libm::log(PI * (1.0 + b * b)))
            .sum::<f64>();
    m[5] = found.gain;
    m[6] = found.price;
    for c in &found.conditions {
        match c {
            Condition::Tangent { .. } => m[20] += 1.0,
            Condition::Angle { .. } => m[21] += 1.0,
            _ => {}
        }
    }
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
    let e = slow::evidence(core::slice::from_ref(&c.residuals), noise, 3.0, size);
    misfit_measures(&mut m, &e, c.mean_square, noise, size);
    m[3] = 0.5 * c.normal.log_det() - 1.5 * libm::log(2.0 * PI);
    m[4] = 3.0 * libm::log(size);
    m[8] = 1.0;
    m[16] = 1.0;
    m
}
