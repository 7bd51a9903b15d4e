//! What could be asked across loops: directions, lengths, radii, centres.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are counted by the joint system they stand in"
)]

use super::holes::Group;
use super::{Part, extent, longest};
use crate::geom::{Point, Vec2, normalize_angle};
use crate::outline::{Bounds, Circle, Path};
use crate::relate::across::{Axis, Body, Center, Form, Joint, Number, Of, Tie};
use crate::relate::choose::{Meant, Terms};
use crate::relate::figure::Figure;
use crate::report::RelationKind;
use core::f64::consts::{FRAC_PI_2, PI, TAU};

/// Directions further than this from a right angle or a parallel are not even asked, radians.
const ANGLE_REACH: f64 = 0.2;
/// Lengths and radii further apart than this factor are not asked to be equal.
const EQUAL_REACH: f64 = 1.3;
/// Centres further apart than this part of all that is there, or of the larger radius, are not asked to be one.
const CENTER_REACH: f64 = 0.05;
const CENTER_REACH_OF_RADIUS: f64 = 0.25;
/// A loop whose corners miss themselves by more than this part of its radius, turned, has no middle.
const LIKE_ITSELF: f64 = 0.03;
/// Loops whose boxes differ by less than this part of them lie on one another.
const SAME_PLACE: f64 = 0.1;
/// How many of the longest edges of a loop are asked, and of each where there are many loops.
const LONGEST: usize = 4;
const LONGEST_OF_MANY: usize = 2;
const MANY: usize = 8;

/// A relation that could hold: all of its ties, or none.
pub(super) struct Offer {
    pub kind: RelationKind,
    pub of: Vec<Part>,
    pub ties: Vec<Tie>,
    pub terms: Terms,
    /// How far its numbers could have been from zero, mm.
    pub range: f64,
}

impl Offer {
    /// The length or radius that is shared.
    pub fn shared(&self) -> Option<Number> {
        let shared = matches!(
            self.kind,
            RelationKind::EqualLength | RelationKind::EqualRadius
        );
        self.ties
            .first()?
            .terms
            .first()
            .filter(|_| shared)
            .map(|t| t.1)
    }
}

/// Everything that could be asked.
pub(super) fn all(joint: &Joint, patterns: &[Group]) -> Vec<Offer> {
    let mut out = Vec::new();
    let size = extent(joint);
    let boxes: Vec<Option<Bounds>> = joint.bodies.iter().map(bounds).collect();
    let apart = |a: usize, b: usize| a != b && !is_same_place(boxes[a], boxes[b]);
    let straight = straights(joint, patterns);
    for (i, (number, of)) in straight.iter().enumerate() {
        for (other, more) in &straight[i + 1..] {
            if apart(of[0].0, more[0].0) {
                let all = [of.as_slice(), more].concat();
                out.extend(direction(joint, (*number, *other), all));
            }
        }
    }
    for a in 0..joint.bodies.len() {
        for b in (a + 1..joint.bodies.len()).filter(|b| apart(a, *b)) {
            twins(joint, a, b, size, &mut out);
            out.extend(equal_circles(joint, a, b));
        }
    }
    let middles = middles(joint, patterns);
    for (i, m) in middles.iter().enumerate() {
        let others = middles[i + 1..].iter();
        let others = others.filter(|o| m.of.iter().all(|p| o.of.iter().all(|q| apart(p.0, q.0))));
        out.extend(others.filter_map(|o| m.one_with(o, size)));
    }
    out
}

/// The box that a body takes up; none for a mark.
fn bounds(b: &Body) -> Option<Bounds> {
    match &b.shape {
        Form::Chain(f) => Bounds::of_path(&Path::Chain(f.to_chain())),
        Form::Round { center, radius } => Bounds::of_path(&Path::Circle(Circle {
            center: *center,
            radius: *radius,
            counter_clockwise: true,
        })),
        Form::Spot(_) => None,
    }
}

/// Two loops that lie on one another: one traced twice, with which nothing is to be made the same.
fn is_same_place(a: Option<Bounds>, b: Option<Bounds>) -> bool {
    let (Some(a), Some(b)) = (a, b) else {
        return false;
    };
    let off = a.min.distance(b.min).max(a.max.distance(b.max));
    off < SAME_PLACE * a.diagonal().max(b.diagonal())
}

/// What has a direction: long straight edges, and patterns of holes.
fn straights(joint: &Joint, patterns: &[Group]) -> Vec<(Number, Vec<Part>)> {
    let most = if joint.bodies.len() > MANY {
        LONGEST_OF_MANY
    } else {
        LONGEST
    };
    let mut out = Vec::new();
    for b in 0..joint.bodies.len() {
        for e in longest(joint, b, most) {
            out.push((Number::One(b, Of::Direction(e)), vec![(b, Some(e))]));
        }
    }
    for p in patterns {
        let of = p.centers.iter().map(|c| (c.body, Some(c.edge))).collect();
        out.extend(p.heading().map(|h| (h, of)));
    }
    out
}

fn direction(joint: &Joint, (a, b): (Number, Number), of: Vec<Part>) -> Option<Offer> {
    let turn = joint.number(b)?.0 - joint.number(a)?.0;
    let quarters = libm::round(turn / FRAC_PI_2);
    let angle = quarters * FRAC_PI_2;
    let near = normalize_angle(turn - angle).abs() < ANGLE_REACH;
    near.then(|| Offer {
        kind: if (quarters / 2.0).fract() == 0.0 {
            RelationKind::Parallel
        } else {
            RelationKind::Square
        },
        of,
        ties: vec![Tie::difference(b, a, angle)],
        terms: Terms {
            price: 1.0,
            meant: Some(Meant::SQUARE),
            late: false,
        },
        range: PI,
    })
}

/// Two loops of the same edges in the same order: the same opening twice. Lengths and radii are asked
/// where one is laid on the other.
fn twins(joint: &Joint, a: usize, b: usize, size: f64, out: &mut Vec<Offer>) {
    let (Form::Chain(f), Form::Chain(g)) = (&joint.bodies[a].shape, &joint.bodies[b].shape) else {
        return;
    };
    let n = f.len();
    if n != g.len() || f.closed != g.closed {
        return;
    }
    let is_arc = |figure: &Figure, e: usize| figure.bulges[e] != 0.0;
    let turned = |k: usize, e: usize| (e + k) % n;
    // The turn of one on the other at which edges are most alike.
    let unlike = |k: usize| -> f64 {
        (0..n)
            .map(|e| {
                let h = turned(k, e);
                if is_arc(f, e) != is_arc(g, h) {
                    return f64::INFINITY;
                }
                libm::log(f.edge_length(e) / g.edge_length(h)).abs()
            })
            .fold(0.0, f64::max)
    };
    let turns = if f.closed { n } else { 1 };
    let best = (0..turns)
        .map(|k| (unlike(k), k))
        .min_by(|x, y| x.0.total_cmp(&y.0));
    let Some((apart, k)) = best else { return };
    if apart.is_nan() || apart >= libm::log(EQUAL_REACH) {
        return;
    }
    for e in 0..n {
        let h = turned(k, e);
        let (kind, of, range, price) = if is_arc(f, e) {
            let range = 5.0 * f.radius(e).min(g.radius(h));
            (
                RelationKind::EqualRadius,
                [Of::Radius(e), Of::Radius(h)],
                range,
                0.7,
            )
        } else {
            (
                RelationKind::EqualLength,
                [Of::Length(e), Of::Length(h)],
                size,
                1.5,
            )
        };
        out.push(Offer {
            kind,
            of: vec![(a, Some(e)), (b, Some(h))],
            ties: vec![Tie::difference(
                Number::One(a, of[0]),
                Number::One(b, of[1]),
                0.0,
            )],
            terms: Terms {
                price,
                meant: None,
                late: true,
            },
            range,
        });
    }
}

/// Two circles of one radius.
fn equal_circles(joint: &Joint, a: usize, b: usize) -> Option<Offer> {
    let (Form::Round { radius: r, .. }, Form::Round { radius: s, .. }) =
        (&joint.bodies[a].shape, &joint.bodies[b].shape)
    else {
        return None;
    };
    let (of, other) = (Number::One(a, Of::Radius(0)), Number::One(b, Of::Radius(0)));
    (r.max(*s) < EQUAL_REACH * r.min(*s)).then(|| Offer {
        kind: RelationKind::EqualRadius,
        of: vec![(a, Some(0)), (b, Some(0))],
        ties: vec![Tie::difference(of, other, 0.0)],
        terms: Terms {
            price: 0.7,
            meant: None,
            late: true,
        },
        range: 5.0 * r.min(*s),
    })
}

/// The middle of a circle, an arc, a pattern of holes, or a loop that is alike about it.
struct Middle {
    of: Vec<Part>,
    x: Vec<(f64, Number)>,
    y: Vec<(f64, Number)>,
    at: Point,
    /// Half of how far it reaches, mm.
    radius: f64,
}

impl Middle {
    fn of_center(joint: &Joint, c: Center, radius: f64) -> Option<Self> {
        Self::mean(
            joint,
            &[(
                c.body,
                Of::Center(c.edge, Axis::X),
                Of::Center(c.edge, Axis::Y),
            )],
            radius,
        )
    }

    /// The mean of some places, each given by its x and its y.
    fn mean(joint: &Joint, places: &[(usize, Of, Of)], radius: f64) -> Option<Self> {
        let share = 1.0 / places.len() as f64;
        let sum = |axis: &dyn Fn(&(usize, Of, Of)) -> Of| -> Vec<(f64, Number)> {
            let term = |p: &(usize, Of, Of)| (share, Number::One(p.0, axis(p)));
            places.iter().map(term).collect()
        };
        let (x, y) = (sum(&|p| p.1), sum(&|p| p.2));
        let value = |terms: &[(f64, Number)]| -> Option<f64> {
            terms
                .iter()
                .map(|(k, n)| Some(k * joint.number(*n)?.0))
                .sum()
        };
        let edge = |of: Of| match of {
            Of::Center(e, _) => Some(e),
            _ => None,
        };
        let mut of: Vec<Part> = places.iter().map(|p| (p.0, edge(p.1))).collect();
        of.dedup();
        Some(Self {
            of,
            at: Point::new(value(&x)?, value(&y)?),
            x,
            y,
            radius,
        })
    }

    /// This and another are one.
    fn one_with(&self, other: &Self, size: f64) -> Option<Offer> {
        let reach = CENTER_REACH_OF_RADIUS * self.radius.max(other.radius);
        let near = self.at.distance(other.at) < reach.min(CENTER_REACH * size);
        let tie = |a: &[(f64, Number)], b: &[(f64, Number)]| Tie {
            terms: a
                .iter()
                .copied()
                .chain(b.iter().map(|(k, n)| (-k, *n)))
                .collect(),
            value: 0.0,
            is_angle: false,
        };
        near.then(|| Offer {
            kind: RelationKind::OneCenter,
            of: [self.of.as_slice(), &other.of].concat(),
            ties: vec![tie(&self.x, &other.x), tie(&self.y, &other.y)],
            terms: Terms {
                price: 1.5,
                meant: None,
                late: true,
            },
            range: size,
        })
    }
}

/// Everything that has a middle.
fn middles(joint: &Joint, patterns: &[Group]) -> Vec<Middle> {
    let mut out = Vec::new();
    for (body, b) in joint.bodies.iter().enumerate() {
        match &b.shape {
            Form::Chain(f) => {
                for edge in (0..f.len()).filter(|&e| f.bulges[e] != 0.0) {
                    out.extend(Middle::of_center(
                        joint,
                        Center { body, edge },
                        f.radius(edge),
                    ));
                }
                out.extend(middle_of_loop(joint, body, f));
            }
            Form::Round { radius, .. } => {
                out.extend(Middle::of_center(joint, Center { body, edge: 0 }, *radius));
            }
            Form::Spot(_) => out.extend(Middle::of_center(joint, Center { body, edge: 0 }, 0.0)),
        }
    }
    for p in patterns.iter().filter(|p| p.is_round_a_middle()) {
        let place = |c: &Center| {
            (
                c.body,
                Of::Center(c.edge, Axis::X),
                Of::Center(c.edge, Axis::Y),
            )
        };
        let places: Vec<_> = p.centers.iter().map(place).collect();
        let reach = p.pattern.holes.iter().map(|h| h.distance(p.pattern.center));
        let radius = reach.fold(0.0, f64::max);
        out.extend(Middle::mean(joint, &places, radius));
    }
    out
}

/// The middle of a closed loop that a half turn, or the turn of a regular figure, lays on itself.
fn middle_of_loop(joint: &Joint, body: usize, f: &Figure) -> Option<Middle> {
    let n = f.len();
    if !f.closed || n < 3 {
        return None;
    }
    let place = |c: usize| (body, Of::Corner(c, Axis::X), Of::Corner(c, Axis::Y));
    let places: Vec<_> = (0..n).map(place).collect();
    let reach = |at: Point| f.corners.iter().map(move |c| c.distance(at));
    let mut middle = Middle::mean(joint, &places, 0.0)?;
    let largest = reach(middle.at).fold(0.0, f64::max);
    middle.radius = reach(middle.at).fold(f64::INFINITY, f64::min);
    let lays_on_itself = |by: usize, angle: f64| {
        (0..n).all(|c| {
            let d = f.corners[c] - middle.at;
            let (s, k) = (libm::sin(angle), libm::cos(angle));
            let turned = middle.at + Vec2::new(k * d.x - s * d.y, s * d.x + k * d.y);
            let image = (c + by) % n;
            f.kinds[c] == f.kinds[image]
                && turned.distance(f.corners[image]) < LIKE_ITSELF * largest
        })
    };
    let way = Path::Chain(f.to_chain()).area().signum();
    let half = n.is_multiple_of(2) && lays_on_itself(n / 2, PI);
    let regular = || lays_on_itself(1, way * TAU / n as f64);
    (half || regular()).then_some(middle)
}
