//! All loops of a trace as one system: the joint equations of several bodies.
//!
//! **Problem.** An opening is meant parallel to the part it lies in, holes alike and in a row, a hole
//! about the centre of a rounded end. Each loop was solved against its own stations; what ties them
//! together must move all of them as little as their stations allow, and keep each loop's own relations.
//!
//! **How.** Loops share no stations: their equations stand side by side in one block-diagonal system, each
//! with its own noise. Over the few tenths of a millimetre that loops move by here, what their stations say is
//! as good as quadratic, so each is taken as it stood at its own solution ([`super::descent`] goes on from there),
//! and only constraints (each loop's own and those across) are made linear again at every step.
//!
//! **Fails** where a tie would move a loop by much more than its stations allow; such ties are not asked.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint system itself, and have one place each in its tables"
)]

use super::constraint::{Condition, Constraint, constraints};
use super::dense::{add, dot};
use super::descent::{Care, Constraints, Evidence};
use super::equations::{System, Weighing};
use super::figure::Figure;
use super::normal::Normal;
use super::quantity::{Bodies, Shape};
use crate::geom::{Point, Vec2};

/// One loop, hole or mark in the joint system.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    /// Where it stands.
    pub shape: Form,
    /// Conditions it has to keep, said of body 0.
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

impl Form {
    fn shift(&mut self, step: &[f64]) {
        match self {
            Self::Chain(f) => f.shift(step),
            Self::Round { center, radius } => {
                *center = *center + Vec2::new(step[0], step[1]);
                *radius += step[2];
            }
            Self::Spot(p) => *p = *p + Vec2::new(step[0], step[1]),
        }
    }
}

/// All bodies with their equations side by side.
#[derive(Clone, Debug)]
pub(crate) struct Joint {
    pub bodies: Vec<Body>,
    /// Where each body's numbers begin.
    offsets: Vec<usize>,
    /// The second derivatives of what all stations say, and the gradient where all stand.
    h: Vec<f64>,
    g: Vec<f64>,
    /// What it costs to stand there rather than where they first did, nats.
    cost: f64,
}

impl Joint {
    /// The system of these bodies where they stand.
    pub fn new(bodies: Vec<Body>) -> Self {
        let mut offsets = Vec::with_capacity(bodies.len());
        let mut n = 0;
        for b in &bodies {
            offsets.push(n);
            n += b.normal.size();
        }
        let (mut h, mut g) = (vec![0.0; n * n], Vec::with_capacity(n));
        for (b, &at) in bodies.iter().zip(&offsets) {
            let k = 1.0 / b.factor;
            let (own, gradient) = b.normal.equations();
            for (i, row) in own.chunks_exact(gradient.len()).enumerate() {
                add(&mut h[(at + i) * n + at..], k, row);
            }
            g.extend(gradient.iter().map(|v| k * v));
        }
        Self {
            bodies,
            offsets,
            h,
            g,
            cost: 0.0,
        }
    }

    /// The equations held to every body's own conditions and to `ties`, where all stand now.
    pub fn held(&self, ties: &[Condition]) -> Option<Normal> {
        let mut normal = Normal::new(self.h.clone(), &self.g)?;
        for c in self.own().iter().chain(constraints(ties)) {
            let linear = c.linear(self)?;
            normal.condition(&linear.gradient, -linear.value, f64::INFINITY);
        }
        Some(normal)
    }

    /// A body's gradient among all numbers.
    pub fn wide(&self, body: usize, gradient: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.numbers()];
        let at = self.offsets[body];
        out[at..at + gradient.len()].copy_from_slice(gradient);
        out
    }

    /// Every body's own constraints.
    fn own(&self) -> Vec<Constraint> {
        let of_body = |(i, b): (usize, &Body)| -> Vec<Constraint> {
            constraints(&b.own).map(|c| c.of_body(i)).collect()
        };
        self.bodies.iter().enumerate().flat_map(of_body).collect()
    }

    /// Moves all bodies to where they fit best under their own conditions and `ties`. `None` where they
    /// cannot all be met.
    pub fn solve(&self, ties: &[Condition]) -> Option<Self> {
        let own = self.own();
        let held = Constraints {
            firm: own.len(),
            all: own.iter().chain(constraints(ties)).collect(),
            said: true,
        };
        let mut out = self.clone();
        held.solve(&mut out, Care::FINAL)?;
        held.all.iter().all(|c| c.is_met(&out)).then_some(out)
    }

    /// The diagonal of all that is there, mm.
    pub fn extent(&self) -> f64 {
        let mut low = Point::new(f64::INFINITY, f64::INFINITY);
        let mut high = Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY);
        let mut take = |p: Point| {
            low = Point::new(low.x.min(p.x), low.y.min(p.y));
            high = Point::new(high.x.max(p.x), high.y.max(p.y));
        };
        for b in &self.bodies {
            match &b.shape {
                Form::Chain(f) => f.corners.iter().for_each(|c| take(*c)),
                Form::Round { center, .. } | Form::Spot(center) => take(*center),
            }
        }
        low.distance(high).max(1.0)
    }
}

impl Bodies for Joint {
    fn body(&self, body: usize) -> Option<(Shape<'_>, usize)> {
        let shape = match &self.bodies.get(body)?.shape {
            Form::Chain(f) => Shape::Chain(f),
            Form::Round { center, radius } => Shape::Round(*center, *radius),
            Form::Spot(at) => Shape::Spot(*at),
        };
        Some((shape, *self.offsets.get(body)?))
    }

    fn numbers(&self) -> usize {
        self.g.len()
    }

    fn shift(&mut self, step: &[f64]) {
        let n = self.g.len();
        for ((row, g), s) in self.h.chunks_exact(n.max(1)).zip(&mut self.g).zip(step) {
            let bent = dot(row, step);
            self.cost += s * (*g + 0.5 * bent);
            *g += bent;
        }
        for (b, &at) in self.bodies.iter_mut().zip(&self.offsets) {
            b.shape.shift(&step[at..at + b.normal.size()]);
        }
    }
}

impl Evidence for Joint {
    type Bodies = Self;
    type State = (Vec<Form>, Vec<f64>, f64);

    fn bodies(&self) -> &Self {
        self
    }

    fn state(&self) -> Self::State {
        let shapes = self.bodies.iter().map(|b| b.shape.clone()).collect();
        (shapes, self.g.clone(), self.cost)
    }

    fn set(&mut self, (shapes, g, cost): Self::State) {
        for (b, shape) in self.bodies.iter_mut().zip(shapes) {
            b.shape = shape;
        }
        (self.g, self.cost) = (g, cost);
    }

    fn equations(&self, _: Weighing) -> Option<System> {
        let places = |(b, &at): (&Body, &usize)| match &b.shape {
            Form::Chain(f) => (at, f.corners.len()),
            Form::Round { .. } | Form::Spot(_) => (at, 1),
        };
        Some(System {
            h: self.h.clone(),
            g: self.g.clone(),
            places: self.bodies.iter().zip(&self.offsets).map(places).collect(),
            bend: 0.0,
            cost: self.cost,
            mean_square: 0.0,
        })
    }

    fn apply(&mut self, step: &[f64]) -> f64 {
        self.shift(step);
        step.iter().fold(0.0, |most, s| most.max(s.abs()))
    }

    fn unit(&self) -> f64 {
        UNIT
    }
}

/// What moves of bodies are told against, mm: they are still when none moves by a ten-millionth of it.
const UNIT: f64 = 1e-4;
