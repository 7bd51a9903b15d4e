//! Quantities of bodies: what a relation, a size or a hint speaks of.
//!
//! A *body* is a loop, a whole circle or a mark. A *quantity* is a number of one body or of two (the direction of
//! an edge, the distance of a hole's centre from a side), and knows its gradient by the free numbers of the bodies:
//! of a chain corners first, x before y, then the bulges of its arcs, then the corner width of its stations; of a
//! circle x, y and radius; of a mark x and y.
#![allow(
    clippy::indexing_slicing,
    reason = "places in the gradient are those the figure itself numbers its corners and arcs with"
)]

use super::figure::Figure;
use crate::geom::{Point, Vec2};

/// An edge of a body; of a circle or a mark there is but one, edge 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Side {
    /// Number of the body.
    pub body: usize,
    /// Number of the edge.
    pub edge: usize,
}

impl Side {
    /// Edge `edge` of body `body`.
    #[must_use]
    pub const fn new(body: usize, edge: usize) -> Self {
        Self { body, edge }
    }
}

/// A place that moves with the bodies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// The corner where an edge starts (of an open chain also the last: its number is that of the edges).
    Corner(Side),
    /// The centre of an arc or a circle, or a mark.
    Center(Side),
    /// Where the lines of two straight edges meet: a corner before it was rounded or clipped.
    Meeting(Side, Side),
}

/// A coordinate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Axis {
    /// Across.
    X,
    /// Up.
    Y,
}

/// A number of one or two bodies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Quantity {
    /// Direction of an edge's chord, radians.
    Direction(Side),
    /// Turn at the joint after an edge, radians.
    Turn(Side),
    /// Sweep of an arc, radians.
    Sweep(Side),
    /// Length of an edge's chord, mm.
    Length(Side),
    /// Radius of an arc or a circle, mm.
    Radius(Side),
    /// A coordinate of a place, mm.
    At(Place, Axis),
    /// How far a place lies to the right of a straight edge's line, mm.
    Offset(Side, Place),
    /// How far the second place lies beyond the first along a straight edge, mm.
    Along(Side, Place, Place),
    /// Distance of two places, mm.
    Span(Place, Place),
    /// Direction from the first place to the second, radians.
    Heading(Place, Place),
}

impl Quantity {
    /// The same of a single chain, of a body among others.
    #[must_use]
    pub fn of_body(self, body: usize) -> Self {
        let at = |s: Side| Side::new(body, s.edge);
        let place = |p: Place| match p {
            Place::Corner(s) => Place::Corner(at(s)),
            Place::Center(s) => Place::Center(at(s)),
            Place::Meeting(s, t) => Place::Meeting(at(s), at(t)),
        };
        let renamed = self.renamed(|s| Some(at(s)), |p| Some(place(p)));
        renamed.unwrap_or(self)
    }

    /// The same of other edges and places; nothing where one of them is gone.
    #[must_use]
    pub fn renamed(
        self,
        at: impl Fn(Side) -> Option<Side>,
        place: impl Fn(Place) -> Option<Place>,
    ) -> Option<Self> {
        Some(match self {
            Self::Direction(s) => Self::Direction(at(s)?),
            Self::Turn(s) => Self::Turn(at(s)?),
            Self::Sweep(s) => Self::Sweep(at(s)?),
            Self::Length(s) => Self::Length(at(s)?),
            Self::Radius(s) => Self::Radius(at(s)?),
            Self::At(p, axis) => Self::At(place(p)?, axis),
            Self::Offset(s, p) => Self::Offset(at(s)?, place(p)?),
            Self::Along(s, p, q) => Self::Along(at(s)?, place(p)?, place(q)?),
            Self::Span(p, q) => Self::Span(place(p)?, place(q)?),
            Self::Heading(p, q) => Self::Heading(place(p)?, place(q)?),
        })
    }

    /// It is an angle (radians) rather than a length (mm).
    #[must_use]
    pub const fn is_angle(self) -> bool {
        match self {
            Self::Direction(_) | Self::Turn(_) | Self::Sweep(_) | Self::Heading(..) => true,
            Self::Length(_)
            | Self::Radius(_)
            | Self::At(..)
            | Self::Offset(..)
            | Self::Along(..)
            | Self::Span(..) => false,
        }
    }
}

/// What a body is made of, as quantities see it.
#[derive(Clone, Copy, Debug)]
pub enum Shape<'a> {
    /// Edges meeting at corners.
    Chain(&'a Figure),
    /// A whole circle: centre and radius.
    Round(Point, f64),
    /// A place.
    Spot(Point),
}

/// Bodies whose free numbers stand side by side.
pub trait Bodies: Clone {
    /// A body and where its numbers begin.
    fn body(&self, body: usize) -> Option<(Shape<'_>, usize)>;
    /// How many numbers all of them have.
    fn numbers(&self) -> usize;
    /// Moves every number by `step`.
    fn shift(&mut self, step: &[f64]);
}

/// A single chain with its corner width.
impl Bodies for Figure {
    fn body(&self, body: usize) -> Option<(Shape<'_>, usize)> {
        (body == 0).then_some((Shape::Chain(self), 0))
    }

    fn numbers(&self) -> usize {
        self.parameters() + 1
    }

    fn shift(&mut self, step: &[f64]) {
        Self::shift(self, step);
    }
}

/// Two places nearer than this have no direction from one to the other, mm.
const APART: f64 = 1e-9;

/// A weighted sum of quantities under construction: its value, and its gradient where there is room for one.
pub(super) struct Sum<'a, B> {
    pub bodies: &'a B,
    pub value: f64,
    pub gradient: Vec<f64>,
}

/// A straight edge's ends, and the step between them.
struct Chord {
    /// Where the corners stand among the numbers.
    slots: [usize; 2],
    from: Point,
    to: Point,
    step: Vec2,
    length: f64,
}

impl Chord {
    fn unit(&self) -> Vec2 {
        self.step / self.length
    }

    /// Which part of the way from the first corner a place is.
    fn part(&self, p: Point) -> f64 {
        self.unit().dot(p - self.from) / self.length
    }
}

impl<B: Bodies> Sum<'_, B> {
    /// Adds `k` times a quantity. `None` where a body has no such thing, or is degenerate there.
    pub fn add(&mut self, k: f64, quantity: Quantity) -> Option<()> {
        match quantity {
            Quantity::Direction(e) => self.direction(e, k),
            Quantity::Turn(e) => self.turn(e, k),
            Quantity::Sweep(e) => {
                self.sweep(e, k);
                Some(())
            }
            Quantity::Length(e) => {
                let c = self.chord(e)?;
                self.value += k * c.length;
                self.push(c.slots[1], c.step * (k / c.length));
                self.push(c.slots[0], -c.step * (k / c.length));
                Some(())
            }
            Quantity::Radius(e) => self.radius(e, k),
            Quantity::At(place, axis) => {
                let p = self.place(place)?;
                let (value, by) = match axis {
                    Axis::X => (p.x, Vec2::new(k, 0.0)),
                    Axis::Y => (p.y, Vec2::new(0.0, k)),
                };
                self.value += k * value;
                self.by_place(place, by)
            }
            Quantity::Offset(line, place) => {
                let (c, p) = (self.chord(line)?, self.place(place)?);
                self.value -= k * c.unit().cross(p - c.from);
                self.by_place(place, c.unit().left() * -k)?;
                self.by_line(&c, p, k);
                Some(())
            }
            Quantity::Along(line, from, to) => {
                let (c, d) = (self.chord(line)?, self.place(to)? - self.place(from)?);
                let u = c.unit();
                self.value += k * u.dot(d);
                self.by_place(to, u * k)?;
                self.by_place(from, u * -k)?;
                let turn = u.left() * (k * u.cross(d) / c.length);
                self.push(c.slots[1], turn);
                self.push(c.slots[0], -turn);
                Some(())
            }
            Quantity::Span(from, to) => {
                let d = self.place(to)? - self.place(from)?;
                let length = d.length();
                self.value += k * length;
                self.between(from, to, d * (k / length), length)
            }
            Quantity::Heading(from, to) => {
                let d = self.place(to)? - self.place(from)?;
                self.value += k * d.angle();
                self.between(from, to, d.left() * (k / d.length_squared()), d.length())
            }
        }
    }

    fn between(&mut self, from: Place, to: Place, by: Vec2, apart: f64) -> Option<()> {
        if apart < APART {
            return None;
        }
        self.by_place(to, by)?;
        self.by_place(from, -by)
    }

    fn figure(&self, body: usize) -> Option<(&Figure, usize)> {
        match self.bodies.body(body)? {
            (Shape::Chain(f), at) => Some((f, at)),
            (Shape::Round(..) | Shape::Spot(_), _) => None,
        }
    }

    fn chord(&self, e: Side) -> Option<Chord> {
        let (f, at) = self.figure(e.body)?;
        let (a, b) = (e.edge, f.end_corner(e.edge));
        let (from, to) = (*f.corners.get(a)?, *f.corners.get(b)?);
        let step = to - from;
        let length = step.length();
        (length > APART).then_some(Chord {
            slots: [at + 2 * a, at + 2 * b],
            from,
            to,
            step,
            length,
        })
    }

    fn add_at(&mut self, slot: usize, g: f64) {
        if let Some(sum) = self.gradient.get_mut(slot) {
            *sum += g;
        }
    }

    fn push(&mut self, slot: usize, g: Vec2) {
        self.add_at(slot, g.x);
        self.add_at(slot + 1, g.y);
    }

    /// An edge's line as it moves to its right at a place.
    fn by_line(&mut self, c: &Chord, at: Point, k: f64) {
        let (n, part) = (c.unit().left() * k, c.part(at));
        self.push(c.slots[0], n * (1.0 - part));
        self.push(c.slots[1], n * part);
    }

    fn direction(&mut self, e: Side, k: f64) -> Option<()> {
        let c = self.chord(e)?;
        let g = c.step.left() * (k / (c.length * c.length));
        self.value += k * c.step.angle();
        self.push(c.slots[1], g);
        self.push(c.slots[0], -g);
        Some(())
    }

    fn sweep(&mut self, e: Side, k: f64) {
        let Some((f, at)) = self.figure(e.body) else {
            return;
        };
        if let Some(slot) = f.bulge_slot(e.edge) {
            let b = f.bulges[e.edge];
            let sweep = f.sweep(e.edge);
            self.value += k * sweep;
            self.add_at(at + slot, k * 4.0 / (1.0 + b * b));
        }
    }

    fn turn(&mut self, e: Side, k: f64) -> Option<()> {
        let count = self.figure(e.body)?.0.len().max(1);
        let next = Side::new(e.body, (e.edge + 1) % count);
        self.direction(next, k)?;
        self.sweep(next, -0.5 * k);
        self.direction(e, -k)?;
        self.sweep(e, -0.5 * k);
        Some(())
    }

    /// An arc's bulge and where it stands; nothing of a straight edge, or of an arc that is as good as one.
    fn bulge(&self, e: Side) -> Option<(f64, usize)> {
        let (f, at) = self.figure(e.body)?;
        let slot = f.bulge_slot(e.edge)?;
        let bulge = f.bulges[e.edge];
        (bulge != 0.0).then_some((bulge, at + slot))
    }

    fn radius(&mut self, e: Side, k: f64) -> Option<()> {
        if let (Shape::Round(_, radius), at) = self.bodies.body(e.body)? {
            self.value += k * radius;
            self.add_at(at + 2, k);
            return Some(());
        }
        let (c, (bulge, slot)) = (self.chord(e)?, self.bulge(e)?);
        let r = c.length * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
        self.value += k * r;
        let by = k * r / (c.length * c.length);
        self.push(c.slots[1], c.step * by);
        self.push(c.slots[0], -c.step * by);
        let by = k * 0.25 * c.length * (1.0 - 1.0 / (bulge * bulge)) * bulge.signum();
        self.add_at(slot, by);
        Some(())
    }

    /// Where a place is.
    pub fn place(&self, place: Place) -> Option<Point> {
        match place {
            Place::Corner(c) => self.figure(c.body)?.0.corners.get(c.edge).copied(),
            Place::Center(e) => match self.bodies.body(e.body)?.0 {
                Shape::Round(p, _) | Shape::Spot(p) => Some(p),
                Shape::Chain(_) => {
                    let (c, (bulge, _)) = (self.chord(e)?, self.bulge(e)?);
                    let g = (1.0 - bulge * bulge) / (4.0 * bulge);
                    Some(c.from.midpoint(c.to) + c.step.left() * g)
                }
            },
            Place::Meeting(e, f) => {
                let (a, b) = (self.chord(e)?, self.chord(f)?);
                let sine = b.unit().cross(a.unit());
                let far = b.unit().left().dot(b.from - a.from) / sine;
                let meet = a.from + a.unit() * far;
                (sine.abs() > APART && meet.is_finite()).then_some(meet)
            }
        }
    }

    /// The gradient of a place, seen along `by`.
    fn by_place(&mut self, place: Place, by: Vec2) -> Option<()> {
        match place {
            Place::Corner(c) => {
                let at = self.figure(c.body)?.1;
                self.push(at + 2 * c.edge, by);
            }
            Place::Center(e) => match self.bodies.body(e.body)? {
                (Shape::Round(..) | Shape::Spot(_), at) => self.push(at, by),
                (Shape::Chain(_), _) => {
                    let (c, (bulge, slot)) = (self.chord(e)?, self.bulge(e)?);
                    let g = (1.0 - bulge * bulge) / (4.0 * bulge);
                    let by_g = -(1.0 + bulge * bulge) / (4.0 * bulge * bulge);
                    self.push(c.slots[0], by * 0.5 - by.left() * -g);
                    self.push(c.slots[1], by * 0.5 + by.left() * -g);
                    self.add_at(slot, by.dot(c.step.left()) * by_g);
                }
            },
            Place::Meeting(e, f) => {
                let (a, b, p) = (self.chord(e)?, self.chord(f)?, self.place(place)?);
                let (n, m) = (a.unit().left(), b.unit().left());
                let sine = n.cross(m);
                // `by` as so much of either line's way to its left.
                self.by_line(&a, p, by.cross(m) / sine);
                self.by_line(&b, p, n.cross(by) / sine);
            }
        }
        Some(())
    }
}
