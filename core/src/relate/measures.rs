//! What a rule would measure on a figure.
//!
//! A side is measured over all: where a fillet or a chamfer follows, to the virtual corner, where the two sides
//! would meet; where a round end follows, to its outermost point. So a side keeps its size when a corner is
//! rounded, and what a person types for it is what they read off their rule. Round ends are told by their diameter,
//! fillets by their radius, a slot also between the centres of its ends.
//!
//! **Fails** where nobody could say which corner is meant: an arc between a side and another arc ends the side.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is measured"
)]

use super::constraint::Constraint;
use super::figure::Figure;
use super::quantity::{Place, Quantity, Side};
use crate::fit::partition::Kind;
use crate::geom::{Point, normalize_angle};
use crate::report::SizeKind;
use core::f64::consts::{FRAC_PI_2, PI};

/// An arc that turns by less than this between two sides is a fillet, by more a round end, radians.
pub(crate) const ROUND: f64 = 2.7;
/// An arc that turns by less is no corner at all, radians.
const LEAST_TURN: f64 = 0.15;
/// An edge and the arc after it run into one another when they turn by less than this, radians.
const SMOOTH: f64 = 0.2;
/// A chamfer turns by this much at either end, radians,
const CLIPPED: core::ops::Range<f64> = 0.26..1.31;
/// at both together by a right angle within this,
const NEARLY_SQUARE: f64 = 0.5;
/// and is shorter than this part of the sides that it lies between.
const SHORTER: f64 = 0.75;

/// What a rule measures.
#[derive(Clone, Debug)]
pub(crate) struct Measure {
    pub kind: SizeKind,
    /// Edges it belongs to.
    pub edges: Vec<usize>,
    /// What holds it at its value.
    pub constraint: Constraint,
    /// Where to write it.
    pub at: Point,
}

/// The edge after `e`, or before it, where there is one.
pub(crate) fn beside(f: &Figure, e: usize, after: bool) -> Option<usize> {
    let m = f.len();
    match (f.closed, after) {
        (true, true) => Some((e + 1) % m),
        (true, false) => Some((e + m - 1) % m),
        (false, true) => (e + 1 < m).then_some(e + 1),
        (false, false) => e.checked_sub(1),
    }
    .filter(|g| *g != e)
}

/// The turn where edge `e` meets the one after it, or before it.
fn turn(f: &Figure, e: usize, after: bool) -> f64 {
    match (after, beside(f, e, false)) {
        (true, _) => f.turn_after(e),
        (false, Some(before)) => f.turn_after(before),
        (false, None) => 0.0,
    }
}

/// The two sides that arc `e` rounds the corner of.
pub(crate) fn fillet(f: &Figure, e: usize) -> Option<[usize; 2]> {
    between_sides(f, e).filter(|_| rounds(f, e))
}

/// Arc `e` runs smoothly into what is at its ends, and turns by less than a round end does.
fn rounds(f: &Figure, e: usize) -> bool {
    let smooth = |after| beside(f, e, after).is_some() && libm::fabs(turn(f, e, after)) < SMOOTH;
    f.kinds[e] == Kind::Arc
        && (LEAST_TURN..ROUND).contains(&libm::fabs(f.sweep(e)))
        && smooth(true)
        && smooth(false)
}

/// The two sides that line `e` clips the corner of, next to it.
pub(crate) fn chamfer(f: &Figure, e: usize) -> Option<[usize; 2]> {
    clips(f, e).filter(|sides| Some(*sides) == between_sides(f, e))
}

/// The two sides that line `e` clips the corner of; the corners that it makes with them may be rounded.
fn clips(f: &Figure, e: usize) -> Option<[usize; 2]> {
    let [before, after] = [next_line(f, e, false)?, next_line(f, e, true)?];
    let [to, here, from] = [before, e, after].map(|e| f.start_direction(e));
    let [a, b] = [normalize_angle(here - to), normalize_angle(from - here)];
    let [before_long, long, after_long] = [before, e, after].map(|e| sharp_length(f, e));
    let shorter = long < SHORTER * before_long.min(after_long);
    let clips = before != after
        && a * b > 0.0
        && CLIPPED.contains(&libm::fabs(a))
        && CLIPPED.contains(&libm::fabs(b))
        && libm::fabs(libm::fabs(a + b) - FRAC_PI_2) < NEARLY_SQUARE;
    (clips && shorter).then_some([before, after])
}

/// The line that follows line `e`, or comes before it, round a fillet where there is one.
fn next_line(f: &Figure, e: usize, after: bool) -> Option<usize> {
    let next = beside(f, e, after).filter(|_| f.kinds[e] == Kind::Line)?;
    match f.kinds[next] {
        Kind::Line => Some(next),
        Kind::Arc => fillet(f, next).map(|[a, b]| if a == e { b } else { a }),
    }
}

/// The length of a line as it would be were the corners at its ends not rounded.
fn sharp_length(f: &Figure, e: usize) -> f64 {
    let ends = [false, true].map(|after| {
        let plain = f.corners[if after { f.end_corner(e) } else { e }];
        let beyond = next_line(f, e, after).filter(|g| Some(*g) != beside(f, e, after));
        let meeting = |g| {
            let (p, u) = (f.corners[e], f.corners[f.end_corner(e)] - f.corners[e]);
            let (q, v) = (f.corners[g], f.corners[f.end_corner(g)] - f.corners[g]);
            p + u * ((q - p).cross(v) / u.cross(v))
        };
        let met = beyond.filter(|g| meet(f, e, *g)).map(meeting);
        met.unwrap_or(plain)
    });
    ends[0].distance(ends[1])
}

/// The straight edges before and after an edge, where both are and are two.
fn between_sides(f: &Figure, e: usize) -> Option<[usize; 2]> {
    let (before, after) = (beside(f, e, false)?, beside(f, e, true)?);
    let lines = f.kinds[before] == Kind::Line && f.kinds[after] == Kind::Line;
    (lines && before != after).then_some([before, after])
}

/// The sides before and after a corner that is rounded or clipped by edge `e`.
pub(crate) fn softened(f: &Figure, e: usize) -> Option<[usize; 2]> {
    fillet(f, e).or_else(|| chamfer(f, e))
}

/// The arc is a round end of a side: tangent to it and half a turn or more.
fn round_end(f: &Figure, e: usize, after: bool) -> Option<usize> {
    let arc = beside(f, e, after)?;
    let round = f.kinds[arc] == Kind::Arc
        && libm::fabs(turn(f, e, after)) < SMOOTH
        && (ROUND..2.0 * PI - ROUND).contains(&libm::fabs(f.sweep(arc)));
    round.then_some(arc)
}

/// Where a side ends for a rule, and the round end it is measured over.
fn end(f: &Figure, body: usize, e: usize, after: bool) -> (Place, Option<usize>) {
    let side = |e| Side::new(body, e);
    let corner = if after { f.end_corner(e) } else { e };
    if let Some(arc) = round_end(f, e, after) {
        return (Place::Center(side(arc)), Some(arc));
    }
    // Beyond an edge that clips the corner lies the side that meets this one there.
    let next = next_line(f, e, after);
    let beyond = next.filter(|_| clips(f, e).is_none()).and_then(|g| {
        let [a, b] = clips(f, g)?;
        Some(if a == e { b } else { a })
    });
    match beyond.or(next) {
        Some(other) if Some(other) != beside(f, e, after) && meet(f, e, other) => {
            (Place::Meeting(side(e), side(other)), None)
        }
        _ => (Place::Corner(side(corner)), None),
    }
}

/// Two lines cross well enough to be a corner.
fn meet(f: &Figure, a: usize, b: usize) -> bool {
    let turn = normalize_angle(f.start_direction(b) - f.start_direction(a));
    libm::fabs(libm::sin(turn)) > 0.1
}

/// A straight side over all, as a sum of quantities; `body` is the figure's number among others.
pub(crate) fn over_all(f: &Figure, body: usize, e: usize) -> Vec<(f64, Quantity)> {
    let side = Side::new(body, e);
    let [(from, a), (to, b)] = [false, true].map(|after| end(f, body, e, after));
    if matches!((from, to), (Place::Corner(_), Place::Corner(_))) {
        return vec![(1.0, Quantity::Length(side))];
    }
    let ends = [a, b].into_iter().flatten();
    let radii = ends.map(|arc| (1.0, Quantity::Radius(Side::new(body, arc))));
    core::iter::once((1.0, Quantity::Along(side, from, to)))
        .chain(radii)
        .collect()
}

/// The round ends of a slot's side.
pub(crate) fn slot(f: &Figure, e: usize) -> Option<[usize; 2]> {
    let [a, b] = [false, true].map(|after| round_end(f, e, after));
    a.zip(b).filter(|(a, b)| a != b).map(|(a, b)| [a, b])
}

/// The size of an edge: a side over all, an arc's radius or diameter.
pub(crate) fn of_edge(f: &Figure, body: usize, e: usize) -> (SizeKind, Vec<(f64, Quantity)>) {
    let radius = Quantity::Radius(Side::new(body, e));
    match f.kinds[e] {
        Kind::Line => (SizeKind::Length, over_all(f, body, e)),
        Kind::Arc if libm::fabs(f.sweep(e)) < ROUND => (SizeKind::Radius, vec![(1.0, radius)]),
        Kind::Arc => (SizeKind::Diameter, vec![(2.0, radius)]),
    }
}

/// All sizes of a single chain: of each edge, between the centres of slots, between those `parallel` sides that
/// are asked about one another, at corners.
pub(crate) fn all(f: &Figure, asked: impl Fn(usize, usize) -> bool) -> Vec<Measure> {
    let chain = f.to_chain();
    let middle = |e: usize| {
        let edge = chain.edge(e);
        edge.map_or(f.corners[e], |edge| edge.point_at(0.5))
    };
    let side = |e| Side::new(0, e);
    let mut out = Vec::new();
    let mut add = |kind, edges: Vec<usize>, terms: Vec<(f64, Quantity)>, at| {
        let mut constraint = Constraint { terms, value: 0.0 };
        if let Some(value) = constraint.off(f) {
            constraint.value = value;
            out.push(Measure {
                kind,
                edges,
                constraint,
                at,
            });
        }
    };
    for e in 0..f.len() {
        let (kind, terms) = of_edge(f, 0, e);
        add(kind, vec![e], terms, middle(e));
        if let (Kind::Line, Some([a, b])) = (f.kinds[e], slot(f, e))
            && a < b
        {
            let centers = Quantity::Span(Place::Center(side(a)), Place::Center(side(b)));
            add(
                SizeKind::Centers,
                vec![a, b],
                vec![(1.0, centers)],
                middle(e),
            );
        }
    }
    for e in 0..f.len() {
        for g in e + 1..f.len() {
            let straight = f.kinds[e] == Kind::Line && f.kinds[g] == Kind::Line;
            let across = Quantity::Offset(side(e), Place::Corner(side(g)));
            if straight
                && asked(e, g)
                && Constraint::at(across, 0.0)
                    .off(f)
                    .is_some_and(|o| libm::fabs(o) > 1e-6)
            {
                let at = middle(e).midpoint(middle(g));
                add(SizeKind::Distance, vec![e, g], vec![(1.0, across)], at);
            }
        }
    }
    for e in 0..f.len() {
        if let Some(g) = beside(f, e, true)
            && f.kinds[e] == Kind::Line
            && f.kinds[g] == Kind::Line
        {
            let [to, from] = [g, e].map(|e| Quantity::Direction(side(e)));
            add(
                SizeKind::Angle,
                vec![e, g],
                vec![(1.0, to), (-1.0, from)],
                f.corners[g],
            );
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(f: &Figure, e: usize) -> f64 {
        let terms = of_edge(f, 0, e).1;
        Constraint { terms, value: 0.0 }.off(f).unwrap()
    }

    fn quarter() -> f64 {
        libm::tan(0.25 * FRAC_PI_2)
    }

    /// 100 by 60, one corner rounded by 10, one clipped by 8.
    #[test]
    fn sides_go_to_virtual_corners() {
        let f = Figure {
            corners: [
                (0.0, 0.0),
                (90.0, 0.0),
                (100.0, 10.0),
                (100.0, 52.0),
                (92.0, 60.0),
                (0.0, 60.0),
            ]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
            bulges: vec![0.0, quarter(), 0.0, 0.0, 0.0, 0.0],
            kinds: vec![
                Kind::Line,
                Kind::Arc,
                Kind::Line,
                Kind::Line,
                Kind::Line,
                Kind::Line,
            ],
            closed: true,
        };
        let sizes = [
            100.0,
            10.0,
            60.0,
            8.0 * core::f64::consts::SQRT_2,
            100.0,
            60.0,
        ];
        for (e, size) in sizes.into_iter().enumerate() {
            assert!((value(&f, e) - size).abs() < 1e-9, "{e} {}", value(&f, e));
        }
    }

    /// 100 by 60, a corner clipped by 10, and the corner that this makes with the longer side rounded by 3.
    #[test]
    fn a_clipped_corner_may_be_rounded_at_its_ends() {
        let corner = Point::new(90.0, 0.0);
        let reach = 3.0 * libm::tan(0.125 * PI);
        let along = crate::geom::Vec2::from_angle(0.25 * PI) * reach;
        let f = Figure {
            corners: vec![
                Point::new(0.0, 0.0),
                Point::new(90.0 - reach, 0.0),
                corner + along,
                Point::new(100.0, 10.0),
                Point::new(100.0, 60.0),
                Point::new(0.0, 60.0),
            ],
            bulges: vec![0.0, libm::tan(PI / 16.0), 0.0, 0.0, 0.0, 0.0],
            kinds: vec![
                Kind::Line,
                Kind::Arc,
                Kind::Line,
                Kind::Line,
                Kind::Line,
                Kind::Line,
            ],
            closed: true,
        };
        let clip = 10.0 * core::f64::consts::SQRT_2;
        for (e, size) in [(0, 100.0), (1, 3.0), (2, clip), (3, 60.0)] {
            assert!((value(&f, e) - size).abs() < 1e-9, "{e} {}", value(&f, e));
        }
    }

    /// 50 over all, 12 wide.
    #[test]
    fn a_slot_is_measured_over_all_and_between_centres() {
        let f = Figure {
            corners: [(6.0, 0.0), (44.0, 0.0), (44.0, 12.0), (6.0, 12.0)]
                .map(|(x, y)| Point::new(x, y))
                .to_vec(),
            bulges: vec![0.0, 1.0, 0.0, 1.0],
            kinds: vec![Kind::Line, Kind::Arc, Kind::Line, Kind::Arc],
            closed: true,
        };
        assert!((value(&f, 0) - 50.0).abs() < 1e-9);
        assert!((value(&f, 1) - 12.0).abs() < 1e-9);
        let all = all(&f, |_, _| true);
        let centers: Vec<f64> = all
            .iter()
            .filter(|m| m.kind == SizeKind::Centers)
            .map(|m| m.constraint.value)
            .collect();
        assert_eq!(centers.len(), 1);
        assert!((centers[0] - 38.0).abs() < 1e-9);
    }
}
