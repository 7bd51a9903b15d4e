//! Curves as chains of arcs that run smoothly into one another.
//!
//! *Problem.* Outlines here are of lines and circular arcs; splines, ellipses and Béziers are neither. They
//! have to become arcs that lie within a stated tolerance, start and end where the curve does, in its
//! directions, and are few.
//!
//! *Idea.* Two points with a direction each are joined by a pair of arcs with one common tangent (a biarc;
//! Bolton, Computer-Aided Design 7 (1975) 83). Of the many such pairs the one whose two tangent legs are
//! equally long is taken.
//!
//! 1. The pair over a stretch of the curve stands where the whole stretch provably keeps to it
//!    ([`super::kept`]): bounds on polynomials, not samples.
//! 2. Else the stretch is halved in its parameter, and both halves are tried.
//! 3. A stretch that runs straight is a line; one too short to matter ([`SPECK`]) too.
//!
//! Both are judged by the poles of the stretch: the curve stays within their hull.
//!
//! *Fails* where a curve has so many cusps that its halves are specks: those are drawn straight, within
//! [`SPECK`]. Where halves do not grow short (weights beyond all measure) there is no chain.

use super::curve::{Bezier, Curve};
use super::kept::Keeping;
use crate::geom::{Arc, Edge, Line, Point, Vec2, turn_between};

/// Directions at the ends of a stretch this far from its chord, radians, are too far for one biarc.
const WIDEST: f64 = 1.2;
/// The polygon of a stretch may be this much longer than its chord.
const LONGER: f64 = 1.5;
/// A stretch that stays within this part of the tolerance of its chord is straight.
const STRAIGHT: f64 = 0.02;
/// Stretches no longer than this part of the tolerance are drawn straight.
const SPECK: f64 = 0.25;
/// Most halvings of one curve.
const DEEPEST: u32 = 48;

/// One piece of a chain: where it ends, and by how much it turns on the way (0: straight).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Piece {
    pub(crate) to: Point,
    pub(crate) sweep: f64,
}

/// The curve as arcs no further than `tolerance` mm from it, or nothing where that takes more than `most`.
pub(crate) fn along(curve: &Curve, tolerance: f64, most: usize) -> Option<Vec<Piece>> {
    let mut pieces = Vec::new();
    // Later stretches lie deeper in the stack.
    let mut stretches: Vec<(Bezier, u32)> = curve.beziers().into_iter().map(|b| (b, 0)).collect();
    stretches.reverse();
    while let Some((stretch, depth)) = stretches.pop() {
        match over(&stretch, tolerance) {
            Some(made) => pieces.extend(made),
            None if depth == DEEPEST => return None,
            None => {
                let (early, late) = stretch.halves();
                stretches.push((late, depth + 1));
                stretches.push((early, depth + 1));
            }
        }
        if pieces.len() > most {
            return None;
        }
    }
    Some(pieces)
}

/// The pieces over a stretch; nothing where it has to be halved.
fn over(stretch: &Bezier, tolerance: f64) -> Option<Vec<Piece>> {
    let [(start, out), (end, inward)] = stretch.ends();
    let straight = vec![Piece {
        to: end,
        sweep: 0.0,
    }];
    let length = stretch.longest();
    if length <= SPECK * tolerance {
        return Some(straight);
    }
    let chord = end - start;
    let (out, inward, along) = (out?, inward?, chord.unit()?);
    let turned = |way: Vec2| turn_between(chord, way).abs() > WIDEST;
    if length > LONGER * chord.length() || turned(out) || turned(inward) {
        return None;
    }
    let near = STRAIGHT * tolerance;
    let beside = |p: Point| {
        let (across, at) = (along.cross(p - start), along.dot(p - start));
        across.abs() <= near && (-near..=chord.length() + near).contains(&at)
    };
    if stretch.hull().all(beside) {
        return Some(straight);
    }
    let pieces = biarc((start, out), (end, inward))?;
    let edges = edges_of(start, &pieces);
    Keeping::new(&edges, (start, out), (end, inward), tolerance)?
        .holds(stretch)
        .then_some(pieces)
}

/// Two arcs from one place and direction to another.
fn biarc((start, out): (Point, Vec2), (end, inward): (Point, Vec2)) -> Option<Vec<Piece>> {
    let chord = end - start;
    let ways = out + inward;
    let (square, along) = (chord.dot(chord), chord.dot(ways));
    // Both legs of the length d: |chord|² = 2 d chord·(out + inward) + 2 d² (1 − out·inward).
    let root = (along * along + 2.0 * (1.0 - out.dot(inward)) * square).sqrt();
    let leg = square / (along + root);
    if !(leg > 0.0 && leg.is_finite()) {
        return None;
    }
    let joint = (start + out * leg).midpoint(end - inward * leg);
    let sweeps = [
        2.0 * turn_between(out, joint - start),
        2.0 * turn_between(end - joint, inward),
    ];
    let [first, second] = sweeps.map(|s| if s.abs() < 1e-9 { 0.0 } else { s });
    Some(vec![
        Piece {
            to: joint,
            sweep: first,
        },
        Piece {
            to: end,
            sweep: second,
        },
    ])
}

/// The same as edges.
fn edges_of(start: Point, pieces: &[Piece]) -> Vec<Edge> {
    let mut from = start;
    let edge = |p: &Piece| {
        let line = Edge::Line(Line { from, to: p.to });
        let edge = Arc::from_sweep(from, p.to, p.sweep).map_or(line, Edge::Arc);
        from = p.to;
        edge
    };
    pieces.iter().map(edge).collect()
}

#[cfg(test)]
mod tests {
    use super::super::curve::Bezier;
    use super::super::ellipse::Elliptic;
    use super::*;
    use proptest::prelude::*;

    /// Places of the curve no further apart than `step`.
    fn dense(curve: &Curve, step: f64) -> Vec<Point> {
        let mut out = vec![curve.at(0.0)];
        let mut ahead = vec![1.0];
        let mut t = 0.0;
        while let Some(next) = ahead.pop() {
            let (p, last) = (curve.at(next), out[out.len() - 1]);
            let middle = 0.5 * (t + next);
            if (last.distance(p) <= step
                && curve.at(middle).distance(last) <= step
                && next - t < 0.02)
                || middle <= t
            {
                out.push(p);
                t = next;
            } else {
                ahead.extend([next, middle]);
            }
        }
        out
    }

    /// Both ways, against samples closer than the tolerance; gives the number of pieces.
    fn holds(curve: &Curve, tolerance: f64) -> usize {
        let pieces = along(curve, tolerance, 100_000).expect("few pieces");
        let edges = edges_of(curve.at(0.0), &pieces);
        let dense = dense(curve, 0.25 * tolerance);
        // The edges that a walk along the curve can have come to, never further off than the tolerance.
        let mut there = vec![false; edges.len()];
        there[0] = true;
        for p in &dense {
            let before = there.clone();
            for k in 0..edges.len() {
                let come = before[k] || (k > 0 && there[k - 1]);
                there[k] = come && edges[k].distance(*p) <= tolerance;
            }
            let off = || {
                edges
                    .iter()
                    .map(|e| e.distance(*p))
                    .fold(f64::MAX, f64::min)
            };
            assert!(there.contains(&true), "{p:?} is {} off", off());
        }
        assert_eq!(there.last(), Some(&true), "it ends where the curve does");
        for (k, edge) in edges.iter().enumerate() {
            for i in 0..=10 {
                let p = edge.point_at(f64::from(i) / 10.0);
                let off = dense.iter().map(|q| q.distance(p)).fold(f64::MAX, f64::min);
                assert!(off <= 1.01 * tolerance, "edge {k}: {p:?} is {off} off");
            }
        }
        pieces.len()
    }

    #[test]
    fn ellipses_become_few_arcs() {
        for (rx, ry, most) in [(30.0, 20.0, 24), (200.0, 5.0, 60), (1.0, 0.9, 16)] {
            let whole = Elliptic::whole(Point::new(7.0, -3.0), rx, ry);
            let n = holds(&Curve::Ellipse(whole), 0.05);
            assert!(n <= most, "{rx} × {ry}: {n}");
        }
    }

    #[test]
    fn a_line_in_disguise_is_a_line() {
        let p = Point::new;
        let straight = Bezier::new(&[p(0.0, 0.0), p(1.0, 2.0), p(2.0, 4.0), p(3.0, 6.0)]);
        let pieces = along(&Curve::Bezier(straight.expect("poles")), 0.05, 100);
        assert_eq!(pieces.map(|p| p.len()), Some(1));
    }

    /// Its weights hurry the parameter past the places of evenly spaced samples.
    #[test]
    fn a_hump_between_samples_is_seen() {
        let x = [-31.896, -8.257, 12.775, -15.187];
        let y = [-8.899, -17.131, -47.033, -13.294];
        let weights = [1.2386, 2.584, 2.3836, 2.8202];
        for size in [0.05, 0.0584, 0.1, 0.5, 2.0] {
            let pole = |i: usize| {
                let w: f64 = weights[i];
                [x[i] * size * w, y[i] * size * w, w]
            };
            let curve = Bezier::rational((0..4).map(pole).collect()).expect("weights above 0");
            holds(&Curve::Bezier(curve), 0.05);
        }
    }

    #[test]
    fn weights_of_any_size_end() {
        for (w, v) in [(1e6, 1e-6), (1e12, 1.0), (1e-9, 1e9)] {
            let poles = vec![
                [0.0, 0.0, 1.0],
                [30.0 * w, 90.0 * w, w],
                [80.0 * v, -70.0 * v, v],
                [100.0, 0.0, 1.0],
            ];
            let curve = Curve::Bezier(Bezier::rational(poles).expect("weights above 0"));
            let pieces = along(&curve, 0.05, 10_000).expect("few pieces");
            assert!(pieces.len() < 40, "{}", pieces.len());
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]

        #[test]
        fn cubics_of_any_shape_are_held(
            x in proptest::collection::vec(-60.0..60.0_f64, 4),
            y in proptest::collection::vec(-60.0..60.0_f64, 4),
            weights in proptest::collection::vec(0.2..4.0_f64, 4),
            size in 0.01..5.0_f64,
        ) {
            let pole = |i: usize| {
                let w = weights[i];
                [x[i] * size * w, y[i] * size * w, w]
            };
            let curve = Bezier::rational((0..4).map(pole).collect()).expect("weights above 0");
            holds(&Curve::Bezier(curve), 0.05);
        }
    }
}
