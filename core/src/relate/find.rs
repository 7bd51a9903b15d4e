//! Which relations the stations speak for.
//!
//! A relation is a condition that a free figure nearly meets. What could be asked of a figure is listed
//! here, with how seldom people mean it; [`super::choose`] says which of it holds.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is looked at"
)]

use super::choose::{Asked, Choice, Leaning, Meant, Terms};
use super::condition::Condition;
use super::figure::Figure;
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
    /// It is a right angle.
    pub square: bool,
}

impl Proposal {
    /// What is meant wherever it is nearly so.
    fn meant(&self) -> Option<Meant> {
        match self.conditions.as_slice() {
            _ if self.square => Some(Meant::SQUARE),
            [Condition::Tangent { .. }] => Some(Meant::TANGENT),
            _ => None,
        }
    }
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

/// Lines further than this from a step of angle are not even asked, radians.
const ANGLE_REACH: f64 = 0.35;

/// A proposal that would say less than this part of what it says now where it leads is refused.
const FADED: f64 = 0.8;
/// Joints that turn more than this are not asked to be tangent, radians.
const TANGENT_REACH: f64 = 0.6;
/// Lengths and radii further apart than this factor are not asked to be equal.
const EQUAL_REACH: f64 = 1.6;
/// Centres further apart than this part of the drawing are not asked to be one.
const CENTER_REACH: f64 = 0.2;

/// Two arcs that run into one another the same way: with one radius they would be one, met anywhere.
fn is_one_arc(f: &Figure, e: usize, g: usize) -> bool {
    let m = f.len();
    let runs_on = |a: usize, b: usize| {
        let joined = (a + 1) % m == b && (f.closed || b > a);
        joined && libm::fabs(f.turn_after(a)) < TANGENT_REACH
    };
    f.bulges[e] * f.bulges[g] > 0.0 && (runs_on(e, g) || runs_on(g, e))
}

/// How seldom a line meets an arc squarely, nats.
const SQUARE_JOINT: f64 = 2.0;

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
        let off_square = libm::fabs(libm::fabs(f.turn_after(e)) - FRAC_PI_2);
        if curved && m > 1 && off_square < ANGLE_REACH {
            let left = f.turn_after(e) > 0.0;
            out.push(one(Condition::SquareJoint { e, left }, SQUARE_JOINT, PI));
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
                        3 => Some(3.5),
                        2 | 4 => Some(4.5),
                        _ => Some(5.5),
                    };
                    if let Some(price) = price
                        && off < ANGLE_REACH
                    {
                        out.push(one(Condition::Angle { e, f: g, angle }, price, PI));
                    }
                    let (a, b) = (f.edge_length(e), f.edge_length(g));
                    if a.max(b) < EQUAL_REACH * a.min(b) {
                        out.push(one(Condition::EqualLength { e, f: g }, 3.0, size));
                    }
                }
                (Kind::Arc, Kind::Arc) if is_one_arc(f, e, g) => {}
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
    let image = |conditions| Proposal {
        conditions,
        price: 3.0,
        range: size,
        square: false,
    };
    let mut out: Vec<Proposal> = mirrored(f).into_iter().map(image).collect();
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
/// equal, and a chain whose chords, sweeps and turns are alike both ways is its own image. Of each axis the
/// conditions that say so.
pub fn mirrored(f: &Figure) -> Vec<Vec<Condition>> {
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
        (!conditions.is_empty()).then_some(conditions)
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
    leaning: Leaning,
) -> Found {
    let normal = solved.free.clone();
    let view = |p: &Proposal, c: &Condition| {
        let range = if c.is_angle() { PI } else { p.range };
        Some(View::new(c.at(&solved.figure, 1)?, &normal, range))
    };
    let late = |p: &Proposal| {
        matches!(
            &*p.conditions,
            [Condition::EqualLength { .. } | Condition::EqualRadius { .. }]
        )
    };
    let asked = |(index, p): (usize, &Proposal)| {
        Some(Asked {
            index,
            terms: Terms {
                price: p.price,
                meant: p.meant(),
                late: late(p),
            },
            views: p
                .conditions
                .iter()
                .map(|c| view(p, c))
                .collect::<Option<_>>()?,
        })
    };
    let left = proposals.iter().enumerate().filter_map(asked).collect();
    let mut state = State {
        proposals,
        choice: Choice {
            normal,
            left,
            noise_factor,
            leaning,
        },
        found: Found::default(),
    };
    for h in held {
        state.hold(solved, *h, held);
    }
    while let Some(best) = state.choice.best() {
        if state.fades(best, &solved.figure) {
            state.choice.left.swap_remove(best);
        } else {
            state.take(best);
        }
    }
    state.prefer_tangents(solved);
    state.found
}

struct State<'a> {
    proposals: &'a [Proposal],
    choice: Choice,
    found: Found,
}

impl State<'_> {
    fn conditions(&self, asked: &Asked) -> &[Condition] {
        &self.proposals[asked.index].conditions
    }

    /// Whether the proposal says less and less of what it asks for the nearer that comes: the first of
    /// many steps, each half of the one before.
    ///
    /// Two sides between parallels are equally long only where they are parallel themselves; the
    /// difference of their lengths goes with the square of how far they are from it, and holding it would
    /// turn them unasked.
    fn fades(&self, i: usize, figure: &Figure) -> bool {
        let Choice { normal, left, .. } = &self.choice;
        let Some(asked) = left.get(i) else {
            return false;
        };
        let ([view], [condition @ Condition::EqualLength { .. }]) =
            (&*asked.views, self.conditions(asked))
        else {
            return false;
        };
        let mut held = normal.clone();
        held.condition(&view.linear.gradient, -view.linear.value, f64::INFINITY);
        let mut there = figure.clone();
        there.shift(&held.step());
        let Some(linear) = condition.at(&there, 1) else {
            return true;
        };
        normal.predict(&linear.gradient).0 < FADED * view.variance()
    }

    fn take(&mut self, i: usize) {
        let (asked, gain) = self.choice.take(i);
        self.found.gain += gain;
        self.found.price += asked.terms.price;
        let conditions = &self.proposals[asked.index].conditions;
        self.found.conditions.extend_from_slice(conditions);
    }

    /// Says tangent where one radius would say it: a line between two arcs of one radius, tangent at all joints
    /// but one, is tangent there too, but only by a square root, which no solve comes to the end of.
    fn prefer_tangents(&mut self, solved: &Solved) {
        for i in 0..self.found.conditions.len() {
            if !matches!(self.found.conditions[i], Condition::EqualRadius { .. }) {
                continue;
            }
            let implied = |a: &&Asked| {
                let tangent = matches!(self.conditions(a), [Condition::Tangent { .. }]);
                tangent && a.views.iter().all(View::is_implied)
            };
            let Some(asked) = self.choice.left.iter().find(implied) else {
                return;
            };
            let tangent = self.conditions(asked)[0];
            let mut others = solved.free.clone();
            let rest = self.found.conditions.iter().enumerate();
            for (_, c) in rest.filter(|(k, _)| *k != i) {
                if let Some(l) = c.at(&solved.figure, 1) {
                    others.condition(&l.gradient, -l.value, f64::INFINITY);
                }
            }
            let alone = tangent.at(&solved.figure, 1);
            let alone = alone.map(|l| View::under(l, &others, PI));
            if alone.is_some_and(|v| !v.is_implied()) {
                self.found.conditions[i] = tangent;
                self.choice
                    .left
                    .retain(|a| self.proposals[a.index].conditions != [tangent]);
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
            let all = self.conditions(a);
            all.contains(&h) && all.iter().all(|c| held.contains(c))
        };
        if let Some(i) = self.choice.left.iter().position(meant) {
            self.take(i);
            return;
        }
        if let Some(l) = h.at(&solved.figure, 1) {
            self.choice.condition(&l);
        }
        self.found.conditions.push(h);
    }
}
