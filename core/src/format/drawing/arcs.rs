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
//! 1. The pair over a stretch of the curve is held against [`SAMPLES`] places of the curve. Where it is
//!    within [`SHARE`] of the tolerance it stands.
//! 2. Else the stretch is halved in its parameter, and both halves are tried.
//! 3. A stretch that runs straight is a line; one too short to matter ([`SPECK`]) too.
//!
//! *Both ways.* A stretch is only tried as a whole where it leaves and comes in within [`WIDEST`] of its
//! chord and is not much longer than it. So it neither loops nor turns back, the curve's nearest places on
//! the arcs run from their start to their end without a gap, and the arcs lie as near to the curve as the
//! curve does to them. Between two samples a stretch turns by less than 20°, and the distance has no room
//! for a hump of its own; a test holds all of it against samples a hundred times as dense.
//!
//! *Fails* where a curve has so many cusps that its halves are specks: those are drawn straight, within
//! [`SPECK`].

use super::curve::Curve;
use crate::geom::{Arc, Edge, Line, Point, Vec2, turn_between};

/// Places of a stretch that are looked at.
const SAMPLES: usize = 14;
/// The part of the tolerance that those places may use up.
const SHARE: f64 = 0.8;
/// Directions at the ends of a stretch this far from its chord, radians, are too far for one biarc.
const WIDEST: f64 = 1.2;
/// A stretch may be this much longer than its chord.
const LONGER: f64 = 1.5;
/// A stretch that stays within this part of the tolerance of its chord is straight.
const STRAIGHT: f64 = 0.02;
/// Stretches no longer than this part of the tolerance are drawn straight.
const SPECK: f64 = 0.25;
/// Most halvings of one curve.
const DEEPEST: u32 = 16;

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
    let mut stretches = vec![(0.0, 1.0, 0)];
    while let Some((from, to, depth)) = stretches.pop() {
        match over(curve, (from, to), tolerance, depth == DEEPEST) {
            Some(made) => pieces.extend(made),
            None => {
                let middle = 0.5 * (from + to);
                stretches.push((middle, to, depth + 1));
                stretches.push((from, middle, depth + 1));
            }
        }
        if pieces.len() > most {
            return None;
        }
    }
    Some(pieces)
}

/// The pieces over a stretch; nothing where it has to be halved.
fn over(curve: &Curve, (from, to): (f64, f64), tolerance: f64, last: bool) -> Option<Vec<Piece>> {
    let (start, out) = curve.heading(from, to);
    let (end, inward) = curve.heading(to, from);
    let chord = end - start;
    let straight = vec![Piece {
        to: end,
        sweep: 0.0,
    }];
    let step = (to - from) / (SAMPLES + 1) as f64;
    let samples: Vec<Point> = (1..=SAMPLES)
        .map(|i| curve.at(from + step * i as f64))
        .collect();
    let ends = samples.iter().skip(1).chain([&end]);
    let length = samples.first().map_or(0.0, |p| start.distance(*p))
        + (samples.iter().zip(ends).map(|(p, q)| p.distance(*q))).sum::<f64>();
    if last || length <= SPECK * tolerance {
        return Some(straight);
    }
    let (out, inward) = (out?, inward?);
    let turned = |way: Vec2| turn_between(chord, way).abs() > WIDEST;
    if length > LONGER * chord.length() || turned(out) || turned(inward) {
        return None;
    }
    let off = |edges: &[Edge]| {
        let least = |p: &Point| {
            edges
                .iter()
                .map(|e| e.distance(*p))
                .fold(f64::MAX, f64::min)
        };
        samples.iter().map(least).fold(0.0, f64::max)
    };
    let line = Edge::Line(Line {
        from: start,
        to: end,
    });
    if off(&[line]) <= STRAIGHT * tolerance {
        return Some(straight);
    }
    let pieces = biarc((start, out), (end, inward))?;
    (off(&edges_of(start, &pieces)) <= SHARE * tolerance).then_some(pieces)
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

    /// Both ways, against samples a hundred times as dense; at most so many pieces.
    fn holds(curve: &Curve, tolerance: f64) -> usize {
        let pieces = along(curve, tolerance, 100_000).expect("few pieces");
        let start = curve.at(0.0);
        let edges = edges_of(start, &pieces);
        let n = 300 * pieces.len();
        let dense: Vec<Point> = (0..=n).map(|i| curve.at(i as f64 / n as f64)).collect();
        let mut near = 0;
        for p in &dense {
            // The nearest edge moves on with the curve: look a few edges ahead and back.
            let reach = near.max(3) - 3..(near + 4).min(edges.len());
            let off = |k: &usize| edges[*k].distance(*p);
            near = reach
                .min_by(|a, b| off(a).total_cmp(&off(b)))
                .expect("edges");
            assert!(off(&near) <= tolerance, "{p:?} is {} off", off(&near));
        }
        let mut at = 0;
        for (k, edge) in edges.iter().enumerate() {
            for i in 0..=50 {
                let p = edge.point_at(f64::from(i) / 50.0);
                let window = at.max(n / edges.len()) - n / edges.len()..dense.len();
                let far = (at + 3 * n / edges.len() + 2).min(window.end);
                let best = (window.start..far)
                    .min_by(|a, b| dense[*a].distance(p).total_cmp(&dense[*b].distance(p)))
                    .expect("samples");
                let step = dense[best].distance(dense[(best + 1).min(n)]);
                assert!(
                    dense[best].distance(p) <= tolerance + step,
                    "edge {k}: {p:?}"
                );
                at = best;
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
