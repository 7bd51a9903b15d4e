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

use super::condition::{Condition, Linear};
use super::normal::Normal;
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
    /// Sum of the gains, nats, prices not yet taken off.
    pub gain: f64,
    /// Sum of the prices, nats.
    pub price: f64,
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

/// Takes the relations that the stations speak for, after `held`, which are to hold anyway.
///
/// The normal equations are those of the figure without conditions, wherever it stands: the value a
/// condition would take in the free optimum is predicted from there. `noise_factor` multiplies all
/// variances (a hand that draws freely testifies less). The gain that is told leaves out `c²/2v`:
/// what holding the conditions costs is in the misfit of the bound figure.
#[must_use]
pub fn find(
    solved: &Solved,
    proposals: &[Proposal],
    held: &[Condition],
    noise_factor: f64,
) -> Found {
    let mut state = State {
        normal: solved.free.clone(),
        found: Found::default(),
        noise_factor,
    };
    let mut left: Vec<Asked> = proposals
        .iter()
        .filter_map(|p| Asked::new(p, solved, &state.normal))
        .collect();
    // What is held first, in its order; conditions that no proposal knows are held without gain.
    for h in held {
        if state.found.conditions.contains(h) {
            continue;
        }
        // A proposal of several conditions is meant only where all of them are held.
        let meant = |a: &Asked| {
            a.proposal.conditions.contains(h)
                && a.proposal.conditions.iter().all(|c| held.contains(c))
        };
        match left.iter().position(meant) {
            Some(i) => {
                let asked = left.swap_remove(i);
                state.take(&asked);
            }
            None => {
                if let Some(l) = h.at(&solved.figure, 1) {
                    state.normal.condition(&l.gradient, -l.value, f64::INFINITY);
                }
                state.found.conditions.push(*h);
            }
        }
    }
    loop {
        let mut best: Option<(usize, f64)> = None;
        for (i, asked) in left.iter().enumerate() {
            let (gain, against) = state.gain(asked);
            if gain - against > best.map_or(0.0, |b| b.1) {
                best = Some((i, gain - against));
            }
        }
        let Some((i, _)) = best else {
            return state.found;
        };
        let asked = left.swap_remove(i);
        state.take(&asked);
    }
}

/// A proposal made linear at the figure.
struct Asked<'a> {
    proposal: &'a Proposal,
    linear: Vec<Linear>,
    free: Vec<f64>,
}

impl<'a> Asked<'a> {
    fn new(proposal: &'a Proposal, solved: &Solved, normal: &Normal) -> Option<Self> {
        let at = |c: &Condition| c.at(&solved.figure, 1);
        let linear: Vec<Linear> = proposal.conditions.iter().map(at).collect::<Option<_>>()?;
        let free = linear
            .iter()
            .map(|l| normal.free_variance(&l.gradient))
            .collect();
        Some(Self {
            proposal,
            linear,
            free,
        })
    }
}

struct State {
    normal: Normal,
    found: Found,
    noise_factor: f64,
}

impl State {
    /// Gain of a proposal and what speaks against it, both nats.
    fn gain(&self, asked: &Asked) -> (f64, f64) {
        if let ([l], [free]) = (asked.linear.as_slice(), asked.free.as_slice()) {
            let (gain, against) = self.part(&self.normal, l, *free, asked.proposal.range);
            return (gain - asked.proposal.price, against);
        }
        let mut after = self.normal.clone();
        let (mut gain, mut against) = (-asked.proposal.price, 0.0);
        for ((l, free), c) in asked
            .linear
            .iter()
            .zip(&asked.free)
            .zip(&asked.proposal.conditions)
        {
            let range = if c.is_angle() {
                PI
            } else {
                asked.proposal.range
            };
            let (g, a) = self.part(&after, l, *free, range);
            gain += g;
            against += a;
            after.condition(&l.gradient, -l.value, f64::INFINITY);
        }
        (gain, against)
    }

    fn part(&self, normal: &Normal, l: &Linear, free: f64, range: f64) -> (f64, f64) {
        let (v, shift) = normal.predict(&l.gradient);
        if v < IMPLIED * free {
            return (0.0, 0.0);
        }
        let c = l.value + shift;
        let v = v * self.noise_factor;
        (
            libm::log(range) - 0.5 * libm::log(2.0 * PI * v),
            c * c / (2.0 * v),
        )
    }

    fn take(&mut self, asked: &Asked) {
        self.found.gain += self.gain(asked).0 + asked.proposal.price;
        self.found.price += asked.proposal.price;
        for l in &asked.linear {
            self.normal.condition(&l.gradient, -l.value, f64::INFINITY);
        }
        self.found
            .conditions
            .extend_from_slice(&asked.proposal.conditions);
    }
}
