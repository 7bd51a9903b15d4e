//! Holes that a line joins to the rim, there and back.
//!
//! *Problem.* Formats that know no holes draw a plate with one as a single closed line: round the rim, along a bridge
//! to the hole, round the hole, and back along the same bridge. As it stands it touches itself and cannot be cut.
//!
//! *Idea.* Two straight edges of a closed course that run from one place to another and back, with something round
//! on either side of them, are such a bridge: without it the course is two loops. It is told as a doubt, since a slit
//! from rim to hole is drawn the same way.
//!
//! *Fails* on bridges that are not the same line both ways, to the last digit, or drawn in curves: those stay.

use super::course::whole_arcs;
use crate::geom::{Edge, Point};
use crate::outline::enclosed;
use crate::report::{About, Doubt};
use std::collections::BTreeMap;

/// Most bridges that are told one by one.
const MOST_TOLD: usize = 3;
/// A loop encloses more than this part of the square of its length, or it is no loop.
const ENCLOSES: f64 = 1e-4;

/// The loops that a closed course is without its bridges, and where each bridge begins.
pub(super) fn apart(chain: Vec<Edge>) -> (Vec<Vec<Edge>>, Vec<Point>) {
    let closed = |c: &[Edge]| match c {
        [first, .., last] => first.from() == last.to(),
        _ => false,
    };
    let (mut loops, mut bridges) = (Vec::new(), Vec::new());
    let mut open = vec![chain];
    while let Some(chain) = open.pop() {
        let found = if closed(&chain) {
            there_and_back(&chain)
        } else {
            None
        };
        let Some((out, back)) = found else {
            loops.push(chain);
            continue;
        };
        let within: Vec<Edge> = chain.iter().take(back).skip(out + 1).copied().collect();
        let around = chain.iter().skip(back + 1).chain(chain.iter().take(out));
        let around: Vec<Edge> = around.copied().collect();
        // A bridge of several lines: what is left of one that was taken.
        let halves = [within, around];
        let rounds = halves.iter().filter(|h| encloses(h)).count();
        if rounds == 2 || (rounds == 1 && !bridges.is_empty()) {
            if rounds == 2 {
                bridges.extend(chain.get(out).map(Edge::from));
            }
            open.extend(halves.into_iter().filter(|h| encloses(h)));
        } else {
            loops.push(chain);
        }
    }
    if bridges.is_empty() {
        return (loops, bridges);
    }
    (loops.into_iter().map(whole_arcs).collect(), bridges)
}

/// What to know of bridges that were left out.
pub(super) fn doubts(begins: &[Point]) -> Vec<Doubt> {
    let text = "a line runs from here to a hole and back: left out, rim and hole are cut as two loops; if a slit is \
                meant, draw it by itself";
    Doubt::first_of(About::File, begins, MOST_TOLD, text, |n| {
        format!("{n} more lines to holes and back were left out")
    })
}

/// The first line of which another one is the way back, and that other one.
fn there_and_back(chain: &[Edge]) -> Option<(usize, usize)> {
    let key = |p: Point| (p.x.to_bits(), p.y.to_bits());
    let mut seen = BTreeMap::new();
    for (i, edge) in chain.iter().enumerate() {
        let Edge::Line(line) = edge else { continue };
        let (from, to) = (key(line.from), key(line.to));
        if let Some(before) = seen.get(&(to, from)) {
            return Some((*before, i));
        }
        seen.insert((from, to), i);
    }
    None
}

pub(super) fn encloses(chain: &[Edge]) -> bool {
    let length: f64 = chain.iter().map(Edge::length).sum();
    enclosed(chain).abs() > ENCLOSES * length * length
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Arc, Line};
    use core::f64::consts::PI;

    fn line(from: (f64, f64), to: (f64, f64)) -> Edge {
        let point = |p: (f64, f64)| Point::new(p.0, p.1);
        let (from, to) = (point(from), point(to));
        Edge::Line(Line { from, to })
    }

    fn half(from: (f64, f64), to: (f64, f64)) -> Edge {
        let (a, b) = (Point::new(from.0, from.1), Point::new(to.0, to.1));
        Arc::from_sweep(a, b, -PI)
            .map(Edge::Arc)
            .expect("half a circle")
    }

    /// A rim of 80 x 40 with a bridge to a hole in the middle of it, over so many corners.
    fn keyhole(bridge: &[(f64, f64)]) -> Vec<Edge> {
        let mut there: Vec<Edge> = Vec::new();
        let stops: Vec<(f64, f64)> = [(80.0, 20.0)].iter().chain(bridge).copied().collect();
        there.extend(stops.windows(2).map(|w| line(w[0], w[1])));
        let at = *stops.last().expect("a place");
        let beyond = (at.0 - 10.0, at.1);
        let mut all = vec![line((80.0, 0.0), (80.0, 20.0))];
        all.extend(&there);
        all.extend([half(at, beyond), half(beyond, at)]);
        all.extend(there.iter().rev().map(Edge::reversed));
        all.extend([
            line((80.0, 20.0), (80.0, 40.0)),
            line((80.0, 40.0), (0.0, 40.0)),
            line((0.0, 40.0), (0.0, 0.0)),
            line((0.0, 0.0), (80.0, 0.0)),
        ]);
        all
    }

    #[test]
    fn a_bridge_parts_rim_and_hole() {
        for bridge in [&[(45.0, 20.0)][..], &[(60.0, 25.0), (45.0, 20.0)]] {
            let (loops, bridges) = apart(keyhole(bridge));
            assert_eq!((loops.len(), bridges.len()), (2, 1));
            let mut areas: Vec<f64> = loops.iter().map(|l| enclosed(l)).collect();
            areas.sort_by(f64::total_cmp);
            assert!((areas[1] - 3200.0).abs() < 1e-9);
            assert!(
                loops.iter().any(
                    |l| matches!(l.as_slice(), [Edge::Arc(a)] if (a.radius - 5.0).abs() < 1e-9)
                )
            );
        }
    }

    #[test]
    fn a_slit_and_a_plain_loop_stay() {
        let slit = vec![
            line((0.0, 0.0), (80.0, 0.0)),
            line((80.0, 0.0), (80.0, 20.0)),
            line((80.0, 20.0), (50.0, 20.0)),
            line((50.0, 20.0), (80.0, 20.0)),
            line((80.0, 20.0), (0.0, 40.0)),
            line((0.0, 40.0), (0.0, 0.0)),
        ];
        let (loops, bridges) = apart(slit.clone());
        assert_eq!((loops.as_slice(), bridges.len()), (&[slit][..], 0));
    }
}
