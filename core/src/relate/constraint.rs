//! Constraints: weighted sums of quantities that are held to a value, and the relations that are made of them.

use super::quantity::{Axis, Bodies, Place, Quantity, Side, Sum};
use crate::geom::normalize_angle;
use crate::report::RelationKind;

/// A weighted sum of quantities, held to a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Constraint {
    /// Quantities, each so many times.
    pub terms: Vec<(f64, Quantity)>,
    /// What they come to together, mm or radians.
    pub value: f64,
}

/// A constraint as seen from where the bodies stand.
#[derive(Clone, Debug)]
pub struct Linear {
    /// The number that must become zero.
    pub value: f64,
    /// Its gradient by the bodies' free numbers.
    pub gradient: Vec<f64>,
}

impl Constraint {
    /// One quantity has this value.
    #[must_use]
    pub fn at(quantity: Quantity, value: f64) -> Self {
        Self {
            terms: vec![(1.0, quantity)],
            value,
        }
    }

    /// One quantity is as large as another, and `more` besides.
    #[must_use]
    pub fn difference(of: Quantity, from: Quantity, more: f64) -> Self {
        Self {
            terms: vec![(1.0, of), (-1.0, from)],
            value: more,
        }
    }

    /// The sum of some terms is nothing.
    #[must_use]
    pub fn none(terms: Vec<(f64, Quantity)>) -> Self {
        Self { terms, value: 0.0 }
    }

    /// Two places are one: of either coordinate a constraint.
    #[must_use]
    pub fn one_place(a: Place, b: Place) -> Vec<Self> {
        [Axis::X, Axis::Y]
            .map(|axis| Self::difference(Quantity::At(a, axis), Quantity::At(b, axis), 0.0))
            .to_vec()
    }

    /// The same said of a single chain, of a body among others.
    #[must_use]
    pub fn of_body(&self, body: usize) -> Self {
        Self {
            terms: self
                .terms
                .iter()
                .map(|(k, q)| (*k, q.of_body(body)))
                .collect(),
            value: self.value,
        }
    }

    /// The same said of other edges and places; nothing where one of them is gone.
    #[must_use]
    pub fn renamed(
        &self,
        at: impl Fn(Side) -> Option<Side>,
        place: impl Fn(Place) -> Option<Place>,
    ) -> Option<Self> {
        let term = |(k, q): &(f64, Quantity)| Some((*k, q.renamed(&at, &place)?));
        Some(Self {
            terms: self.terms.iter().map(term).collect::<Option<_>>()?,
            value: self.value,
        })
    }

    /// The sum is an angle (radians), of which whole turns do not count, rather than a length (mm).
    #[must_use]
    pub fn is_angle(&self) -> bool {
        self.terms.first().is_some_and(|t| t.1.is_angle())
    }

    /// Value and gradient where the bodies stand. `None` where one has not got what is asked for.
    #[must_use]
    pub fn linear<B: Bodies>(&self, bodies: &B) -> Option<Linear> {
        self.sum(bodies, vec![0.0; bodies.numbers()])
    }

    /// How far the sum is from its value.
    #[must_use]
    pub fn off<B: Bodies>(&self, bodies: &B) -> Option<f64> {
        Some(self.sum(bodies, Vec::new())?.value)
    }

    fn sum<B: Bodies>(&self, bodies: &B, gradient: Vec<f64>) -> Option<Linear> {
        let mut sum = Sum {
            bodies,
            value: 0.0,
            gradient,
        };
        for &(k, quantity) in &self.terms {
            sum.add(k, quantity)?;
        }
        let value = sum.value - self.value;
        let value = if self.is_angle() {
            normalize_angle(value)
        } else {
            value
        };
        let fine = value.is_finite() && sum.gradient.iter().all(|g| g.is_finite());
        fine.then_some(Linear {
            value,
            gradient: sum.gradient,
        })
    }

    /// It is met: angles to 1e-10 rad, lengths to 1e-8 mm.
    #[must_use]
    pub fn is_met<B: Bodies>(&self, bodies: &B) -> bool {
        let slack = if self.is_angle() {
            MET_ANGLE
        } else {
            MET_LENGTH
        };
        self.off(bodies).is_some_and(|off| off.abs() < slack)
    }
}

/// Constraints are met to this: radians, mm.
pub const MET_ANGLE: f64 = 1e-10;
/// As [`MET_ANGLE`], mm.
pub const MET_LENGTH: f64 = 1e-8;

/// What a condition is said of: an edge, or a whole body where there is none.
pub type Member = (usize, Option<usize>);

/// A relation between particular edges, with the constraints that say so: all of them hold, or none.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// Which kind.
    pub kind: RelationKind,
    /// What it ties together, in the order the kind wants it.
    pub of: Vec<Member>,
    /// Its constraints.
    pub constraints: Vec<Constraint>,
}

impl Condition {
    /// A condition on edges.
    #[must_use]
    pub fn new(kind: RelationKind, of: &[Side], constraints: Vec<Constraint>) -> Self {
        Self {
            kind,
            of: of.iter().map(|s| (s.body, Some(s.edge))).collect(),
            constraints,
        }
    }

    /// The same said of other edges and places; nothing where one of them is gone.
    #[must_use]
    pub fn renamed(
        &self,
        at: impl Fn(Side) -> Option<Side>,
        place: impl Fn(Place) -> Option<Place>,
    ) -> Option<Self> {
        let member = |m: &Member| match m.1 {
            Some(e) => at(Side::new(m.0, e)).map(|s| (s.body, Some(s.edge))),
            // A whole body stays what it is as long as any edge of it does.
            None => at(Side::new(m.0, 0)).map(|s| (s.body, None)),
        };
        let all = self.constraints.iter();
        Some(Self {
            kind: self.kind,
            of: self.of.iter().map(member).collect::<Option<_>>()?,
            constraints: all.map(|c| c.renamed(&at, &place)).collect::<Option<_>>()?,
        })
    }

    /// Edge `e` of a single chain runs into the next without a kink.
    #[must_use]
    pub fn tangent(e: usize) -> Self {
        let e = Side::new(0, e);
        let smooth = Constraint::at(Quantity::Turn(e), 0.0);
        Self::new(RelationKind::Tangent, &[e], vec![smooth])
    }

    /// Two arcs of a single chain have one radius.
    #[must_use]
    pub fn equal_radius(e: usize, f: usize) -> Self {
        let of = [Side::new(0, e), Side::new(0, f)];
        let [e, f] = of.map(Quantity::Radius);
        let alike = Constraint::difference(e, f, 0.0);
        Self::new(RelationKind::EqualRadius, &of, vec![alike])
    }

    /// An arc of a single chain has this radius, mm.
    #[must_use]
    pub fn radius(e: usize, value: f64) -> Self {
        let e = Side::new(0, e);
        let sized = Constraint::at(Quantity::Radius(e), value);
        Self::new(RelationKind::Size, &[e], vec![sized])
    }

    /// Whether it is of this kind and said of these edges of a single chain, in this order.
    #[must_use]
    pub fn is(&self, kind: RelationKind, edges: &[usize]) -> bool {
        let same = |(m, e): (&Member, &usize)| m.1 == Some(*e);
        self.kind == kind && self.of.len() == edges.len() && self.of.iter().zip(edges).all(same)
    }

    /// All of it is met.
    #[must_use]
    pub fn is_met<B: Bodies>(&self, bodies: &B) -> bool {
        self.constraints.iter().all(|c| c.is_met(bodies))
    }

    /// A size or a place that a person gave: it goes before what the stations say of an edge's length.
    #[must_use]
    pub fn is_said(&self) -> bool {
        self.kind == RelationKind::Size
    }
}

/// The constraints of some conditions, one after the other.
pub fn constraints(conditions: &[Condition]) -> impl Iterator<Item = &Constraint> + Clone {
    conditions.iter().flat_map(|c| &c.constraints)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::partition::Kind;
    use crate::geom::Point;
    use crate::relate::across::{Body, Form, Joint};
    use crate::relate::figure::Figure;
    use crate::relate::normal::Normal;

    /// A chain of two lines and two arcs, a circle and a mark.
    fn bodies() -> Joint {
        let figure = Figure {
            corners: [(0.0, 0.0), (40.0, 3.0), (44.0, 30.0), (-5.0, 33.0)]
                .map(|(x, y)| Point::new(x, y))
                .to_vec(),
            bulges: vec![0.0, 0.4, 0.0, -0.6],
            kinds: vec![Kind::Line, Kind::Arc, Kind::Line, Kind::Arc],
            closed: true,
        };
        let center = Point::new(12.0, 14.0);
        let forms = [
            Form::Chain(figure),
            Form::Round {
                center,
                radius: 4.0,
            },
            Form::Spot(Point::new(25.0, 9.0)),
        ];
        let body = |(shape, n): (Form, usize)| {
            let unit = |i: usize| f64::from(u8::from(i.is_multiple_of(n + 1)));
            Body {
                shape,
                own: Vec::new(),
                normal: Normal::new((0..n * n).map(unit).collect(), &vec![0.0; n]).unwrap(),
                factor: 1.0,
            }
        };
        Joint::new(forms.into_iter().zip([11, 3, 2]).map(body).collect())
    }

    #[test]
    fn gradients_agree_with_differences() {
        let [base, bow, top, end] = [0, 1, 2, 3].map(|e| Side::new(0, e));
        let hole = Place::Center(Side::new(1, 0));
        let mark = Place::Center(Side::new(2, 0));
        let meeting = Place::Meeting(base, top);
        let all = [
            Quantity::Direction(top),
            Quantity::Turn(base),
            Quantity::Turn(end),
            Quantity::Sweep(bow),
            Quantity::Length(bow),
            Quantity::Radius(end),
            Quantity::Radius(Side::new(1, 0)),
            Quantity::At(Place::Center(bow), Axis::X),
            Quantity::At(Place::Center(end), Axis::Y),
            Quantity::At(Place::Corner(top), Axis::Y),
            Quantity::At(meeting, Axis::X),
            Quantity::At(mark, Axis::Y),
            Quantity::Offset(base, Place::Corner(top)),
            Quantity::Offset(top, hole),
            Quantity::Along(top, meeting, Place::Corner(end)),
            Quantity::Along(base, hole, Place::Center(bow)),
            Quantity::Span(hole, mark),
            Quantity::Heading(mark, Place::Center(end)),
        ];
        let bodies = bodies();
        for quantity in all {
            let c = Constraint::at(quantity, 0.3);
            let here = c.linear(&bodies).unwrap();
            for i in 0..bodies.numbers() {
                let value = |by: f64| {
                    let mut moved = bodies.clone();
                    let mut step = vec![0.0; moved.numbers()];
                    step[i] = by;
                    moved.shift(&step);
                    c.off(&moved).unwrap()
                };
                let slope = (value(1e-6) - value(-1e-6)) / 2e-6;
                let gradient = here.gradient[i];
                let slack = 1e-6 * gradient.abs().max(1.0);
                assert!(
                    (slope - gradient).abs() < slack,
                    "{c:?} {i} {slope} {gradient}"
                );
            }
        }
    }

    #[test]
    fn a_constraint_of_several_bodies_is_met() {
        let apart = Condition::new(
            RelationKind::Size,
            &[],
            vec![
                Constraint::at(
                    Quantity::Span(
                        Place::Center(Side::new(1, 0)),
                        Place::Center(Side::new(2, 0)),
                    ),
                    20.0,
                ),
                Constraint::at(
                    Quantity::Offset(Side::new(0, 0), Place::Center(Side::new(1, 0))),
                    -15.0,
                ),
            ],
        );
        let solved = bodies().solve(std::slice::from_ref(&apart)).unwrap();
        assert!(apart.is_met(&solved));
    }
}
