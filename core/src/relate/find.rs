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
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is looked at"
)]

use super::condition::{Condition, Linear};
use super::figure::Figure;
use super::normal::{Added, Normal};
use super::solve::Solved;
use super::view::View;
use crate::fit::partition::Kind;
use crate::geom::Sorted as _;
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
    /// A right angle: a corner near one is meant square unless the stations plainly say otherwise.
    pub square: bool,
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

/// A relation against which the stations testify by more than this (nats a condition: some three and
/// a half standard deviations) is refused whatever it would gain.
const REFUSED: f64 = 6.0;
/// Lines further than this from a step of angle are not even asked, radians.
const ANGLE_REACH: f64 = 0.35;

/// Lenience with right angles, nats; how much more with those that are hardly off, which nobody means; and
/// how far that is, radians (3 degrees).
const SQUARE_LENIENCE: f64 = 2.0;
const NEVER_MEANT: f64 = 4.0;
const HARDLY_OFF: f64 = 0.052;
/// A proposal that would say less than this part of what it says now where it leads is refused.
const FADED: f64 = 0.8;
/// Joints that turn more than this are not asked to be tangent, radians.
const TANGENT_REACH: f64 = 0.6;
/// Lengths and radii further apart than this factor are not asked to be equal.
const EQUAL_REACH: f64 = 1.6;
/// Centres further apart than this part of the drawing are not asked to be one.
const CENTER_REACH: f64 = 0.2;

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
        square: false,
    };
    let joints = if f.closed { m } else { m.saturating_sub(1) };
    for e in 0..joints {
        let next = (e + 1) % m;
        let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
        if curved && m > 1 && libm::fabs(f.turn_after(e)) < TANGENT_REACH {
            out.push(one(Condition::Tangent { e }, 0.7, PI));
        }
    }
    let asked = pairs(f);
    for e in 0..m {
        for g in e + 1..m {
            if !asked(e, g) {
                continue;
            }
            match (f.kinds[e], f.kinds[g]) {
                (Kind::Line, Kind::Line) => {
                    let turn = f.start_direction(g) - f.start_direction(e);
                    let step = libm::round(turn / FRAC_PI_6 * 2.0);
                    let angle = step * FRAC_PI_6 * 0.5;
                    let off = libm::fabs(crate::geom::normalize_angle(turn - angle));
                    let right = libm::round(turn / FRAC_PI_2) * FRAC_PI_2;
                    let off_right = libm::fabs(crate::geom::normalize_angle(turn - right));
                    if off_right < ANGLE_REACH {
                        let square = Condition::Angle {
                            e,
                            f: g,
                            angle: right,
                        };
                        out.push(Proposal {
                            square: true,
                            ..one(square, 1.0, PI)
                        });
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
                    let (a, b) = (f.edge_length(e), f.edge_length(g));
                    if a.max(b) < EQUAL_REACH * a.min(b) {
                        out.push(one(Condition::EqualLength { e, f: g }, 2.0, size));
                    }
                }
                (Kind::Arc, Kind::Arc) => {
                    let (r, s) = (f.radius(e), f.radius(g));
                    if r.max(s) < EQUAL_REACH * r.min(s) {
                        out.push(one(Condition::EqualRadius { e, f: g }, 0.7, 5.0 * r.min(s)));
                    }
                    let apart = match (f.center(e), f.center(g)) {
                        (Some(a), Some(b)) => a.distance(b),
                        _ => f64::INFINITY,
                    };
                    if apart < CENTER_REACH * size {
                        let pair = vec![
                            Condition::CenterX { e, f: g },
                            Condition::CenterY { e, f: g },
                        ];
                        out.push(Proposal {
                            conditions: pair,
                            price: 2.0,
                            range: size,
                            square: false,
                        });
                    }
                }
                _ => {}
            }
        }
    }
    out.extend(regular(solved, size));
    out
}

/// What could be asked besides of a figure that is settled: that it is its own image, and edges on one line.
/// Asked while readings compete, these excuse too many of them.
#[must_use]
pub fn further_proposals(f: &Figure, size: f64) -> Vec<Proposal> {
    let m = f.len();
    let straight = |e: &usize| f.kinds[*e] == Kind::Line;
    let mut out = mirrored(f, size);
    if m <= MOST_MIRRORED {
        let pairs = (0..m)
            .filter(straight)
            .flat_map(|e| (e + 1..m).map(move |g| (e, g)));
        out.extend(
            pairs
                .filter(|p| straight(&p.1))
                .filter_map(|(e, g)| in_line(f, e, g, size)),
        );
    }
    out
}

/// Two straight edges that do not meet, on one line: the same direction, and no step between them.
fn in_line(f: &Figure, e: usize, g: usize, size: f64) -> Option<Proposal> {
    let m = f.len();
    let turn = f.start_direction(g) - f.start_direction(e);
    let angle = libm::round(turn / PI) * PI;
    let step = Condition::OnLine { e, f: g };
    let apart = f.corners[e].distance(f.corners[g]);
    let meet = (e + 1) % m == g || (g + 1) % m == e;
    let near = libm::fabs(crate::geom::normalize_angle(turn - angle)) < IN_LINE_TURN
        && step.value(f)?.abs() < IN_LINE_STEP * apart;
    (!meet && near).then(|| Proposal {
        conditions: vec![Condition::Angle { e, f: g, angle }, step],
        price: 3.0,
        range: size,
        square: false,
    })
}

/// Edges further from one line than this are not asked to be on it: radians, and against their distance.
const IN_LINE_TURN: f64 = 0.15;
const IN_LINE_STEP: f64 = 0.08;

/// The outline as its own mirror image, about every axis that it nearly is one about.
///
/// Under a mirror edge `e` becomes edge `k − e`: chords, sweeps and turns that become one another are
/// equal, and a chain whose chords, sweeps and turns are alike both ways is its own image.
fn mirrored(f: &Figure, size: f64) -> Vec<Proposal> {
    let m = f.len();
    if !(3..=MOST_MIRRORED).contains(&m) {
        return Vec::new();
    }
    let axes = if f.closed { 0..m } else { m - 1..m };
    let of_axis = |k: usize| {
        let image = |e: usize| (k + m - e) % m;
        let joints = if f.closed { m } else { m - 1 };
        let mut conditions = Vec::new();
        for e in 0..joints {
            // The joint after an edge becomes the one before its image.
            let g = (image(e) + m - 1) % m;
            if !f.closed && g >= joints {
                return None;
            }
            if (f.turn_after(e) - f.turn_after(g)).abs() > MIRRORED_TURN {
                return None;
            }
            if e < g {
                conditions.push(Condition::EqualTurn { e, f: g });
            }
        }
        for e in 0..m {
            let g = image(e);
            let (a, b) = (f.edge_length(e), f.edge_length(g));
            let sweeps = (f.sweep(e) - f.sweep(g)).abs();
            if f.kinds[e] != f.kinds[g]
                || a.max(b) > MIRRORED_LENGTH * a.min(b)
                || sweeps > 2.0 * MIRRORED_TURN
            {
                return None;
            }
            if e < g {
                conditions.push(Condition::EqualLength { e, f: g });
                if f.kinds[e] == Kind::Arc {
                    conditions.push(Condition::EqualSweep { e, f: g });
                }
            }
        }
        (!conditions.is_empty()).then_some(Proposal {
            conditions,
            price: 3.0,
            range: size,
            square: false,
        })
    };
    axes.filter_map(of_axis).collect()
}

/// Outlines of more edges are not asked to be their own image.
const MOST_MIRRORED: usize = 16;
/// Turns and lengths further apart than this are not asked to be alike: radians, and as a factor.
const MIRRORED_TURN: f64 = 0.25;
const MIRRORED_LENGTH: f64 = 1.3;

/// Which edges are asked about one another: the longest, and near ones. With many edges all pairs would
/// cost their fourth power.
pub fn pairs(f: &Figure) -> impl Fn(usize, usize) -> bool + use<> {
    let m = f.len();
    let longest = longest(f);
    let near = if m > MANY { NEAR_OF_MANY } else { NEAR };
    move |e, g| e.abs_diff(g).min(m - e.abs_diff(g)) <= near || (longest[e] && longest[g])
}

/// Which edges are among the longest.
fn longest(f: &Figure) -> Vec<bool> {
    let mut order: Vec<usize> = (0..f.len()).collect();
    order.order_by(|a, b| f.edge_length(*b).total_cmp(&f.edge_length(*a)));
    let mut out = vec![false; f.len()];
    for e in order.into_iter().take(LONGEST) {
        out[e] = true;
    }
    out
}

/// How many of the longest edges are asked about one another, and how near to one another the rest.
const LONGEST: usize = 16;
const NEAR: usize = 3;
/// Of more edges than this only neighbours are asked besides.
const MANY: usize = 24;
const NEAR_OF_MANY: usize = 1;

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
        square: false,
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
        left: Vec::new(),
        found: Found::default(),
        noise_factor,
    };
    let asked = proposals
        .iter()
        .filter_map(|p| Asked::new(p, solved, &state.normal));
    state.left = asked.collect();
    for h in held {
        state.hold(solved, *h, held);
    }
    while let Some(best) = state.best() {
        if state.fades(best, &solved.figure) {
            state.left.swap_remove(best);
        } else {
            state.take(best);
        }
    }
    state.found
}

/// A proposal made linear at the figure.
struct Asked<'a> {
    proposal: &'a Proposal,
    views: Vec<View>,
}

impl<'a> Asked<'a> {
    fn new(proposal: &'a Proposal, solved: &Solved, normal: &Normal) -> Option<Self> {
        let view = |c: &Condition| {
            let range = if c.is_angle() { PI } else { proposal.range };
            Some(View::new(c.at(&solved.figure, 1)?, normal, range))
        };
        let views = proposal
            .conditions
            .iter()
            .map(view)
            .collect::<Option<Vec<_>>>()?;
        Some(Self { proposal, views })
    }
}

struct State<'a> {
    normal: Normal,
    left: Vec<Asked<'a>>,
    found: Found,
    noise_factor: f64,
}

impl State<'_> {
    /// The proposal that gains most over its price and what speaks against it.
    fn best(&self) -> Option<usize> {
        let mut best: Option<(usize, f64)> = None;
        for (i, asked) in self.left.iter().enumerate() {
            let (gain, against) = self.gain(asked);
            let lenience = self.lenience(asked);
            let mut net = gain - against - asked.proposal.price;
            if asked.proposal.square && gain > 0.0 {
                net += SQUARE_LENIENCE + lenience;
            }
            let refused = against > REFUSED * asked.views.len() as f64 + lenience;
            if !refused && net > best.map_or(0.0, |b| b.1) {
                best = Some((i, net));
            }
        }
        best.map(|b| b.0)
    }

    /// What speaks for a right angle however the stations speak, nats: the nearer, the more.
    fn lenience(&self, asked: &Asked) -> f64 {
        match asked.views.as_slice() {
            [view] if asked.proposal.square => {
                let off = view.expected(self.normal.free_step()) / HARDLY_OFF;
                NEVER_MEANT * libm::exp(-off * off)
            }
            _ => 0.0,
        }
    }

    /// Gain of a proposal and what speaks against it, both nats, its conditions one by one.
    fn gain(&self, asked: &Asked) -> (f64, f64) {
        let step = self.normal.free_step();
        if let [view] = asked.views.as_slice() {
            return view.gain(step, self.noise_factor);
        }
        let mut views = asked.views.clone();
        let (mut gain, mut against) = (0.0, 0.0);
        for i in 0..views.len() {
            let (done, ahead) = views.split_at_mut(i + 1);
            let Some(view) = done.last() else { continue };
            let (g, a) = view.gain(step, self.noise_factor);
            gain += g;
            against += a;
            if let Some((unit, offset)) = view.as_condition() {
                for v in ahead {
                    v.condition(&unit, offset);
                }
            }
        }
        (gain, against)
    }

    /// Whether the proposal says less and less of what it asks for the nearer that comes: the first of
    /// many steps, each half of the one before.
    ///
    /// Two sides between parallels are equally long only where they are parallel themselves; the
    /// difference of their lengths goes with the square of how far they are from it, and holding it would
    /// turn them unasked.
    fn fades(&self, i: usize, figure: &Figure) -> bool {
        let Some(asked) = self.left.get(i) else {
            return false;
        };
        let ([view], [condition @ Condition::EqualLength { .. }]) =
            (&*asked.views, &*asked.proposal.conditions)
        else {
            return false;
        };
        let mut held = self.normal.clone();
        held.condition(&view.linear.gradient, -view.linear.value, f64::INFINITY);
        let mut there = figure.clone();
        there.shift(&held.step());
        let Some(linear) = condition.at(&there, 1) else {
            return true;
        };
        let (now, then) = (view.variance(), self.normal.predict(&linear.gradient).0);
        then < FADED * now
    }

    fn take(&mut self, i: usize) {
        let asked = self.left.swap_remove(i);
        self.found.gain += self.gain(&asked).0;
        self.found.price += asked.proposal.price;
        for view in &asked.views {
            self.condition(&view.linear);
        }
        self.found
            .conditions
            .extend_from_slice(&asked.proposal.conditions);
    }

    fn condition(&mut self, linear: &Linear) {
        let added = self
            .normal
            .condition(&linear.gradient, -linear.value, f64::INFINITY);
        if added == Added::New
            && let Some((normal, offset)) = self.normal.last_condition()
        {
            for view in self.left.iter_mut().flat_map(|a| &mut a.views) {
                view.condition(normal, offset);
            }
        }
    }

    /// Takes a condition that is to hold anyway, with the proposal that asks for it where there is
    /// one (a proposal of several conditions only where all of them are held).
    fn hold(&mut self, solved: &Solved, h: Condition, held: &[Condition]) {
        if self.found.conditions.contains(&h) {
            return;
        }
        let meant = |a: &Asked| {
            let all = &a.proposal.conditions;
            all.contains(&h) && all.iter().all(|c| held.contains(c))
        };
        if let Some(i) = self.left.iter().position(meant) {
            self.take(i);
            return;
        }
        if let Some(l) = h.at(&solved.figure, 1) {
            self.condition(&l);
        }
        self.found.conditions.push(h);
    }
}
