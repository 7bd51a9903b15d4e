//! What should stay as it is: every size, every direction, and where holes lie in their part.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in, edges by their figure"
)]

use crate::fit::partition::Kind;
use crate::geom::{Point, normalize_angle};
use crate::outline::nesting::parents;
use crate::outline::{Circle, Loop, Path, Role};
use crate::relate::across::{Form, Joint};
use crate::relate::change::Wish;
use crate::relate::constraint::Constraint;
use crate::relate::figure::Figure;
use crate::relate::quantity::{Axis, Place, Quantity, Side};
use core::f64::consts::FRAC_PI_4;

/// No wish is surer than this or less sure than that, mm (and radians for directions).
const SIZES: [f64; 2] = [0.05, 1.5];
const TURNS: [f64; 2] = [2e-4, 5e-3];
/// How sure it is where a body lies on the plate, and a hole beside its nearest edge, mm.
const PLACE: f64 = 20.0;
const BESIDE: f64 = 0.3;
/// How sure it is how far an arc turns, radians: hardly. But at half a turn its radius does not say so at all, and what
/// nothing else says is not free to take up every condition.
const SWEEP: f64 = 0.2;
/// The same of a hole that is told to lie elsewhere.
const MOVED: f64 = 10.0;
/// How the holes of a pattern lie to one another, mm.
const SPACED: f64 = 0.1;
/// Part of a size that it may change by where all must give way.
const IN_PROPORTION: f64 = 0.05;
/// How much less sure it is of an edge twice as far away.
const FARTHER: f64 = 3.0;

pub(super) fn size(constraint: Constraint, deviation: f64) -> Wish {
    let [least, most] = if constraint.is_angle() { TURNS } else { SIZES };
    Wish {
        constraint,
        deviation: deviation.clamp(least, most),
    }
}

/// The same, as unsure as the thing is large.
pub(super) fn in_proportion(wish: &Wish) -> Wish {
    let large = IN_PROPORTION * wish.constraint.value.abs();
    let is_size = !wish.constraint.is_angle();
    Wish {
        deviation: if is_size {
            wish.deviation.max(large)
        } else {
            wish.deviation
        },
        ..wish.clone()
    }
}

/// Something held at what it is now.
fn stays(joint: &Joint, quantity: Quantity, deviation: f64) -> Option<Wish> {
    let mut constraint = Constraint::at(quantity, 0.0);
    constraint.value = constraint.off(joint)?;
    Some(Wish {
        constraint,
        deviation,
    })
}

/// Where every body lies, and which way its straight edges run, each so surely; nothing of those that are told to
/// run another way.
pub(super) fn places(joint: &Joint, ways: impl Fn(Side) -> Option<f64>) -> Vec<Wish> {
    let mut out = Vec::new();
    for (body, b) in joint.bodies.iter().enumerate() {
        let mut at = |place| {
            for axis in [Axis::X, Axis::Y] {
                out.extend(stays(joint, Quantity::At(place, axis), PLACE));
            }
        };
        match &b.shape {
            Form::Chain(f) => {
                (0..f.corners.len()).for_each(|c| at(Place::Corner(Side::new(body, c))));
                for e in 0..f.len() {
                    let side = Side::new(body, e);
                    let [least, most] = TURNS;
                    let surely = match f.kinds[e] {
                        Kind::Line => ways(side).map(|d| d.clamp(least, most)),
                        Kind::Arc => Some(10.0 * most),
                    };
                    let way = |d| stays(joint, Quantity::Direction(side), d);
                    out.extend(surely.and_then(way));
                    if f.kinds[e] == Kind::Arc {
                        out.extend(stays(joint, Quantity::Sweep(side), SWEEP));
                    }
                }
            }
            Form::Round { .. } | Form::Spot(_) => at(Place::Center(Side::new(body, 0))),
        }
    }
    out
}

/// The holes of a pattern keep their distances.
pub(super) fn spaced(joint: &Joint, quantity: Quantity) -> Option<Wish> {
    stays(joint, quantity, SPACED)
}

/// Which body each lies in, the smallest that holds it.
pub(super) fn holders(joint: &Joint) -> Vec<Option<usize>> {
    let loops: Vec<Loop> = joint.bodies.iter().map(|b| as_loop(&b.shape)).collect();
    let area = |i: &usize| loops[*i].path.area().abs();
    parents(&loops)
        .into_iter()
        .map(|above| {
            let above = above.into_iter().flatten();
            above.min_by(|a, b| area(a).total_cmp(&area(b)))
        })
        .collect()
}

fn as_loop(shape: &Form) -> Loop {
    let circle = |center, radius| {
        Path::Circle(Circle {
            center,
            radius,
            counter_clockwise: true,
        })
    };
    let path = match shape {
        Form::Chain(f) => Path::Chain(f.to_chain()),
        Form::Round { center, radius } => circle(*center, *radius),
        Form::Spot(at) => circle(*at, 1e-3),
    };
    Loop {
        role: if path.is_closed() {
            Role::Part
        } else {
            Role::Open
        },
        path,
        deviation: None,
    }
}

/// Every hole and mark keeps its distance from the edges about it, the nearest most of all; one that is told to lie
/// elsewhere does not take them along.
pub(super) fn beside(
    joint: &Joint,
    holders: &[Option<usize>],
    moves: impl Fn(usize) -> bool,
) -> Vec<Wish> {
    let mut out = Vec::new();
    for (body, holder) in holders.iter().enumerate() {
        let Some(holder) = *holder else { continue };
        let places = places_of(&joint.bodies[body].shape, body);
        let beside = if moves(body) { MOVED } else { BESIDE };
        match &joint.bodies[holder].shape {
            Form::Chain(f) => {
                let lines = lines(f, holder);
                for (place, at) in places {
                    for (side, far) in &lines_about(f, &lines, at) {
                        let across = Quantity::Offset(*side, place);
                        out.extend(stays(joint, across, beside * far));
                    }
                }
            }
            Form::Round { .. } => {
                let middle = Place::Center(Side::new(holder, 0));
                for (place, _) in places {
                    for axis in [Axis::X, Axis::Y] {
                        let [of, from] = [place, middle].map(|p| Quantity::At(p, axis));
                        let mut apart = Constraint::difference(of, from, 0.0);
                        if let Some(now) = apart.off(joint) {
                            apart.value = now;
                            out.push(Wish {
                                constraint: apart,
                                deviation: beside,
                            });
                        }
                    }
                }
            }
            Form::Spot(_) => {}
        }
    }
    out
}

/// The places that say where a body lies in another.
fn places_of(shape: &Form, body: usize) -> Vec<(Place, Point)> {
    match shape {
        Form::Chain(f) => (0..f.corners.len())
            .map(|c| (Place::Corner(Side::new(body, c)), f.corners[c]))
            .collect(),
        Form::Round { center, .. } | Form::Spot(center) => {
            vec![(Place::Center(Side::new(body, 0)), *center)]
        }
    }
}

fn lines(f: &Figure, body: usize) -> Vec<Side> {
    let straight = |e: &usize| f.kinds[*e] == Kind::Line;
    let all = (0..f.len()).filter(straight);
    all.map(|e| Side::new(body, e)).collect()
}

/// The straight edges about a place, each with how unsure a distance from it is against that from the nearest
/// of its direction.
pub(super) fn lines_about(f: &Figure, lines: &[Side], at: Point) -> Vec<(Side, f64)> {
    let far = |s: &Side| {
        f.view(s.edge)
            .map_or(f64::INFINITY, |v| v.chord_distance(at).abs())
    };
    let one_way = |a: &Side, b: &Side| {
        let turn = f.start_direction(a.edge) - f.start_direction(b.edge);
        normalize_angle(2.0 * turn).abs() < FRAC_PI_4
    };
    let of = |s: &Side| {
        let nearest = lines.iter().filter(|o| one_way(s, o)).map(far);
        let nearest = nearest.fold(f64::INFINITY, f64::min).max(1.0);
        (*s, 1.0 + FARTHER * (far(s).max(1.0) / nearest - 1.0))
    };
    lines
        .iter()
        .map(of)
        .filter(|(_, k)| k.is_finite())
        .collect()
}
