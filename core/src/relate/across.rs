//! All loops of a trace as one system: conditions across loops, and the joint equations.
//!
//! **Problem.** An opening is meant parallel to the part it lies in, holes alike and in a row, a hole
//! about the centre of a rounded end. Each loop was solved against its own stations; what ties them
//! together must move all of them as little as their stations allow, and keep each loop's own relations.
//!
//! **How.** Loops share no stations: their equations stand side by side in one block-diagonal system, each
//! with its own noise. Over the few tenths of a millimetre that loops move by here, what their stations say is
//! as good as quadratic, so each is taken as it stood at its own solution, and only conditions (each loop's
//! own and those across) are made linear again at every step: Newton's method for the equality-constrained
//! quadratic programme (Nocedal and Wright, ch. 18).
//!
//! A tie across loops is a sum of numbers of single loops (the direction of an edge, the x of a centre) or
//! of two centres (which way one lies from the other, and how far), held to a value.
//!
//! **Fails** where a tie would move a loop by much more than its stations allow; such ties are not asked.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint system itself, and have one place each in its tables"
)]

use super::condition::{Condition, Linear};
use super::conditioned::Conditioned;
use super::figure::Figure;
use super::normal::Normal;
use crate::geom::{Point, Vec2, normalize_angle};

/// One loop, hole or mark in the joint system.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    /// Where it stands.
    pub shape: Form,
    /// Conditions it has to keep.
    pub own: Vec<Condition>,
    /// What its stations say, at the place where it stood first.
    pub normal: Normal,
    /// All its variances are so much larger than that says.
    pub factor: f64,
}

/// What a body is made of.
#[derive(Clone, Debug)]
pub(crate) enum Form {
    /// Edges meeting at corners.
    Chain(Figure),
    /// A whole circle: x, y and radius are free.
    Round { center: Point, radius: f64 },
    /// A place.
    Spot(Point),
}

/// A number of one body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Of {
    /// Direction of a straight edge, radians.
    Direction(usize),
    /// Length of an edge's chord, mm.
    Length(usize),
    /// Radius of an arc, or of the circle.
    Radius(usize),
    /// Place of an arc's or a circle's centre, or of a mark: x, or y.
    Center(usize, Axis),
    /// Place of a corner: x, or y.
    Corner(usize, Axis),
}

/// A coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Axis {
    X,
    Y,
}

/// The centre of a circle or an arc, or a mark: body and edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Center {
    pub body: usize,
    pub edge: usize,
}

/// A number of one or two bodies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Number {
    /// Of one.
    One(usize, Of),
    /// Direction from one centre to another, radians.
    Heading(Center, Center),
    /// Distance between two centres, mm.
    Span(Center, Center),
}

/// Numbers, each so many times, that together are held to a value.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tie {
    pub terms: Vec<(f64, Number)>,
    pub value: f64,
    /// The sum is an angle: whole turns do not count.
    pub is_angle: bool,
}

impl Tie {
    /// One number is as large as another, and `more` besides.
    pub fn difference(of: Number, from: Number, more: f64) -> Self {
        let is_angle = matches!(of, Number::Heading(..) | Number::One(_, Of::Direction(_)));
        Self {
            terms: vec![(1.0, of), (-1.0, from)],
            value: more,
            is_angle,
        }
    }

    /// A number has this value.
    pub fn at(of: Number, value: f64) -> Self {
        Self {
            terms: vec![(1.0, of)],
            value,
            is_angle: false,
        }
    }
}

/// All bodies with their equations side by side.
#[derive(Clone, Debug)]
pub(crate) struct Joint {
    pub bodies: Vec<Body>,
    /// Where each body's numbers begin.
    offsets: Vec<usize>,
    /// What all stations say, noise and all, without any condition.
    normal: Normal,
}

/// Bodies with a number's gradient by the free numbers of each.
type Gradients = Vec<(usize, Vec<f64>)>;

/// Steps of Newton's method, and when it has come to rest, mm.
const STEPS: usize = 12;
const STILL: f64 = 1e-11;
/// Steps on the conditions alone, at the end.
const POLISH: usize = 3;
/// Conditions of which less than this part is new follow from the others: away from the solution they do so
/// only nearly.
const NEARLY_IMPLIED: f64 = 0.01;
/// Conditions are met to this: radians, mm.
const MET_ANGLE: f64 = 1e-10;
const MET_LENGTH: f64 = 1e-8;

impl Joint {
    /// The system of these bodies where they stand.
    pub fn new(bodies: Vec<Body>) -> Self {
        let mut offsets = Vec::with_capacity(bodies.len());
        let mut offset = 0;
        for b in &bodies {
            offsets.push(offset);
            offset += b.normal.size();
        }
        let normal = Normal::side_by_side(bodies.iter().map(|b| (&b.normal, b.factor)));
        Self {
            bodies,
            offsets,
            normal,
        }
    }

    /// Number of free numbers.
    pub fn size(&self) -> usize {
        self.normal.size()
    }

    /// The equations held to every body's own conditions and to `ties`, where all stand now.
    pub fn held(&self, ties: &[Tie]) -> Option<Normal> {
        let mut normal = self.normal.clone();
        for linear in self.own()? {
            normal.condition(&linear.gradient, -linear.value, f64::INFINITY);
        }
        for tie in ties {
            let linear = self.linear(tie)?;
            normal.condition(&linear.gradient, -linear.value, f64::INFINITY);
        }
        Some(normal)
    }

    /// A body's gradient among all numbers.
    pub fn wide(&self, body: usize, gradient: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.size()];
        let at = self.offsets[body];
        out[at..at + gradient.len()].copy_from_slice(gradient);
        out
    }

    /// A tie's value and gradient. `None` where it asks for what a body has not got.
    pub fn linear(&self, tie: &Tie) -> Option<Linear> {
        let mut out = Linear {
            value: -tie.value,
            gradient: vec![0.0; self.size()],
        };
        for &(k, number) in &tie.terms {
            let (value, parts) = self.number(number)?;
            out.value += k * value;
            for (body, gradient) in parts {
                let at = self.offsets[body];
                for (sum, g) in out.gradient[at..].iter_mut().zip(gradient) {
                    *sum += k * g;
                }
            }
        }
        if tie.is_angle {
            out.value = normalize_angle(out.value);
        }
        let fine = out.value.is_finite() && out.gradient.iter().all(|g| g.is_finite());
        fine.then_some(out)
    }

    /// A number's value and its gradient by the numbers of the bodies it belongs to.
    pub fn number(&self, number: Number) -> Option<(f64, Gradients)> {
        match number {
            Number::One(body, of) => {
                let (value, gradient) = self.bodies.get(body)?.number(of)?;
                Some((value, vec![(body, gradient)]))
            }
            Number::Heading(from, to) => {
                self.between(from, to, |d| (d.angle(), d.left() / d.length_squared()))
            }
            Number::Span(from, to) => self.between(from, to, |d| (d.length(), d / d.length())),
        }
    }

    /// A number of the way from one centre to another, given with its gradient by that way.
    fn between(
        &self,
        from: Center,
        to: Center,
        of: impl Fn(Vec2) -> (f64, Vec2),
    ) -> Option<(f64, Gradients)> {
        let d = self.center(to)? - self.center(from)?;
        if d.length() < MET_LENGTH {
            return None;
        }
        let (value, by) = of(d);
        let mut parts = Vec::with_capacity(4);
        for (center, sign) in [(to, 1.0), (from, -1.0)] {
            for (axis, k) in [(Axis::X, by.x), (Axis::Y, by.y)] {
                let (_, mut g) = self.bodies[center.body].number(Of::Center(center.edge, axis))?;
                g.iter_mut().for_each(|g| *g *= sign * k);
                parts.push((center.body, g));
            }
        }
        Some((value, parts))
    }

    /// Where a centre is.
    pub fn center(&self, c: Center) -> Option<Point> {
        let body = self.bodies.get(c.body)?;
        let at = |axis| Some(body.number(Of::Center(c.edge, axis))?.0);
        Some(Point::new(at(Axis::X)?, at(Axis::Y)?))
    }

    /// Every body's own conditions.
    fn own(&self) -> Option<Vec<Linear>> {
        let mut out = Vec::new();
        for (i, b) in self.bodies.iter().enumerate() {
            let Form::Chain(figure) = &b.shape else {
                continue;
            };
            for c in &b.own {
                let linear = c.at(figure, 1)?;
                out.push(Linear {
                    value: linear.value,
                    gradient: self.wide(i, &linear.gradient),
                });
            }
        }
        Some(out)
    }

    /// Moves all bodies to where they fit best under their own conditions and `ties`. `None` where the ties
    /// cannot all be met.
    pub fn solve(&self, ties: &[Tie]) -> Option<Self> {
        let mut out = self.clone();
        for round in 0..STEPS + POLISH {
            let held = out.nearly_held(ties)?;
            let step = if round < STEPS {
                held.step()
            } else {
                held.correction()
            };
            out.shift(&step);
            let most = step.iter().fold(0.0_f64, |m, s| m.max(s.abs()));
            if !most.is_finite() {
                return None;
            }
            if most < STILL {
                break;
            }
        }
        out.meets(ties).then_some(out)
    }

    /// As [`Self::held`], on the way there: what follows from the others does so only nearly. How much of a tie
    /// is new is told against what each loop's own conditions leave of it.
    fn nearly_held(&self, ties: &[Tie]) -> Option<Conditioned> {
        let mut held = Conditioned::new(self.normal.clone());
        for linear in self.own()? {
            held.add(NEARLY_IMPLIED, &linear.gradient, -linear.value);
        }
        let tied: Option<Vec<(Linear, f64)>> = (ties.iter())
            .map(|tie| {
                let linear = self.linear(tie)?;
                let left = held.left(&linear.gradient);
                Some((linear, NEARLY_IMPLIED * left.sqrt()))
            })
            .collect();
        for (linear, part) in tied? {
            held.add(part, &linear.gradient, -linear.value);
        }
        Some(held)
    }

    fn shift(&mut self, step: &[f64]) {
        for (b, &at) in self.bodies.iter_mut().zip(&self.offsets) {
            b.shift(&step[at..at + b.normal.size()]);
        }
        self.normal.shift(step);
    }

    fn meets(&self, ties: &[Tie]) -> bool {
        let met =
            |value: f64, angle: bool| value.abs() < if angle { MET_ANGLE } else { MET_LENGTH };
        let own = self.bodies.iter().all(|b| match &b.shape {
            Form::Chain(f) => b
                .own
                .iter()
                .all(|c| c.value(f).is_some_and(|v| met(v, c.is_angle()))),
            _ => true,
        });
        own && ties
            .iter()
            .all(|t| self.linear(t).is_some_and(|l| met(l.value, t.is_angle)))
    }
}

impl Body {
    /// A number and its gradient by the body's own free numbers.
    pub fn number(&self, of: Of) -> Option<(f64, Vec<f64>)> {
        match (&self.shape, of) {
            (Form::Chain(f), of) => {
                let condition = match of {
                    Of::Direction(e) => Condition::Direction { e, angle: 0.0 },
                    Of::Length(e) => Condition::Length { e, value: 0.0 },
                    Of::Radius(e) => Condition::Radius { e, value: 0.0 },
                    Of::Corner(c, axis) => return corner(f, c, axis),
                    Of::Center(e, Axis::X) => Condition::CenterAtX { e, value: 0.0 },
                    Of::Center(e, Axis::Y) => Condition::CenterAtY { e, value: 0.0 },
                };
                let linear = condition.at(f, 1)?;
                Some((linear.value, linear.gradient))
            }
            (Form::Round { radius, .. }, Of::Radius(_)) => Some((*radius, vec![0.0, 0.0, 1.0])),
            (Form::Round { center, .. }, Of::Center(_, Axis::X)) => {
                Some((center.x, vec![1.0, 0.0, 0.0]))
            }
            (Form::Round { center, .. }, Of::Center(_, Axis::Y)) => {
                Some((center.y, vec![0.0, 1.0, 0.0]))
            }
            (Form::Spot(p), Of::Center(_, Axis::X)) => Some((p.x, vec![1.0, 0.0])),
            (Form::Spot(p), Of::Center(_, Axis::Y)) => Some((p.y, vec![0.0, 1.0])),
            _ => None,
        }
    }

    fn shift(&mut self, step: &[f64]) {
        match &mut self.shape {
            Form::Chain(f) => f.shift(step),
            Form::Round { center, radius } => {
                *center = *center + Vec2::new(step[0], step[1]);
                *radius += step[2];
            }
            Form::Spot(p) => *p = *p + Vec2::new(step[0], step[1]),
        }
    }
}

fn corner(f: &Figure, c: usize, axis: Axis) -> Option<(f64, Vec<f64>)> {
    let p = f.corners.get(c)?;
    let mut gradient = vec![0.0; f.parameters() + 1];
    let (value, slot) = match axis {
        Axis::X => (p.x, 2 * c),
        Axis::Y => (p.y, 2 * c + 1),
    };
    gradient[slot] = 1.0;
    Some((value, gradient))
}
