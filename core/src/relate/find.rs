//! Which relations the stations speak for.
//!
//! **Idea.** A relation is a condition that a free figure nearly meets. Given the solved figure and
//! its normal equations, the evidence for a condition `c = 0` against `c` free is the Savage–Dickey
//! ratio (Dickey 1971): the posterior density of `c` at 0 over its prior density there,
//!
//! ```text
//! gain = ln(range) − ½ ln(2πv) − c²/(2v) − price
//! ```
//!
//! with `v` the variance of `c` from the wander, `range` how far `c` could reasonably have been, and
//! `price` how seldom people mean it. Conditions are taken greedily, the largest gain first, each
//! conditioning the others: what is already implied earns nothing (its `v` is gone), and what the
//! stations testify against (`c²/2v` large) is refused.
//!
//! **Fails** where two relations exclude each other and the greedy order takes the wrong one first.

use super::condition::Condition;
use super::solve::Solved;
use crate::fit::partition::Kind;
use core::f64::consts::{FRAC_PI_2, FRAC_PI_6, PI};

/// A relation that could hold: the conditions it stands for and its price.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// Conditions, all or none.
    pub conditions: Vec<Condition>,
    /// How seldom it is meant, nats.
    pub price: f64,
    /// How far each condition's number could have been from zero.
    pub range: f64,
}

/// What was found.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// Conditions in the order taken.
    pub conditions: Vec<Condition>,
    /// Sum of the gains, nats.
    pub gain: f64,
}

/// Below this part of its free variance a condition is implied by those already taken.
const IMPLIED: f64 = 0.003;
/// Lines further than this from a step of angle are not even asked, radians.
const ANGLE_REACH: f64 = 0.35;

/// Everything that could be asked of this figure. `size` is the drawing's diagonal, mm.
#[must_use]
pub fn proposals(solved: &Solved, size: f64) -> Vec<Proposal> {
    let f = &solved.figure;
    let m = f.len();
    let mut out = Vec::new();
    let one = |c: Condition, price: f64, range: f64| Proposal {
        conditions: vec![c],
        price,
        range,
    };
    let joints = if f.closed { m } else { m.saturating_sub(1) };
    for e in 0..joints {
        let next = (e + 1) % m;
        if f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc {
            if libm::fabs(f.turn_after(e)) < 0.6 && m > 1 {
                out.push(one(Condition::Tangent { e }, 0.7, PI));
            }
        }
    }
    for e in 0..m {
        for g in e + 1..m {
            match (f.kinds[e], f.kinds[g]) {
                (Kind::Line, Kind::Line) => {
                    let turn = f.start_direction(g) - f.start_direction(e);
                    let step = libm::round(turn / FRAC_PI_6 * 2.0);
                    let angle = step * FRAC_PI_6 * 0.5;
                    let off = libm::fabs(crate::geom::normalize_angle(turn - angle));
                    let right = libm::round(turn / FRAC_PI_2) * FRAC_PI_2;
                    let off_right = libm::fabs(crate::geom::normalize_angle(turn - right));
                    if off_right < ANGLE_REACH {
                        out.push(one(
                            Condition::Angle {
                                e,
                                f: g,
                                angle: right,
                            },
                            1.0,
                            PI,
                        ));
                    }
                    let price = match (step as i64).rem_euclid(6) {
                        0 => None,
                        3 => Some(2.5),
                        2 | 4 => Some(3.5),
                        _ => Some(5.5),
                    };
                    if let Some(price) = price
                        && off < ANGLE_REACH
                    {
                        out.push(one(Condition::Angle { e, f: g, angle }, price, PI));
                    }
                    out.push(one(Condition::EqualLength { e, f: g }, 2.0, size));
                }
                (Kind::Arc, Kind::Arc) => {
                    let (r, s) = (f.radius(e), f.radius(g));
                    if r.max(s) < 3.0 * r.min(s) {
                        out.push(one(Condition::EqualRadius { e, f: g }, 0.7, 5.0 * r.min(s)));
                    }
                    if r.min(s) < size {
                        let pair = vec![
                            Condition::CenterX { e, f: g },
                            Condition::CenterY { e, f: g },
                        ];
                        out.push(Proposal {
                            conditions: pair,
                            price: 2.0,
                            range: size,
                        });
                    }
                }
                _ => {}
            }
        }
    }
    if let Some(p) = regular(solved, size) {
        out.push(p);
    }
    out
}

/// A regular polygon as one relation.
fn regular(solved: &Solved, size: f64) -> Option<Proposal> {
    let f = &solved.figure;
    let m = f.len();
    let straight = f.kinds.iter().all(|k| *k == Kind::Line);
    if !(f.closed && straight && [3, 4, 5, 6, 8].contains(&m)) {
        return None;
    }
    let turns: Vec<f64> = (0..m).map(|e| f.turn_after(e)).collect();
    let want = 2.0 * PI / m as f64 * turns.first().copied()?.signum();
    if !turns.iter().all(|t| (t - want).abs() < 0.5) {
        return None;
    }
    let mut conditions = Vec::new();
    for e in 1..m {
        conditions.push(Condition::EqualLength { e: 0, f: e });
        conditions.push(Condition::Angle {
            e: e - 1,
            f: e,
            angle: want,
        });
    }
    Some(Proposal {
        conditions,
        price: 3.0,
        range: size,
    })
}

/// Takes the relations that the stations speak for, after `held`, which hold already. `noise_factor`
/// multiplies all variances (a hand that draws freely testifies less).
#[must_use]
pub fn find(
    solved: &Solved,
    proposals: &[Proposal],
    held: &[Condition],
    noise_factor: f64,
) -> Found {
    let mut normal = solved.normal.clone();
    let mut found = Found {
        conditions: held.to_vec(),
        gain: 0.0,
    };
    let mut left: Vec<(&Proposal, Vec<super::condition::Linear>, Vec<f64>)> = proposals
        .iter()
        .filter(|p| !held.contains(&p.conditions[0]))
        .filter_map(|p| {
            let linear: Option<Vec<_>> = p
                .conditions
                .iter()
                .map(|c| c.at(&solved.figure, 1))
                .collect();
            let linear = linear?;
            let free = linear
                .iter()
                .map(|l| normal.free_variance(&l.gradient))
                .collect();
            Some((p, linear, free))
        })
        .collect();
    loop {
        let mut best: Option<(usize, f64, Normal2)> = None;
        for (i, (p, linear, free)) in left.iter().enumerate() {
            let (gain, after) = gain(&normal, p, linear, free, noise_factor);
            if gain > best.as_ref().map_or(0.0, |b| b.1) {
                best = Some((i, gain, after));
            }
        }
        let Some((i, gain, after)) = best else {
            return found;
        };
        let (p, linear, _) = left.swap_remove(i);
        match after {
            Normal2::Whole(n) => normal = *n,
            Normal2::Single => {
                normal.condition(&linear[0].gradient, -linear[0].value, f64::INFINITY);
            }
        }
        found.conditions.extend_from_slice(&p.conditions);
        found.gain += gain;
    }
}

use super::normal::Normal;

/// The normal equations after a proposal, where working out its gain had to make them.
enum Normal2 {
    Single,
    Whole(Box<Normal>),
}

fn gain(
    normal: &Normal,
    p: &Proposal,
    linear: &[super::condition::Linear],
    free: &[f64],
    noise_factor: f64,
) -> (f64, Normal2) {
    let part = |normal: &Normal, l: &super::condition::Linear, free: f64| -> f64 {
        let (v, shift) = normal.predict(&l.gradient);
        if v < IMPLIED * free {
            return 0.0;
        }
        let c = l.value + shift;
        let v = v * noise_factor;
        libm::log(p.range) - 0.5 * libm::log(2.0 * PI * v) - c * c / (2.0 * v)
    };
    if let ([l], [free]) = (linear, free) {
        return (part(normal, l, *free) - p.price, Normal2::Single);
    }
    let mut after = Box::new(normal.clone());
    let mut sum = -p.price;
    for ((l, free), c) in linear.iter().zip(free).zip(&p.conditions) {
        let angle_range = if c.is_angle() {
            libm::log(PI) - libm::log(p.range)
        } else {
            0.0
        };
        let gain = part(&after, l, *free);
        sum += if gain == 0.0 { 0.0 } else { gain + angle_range };
        after.condition(&l.gradient, -l.value, f64::INFINITY);
    }
    (sum, Normal2::Whole(after))
}
