//! What a hint names: the thing nearest to its place, and how far off that is.
#![allow(
    clippy::indexing_slicing,
    reason = "edges and corners are counted by the figure they belong to"
)]

use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::hint::{CornerKind, Says};
use crate::relate::across::{Form, Joint};
use crate::relate::figure::Figure;
use crate::relate::measures::{ROUND, softened};
use crate::relate::quantity::{Place, Side};

/// Something found, and its distance from the place, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found<T> {
    pub what: T,
    pub far: f64,
}

pub(super) fn nearest<T>(all: impl Iterator<Item = Found<T>>) -> Option<Found<T>> {
    all.reduce(|best, next| if next.far < best.far { next } else { best })
}

/// A corner of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Corner {
    /// Two edges meet: the one before and the one after.
    Plain(usize, usize),
    /// An edge rounds or clips the corner of two sides.
    Soft(usize, [usize; 2]),
}

/// What the ends of an edge that clips a corner are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// Corners by themselves, where a place is right at them.
    Corners,
    /// The corner that is clipped.
    Clipped,
}

impl Ends {
    /// A radius or an angle can be that of an end; sharp it is already, and square is what was clipped.
    pub(super) const fn of(says: &Says) -> Self {
        match says {
            Says::Corner(CornerKind::Radius(_) | CornerKind::Angle(_)) => Self::Corners,
            _ => Self::Clipped,
        }
    }
}

/// The corner nearest to a place. One that is rounded or clipped is near at its edge and at its virtual corner.
pub(super) fn corner(f: &Figure, at: Point, ends: Ends) -> Option<Found<Corner>> {
    let m = f.len();
    let chain = f.to_chain();
    let soft = |e: usize| softened(f, e).map(|sides| (e, sides));
    let all_soft = (0..m).filter_map(soft).filter_map(|(e, sides)| {
        let edge = chain.edge(e)?;
        let to_end = edge.from().distance(at).min(edge.to().distance(at));
        let at_end = f.kinds[e] == Kind::Line && to_end < AT_END * f.chord(e);
        let far = match ends {
            Ends::Corners if at_end => edge.point_at(0.5).distance(at),
            _ => edge.distance(at),
        };
        let far = virtual_corner(f, sides).map_or(far, |p| far.min(p.distance(at)));
        // Its own ends are as near: the whole goes first.
        Some(Found {
            what: Corner::Soft(e, sides),
            far,
        })
    });
    let joints = if f.closed { 0..m } else { 1..m };
    let plain = joints.map(|e| Found {
        what: Corner::Plain((e + m - 1) % m.max(1), e),
        far: f.corners[e].distance(at),
    });
    nearest(all_soft.chain(plain).filter(|_| m > 1))
}

/// Within this part of a clipping edge's length from its end that end is meant.
const AT_END: f64 = 0.2;

/// Where two straight sides would meet.
pub(super) fn virtual_corner(f: &Figure, [a, b]: [usize; 2]) -> Option<Point> {
    let (p, q) = (f.corners[a], f.corners[b]);
    let (u, v) = (
        f.corners[f.end_corner(a)] - p,
        f.corners[f.end_corner(b)] - q,
    );
    let sine = u.cross(v);
    let apart = u.length() * v.length();
    (sine.abs() > 0.05 * apart).then(|| p + u * ((q - p).cross(v) / sine))
}

/// All edges of the bodies, a circle being one; inside a circle its middle is near too.
pub(super) fn edge(joint: &Joint, at: Point) -> Option<Found<Side>> {
    nearest(sides(joint, at, |_, _| true))
}

/// The straight edge nearest to a place.
pub(super) fn line(joint: &Joint, at: Point) -> Option<Found<Side>> {
    let straight = |f: Option<&Figure>, e: usize| f.is_some_and(|f| f.kinds[e] == Kind::Line);
    nearest(sides(joint, at, straight))
}

/// The arc or circle nearest to a place.
pub(super) fn round(joint: &Joint, at: Point) -> Option<Found<Side>> {
    let round = |f: Option<&Figure>, e: usize| f.is_none_or(|f| f.kinds[e] == Kind::Arc);
    nearest(sides(joint, at, round))
}

/// The arc of this radius nearest to a place, whatever it lies between.
pub(super) fn bend(joint: &Joint, at: Point, radius: f64) -> Option<Found<Side>> {
    let so_large = move |f: &Figure, e: usize| (f.radius(e) - radius).abs() < 1e-6;
    let bend = move |f: Option<&Figure>, e: usize| {
        f.is_some_and(|f| f.kinds[e] == Kind::Arc && so_large(f, e))
    };
    nearest(sides(joint, at, bend))
}

fn sides<'a>(
    joint: &'a Joint,
    at: Point,
    may: impl Fn(Option<&Figure>, usize) -> bool + Copy + 'a,
) -> impl Iterator<Item = Found<Side>> + 'a {
    let bodies = joint.bodies.iter().enumerate();
    bodies.flat_map(move |(body, b)| -> Vec<Found<Side>> {
        match &b.shape {
            Form::Chain(f) => {
                let chain = f.to_chain();
                let all = (0..f.len()).filter(|e| may(Some(f), *e));
                let of = |e| {
                    Some(Found {
                        what: Side::new(body, e),
                        far: chain.edge(e)?.distance(at),
                    })
                };
                all.filter_map(of).collect()
            }
            Form::Round { center, radius } if may(None, 0) => {
                vec![Found {
                    what: Side::new(body, 0),
                    far: to_circle(*center, *radius, at),
                }]
            }
            Form::Round { .. } | Form::Spot(_) => Vec::new(),
        }
    })
}

/// From a place to a circle, or to its middle, where of two about one middle the smaller is meant.
fn to_circle(center: Point, radius: f64, at: Point) -> f64 {
    let d = center.distance(at);
    (d - radius).abs().min(d + 1e-3 * radius)
}

/// What has a middle that is measured from, nearest to a place: a hole, a mark or a round end.
pub(super) fn center(joint: &Joint, at: Point) -> Option<Found<Side>> {
    let whole = hole(joint, at).map(|f| Found {
        what: Side::new(f.what, 0),
        far: f.far,
    });
    let ends = joint.bodies.iter().enumerate().flat_map(|(body, b)| {
        let Form::Chain(f) = &b.shape else {
            return Vec::new();
        };
        let chain = f.to_chain();
        let round = (0..f.len()).filter(|e| f.kinds[*e] == Kind::Arc && f.sweep(*e).abs() >= ROUND);
        let of = |e| {
            let far = chain.edge(e)?.distance(at);
            Some(Found {
                what: Side::new(body, e),
                far: far.min(f.center(e)?.distance(at)),
            })
        };
        round.filter_map(of).collect()
    });
    nearest(whole.into_iter().chain(ends))
}

/// The hole or mark nearest to a place: a whole circle or a mark.
pub(super) fn hole(joint: &Joint, at: Point) -> Option<Found<usize>> {
    let bodies = joint.bodies.iter().enumerate();
    nearest(bodies.filter_map(|(body, b)| {
        let far = match &b.shape {
            Form::Round { center, radius } => to_circle(*center, *radius, at),
            Form::Spot(p) => p.distance(at),
            Form::Chain(_) => return None,
        };
        Some(Found { what: body, far })
    }))
}

/// The corner of any body nearest to a place.
pub(super) fn any_corner(joint: &Joint, at: Point, ends: Ends) -> Option<Found<(usize, Corner)>> {
    let bodies = joint.bodies.iter().enumerate();
    nearest(bodies.filter_map(|(body, b)| match &b.shape {
        Form::Chain(f) => corner(f, at, ends).map(|c| Found {
            what: (body, c.what),
            far: c.far,
        }),
        _ => None,
    }))
}

/// The middle of a hole or mark.
pub(super) const fn middle(body: usize) -> Place {
    Place::Center(Side::new(body, 0))
}
