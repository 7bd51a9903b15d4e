//! Running along edges: starting elsewhere, taking a stretch, measuring.

use crate::geom::{Arc, Edge, Line, Point};
use crate::outline::Path;

/// Length of all edges, mm.
#[must_use]
pub fn length(edges: &[Edge]) -> f64 {
    edges.iter().map(Edge::length).sum()
}

/// The stretch of one edge between two fractions of it.
#[must_use]
pub fn stretch(edge: &Edge, from: f64, to: f64) -> Edge {
    let start = if from <= 0.0 {
        edge.from()
    } else {
        edge.point_at(from)
    };
    let end = if to >= 1.0 {
        edge.to()
    } else {
        edge.point_at(to)
    };
    match edge {
        Edge::Line(_) => Edge::Line(Line {
            from: start,
            to: end,
        }),
        Edge::Arc(a) => Edge::Arc(Arc {
            from: start,
            to: end,
            sweep: a.sweep * (to - from),
            ..*a
        }),
    }
}

/// The closed course started a fraction `t` along edge `index`; the edge there is cut in two
/// unless the course is a whole circle, which just starts elsewhere.
#[must_use]
pub fn started_at(edges: &[Edge], index: usize, t: f64) -> Vec<Edge> {
    let Some(edge) = edges.get(index) else {
        return edges.to_vec();
    };
    if let (Edge::Arc(a), 1) = (edge, edges.len()) {
        let at = edge.point_at(t);
        return vec![Edge::Arc(Arc {
            from: at,
            to: at,
            ..*a
        })];
    }
    let mut all = Vec::with_capacity(edges.len() + 1);
    all.push(stretch(edge, t, 1.0));
    all.extend(edges.iter().skip(index + 1).copied());
    all.extend(edges.iter().take(index).copied());
    all.push(stretch(edge, 0.0, t));
    all.retain(|e| e.length() > 1e-9);
    all
}

/// The stretch of a course between two distances from its start, mm.
#[must_use]
pub fn between(edges: &[Edge], from: f64, to: f64) -> Vec<Edge> {
    let mut all = Vec::new();
    let mut passed = 0.0;
    for edge in edges {
        let l = edge.length();
        let (a, b) = ((from - passed).max(0.0), (to - passed).min(l));
        if l > 0.0 && b - a > 1e-9 {
            all.push(stretch(edge, a / l, b / l));
        }
        passed += l;
    }
    all
}

/// Number of the edge and the fraction along it, a distance from the start of a closed course.
#[must_use]
pub fn place(edges: &[Edge], distance: f64) -> (usize, f64) {
    let whole = length(edges);
    let mut left = if whole > 0.0 {
        distance - whole * libm::floor(distance / whole)
    } else {
        0.0
    };
    for (i, edge) in edges.iter().enumerate() {
        let l = edge.length();
        if left <= l && l > 0.0 {
            return (i, left / l);
        }
        left -= l;
    }
    (edges.len().saturating_sub(1), 1.0)
}

/// All edges of a course travelled the asked way round.
#[must_use]
pub fn turning(path: &Path, counter_clockwise: bool) -> Vec<Edge> {
    if (path.area() > 0.0) == counter_clockwise {
        path.edges()
    } else {
        path.reversed().edges()
    }
}

/// Where a course ends, or `fallback` where it is empty.
#[must_use]
pub fn end(edges: &[Edge], fallback: Point) -> Point {
    edges.last().map_or(fallback, Edge::to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::{Chain, Circle, Shape};

    fn rounded() -> Path {
        Path::Chain(Chain {
            corners: [(0.0, 0.0), (50.0, 0.0), (50.0, 20.0), (0.0, 20.0)]
                .map(|(x, y)| Point::new(x, y))
                .to_vec(),
            shapes: vec![
                Shape::Line,
                Shape::Arc {
                    sweep: core::f64::consts::PI,
                },
                Shape::Line,
                Shape::Arc {
                    sweep: core::f64::consts::PI,
                },
            ],
        })
    }

    #[test]
    fn starting_elsewhere_keeps_length_and_closes() {
        let edges = rounded().edges();
        // A stadium of 50 mm sides and 10 mm radius: 162.831853071796 mm round (closed form).
        assert!((length(&edges) - 162.831853071796).abs() < 1e-9);
        for i in 0..4 {
            let turned = started_at(&edges, i, 0.3);
            assert!((length(&turned) - length(&edges)).abs() < 1e-9);
            assert_eq!(turned[0].from(), turned[turned.len() - 1].to());
            for w in turned.windows(2) {
                assert!(w[0].to().distance(w[1].from()) < 1e-12);
            }
        }
    }

    #[test]
    fn a_stretch_has_the_asked_length() {
        let edges = rounded().edges();
        assert!((length(&between(&edges, 20.0, 100.0)) - 80.0).abs() < 1e-9);
        let (i, t) = place(&edges, 60.0);
        assert_eq!(i, 1);
        assert!((edges[1].length() * t - 10.0).abs() < 1e-9);
    }

    #[test]
    fn a_circle_starts_anywhere_and_stays_one_edge() {
        let c = Path::Circle(Circle {
            center: Point::new(1.0, 2.0),
            radius: 5.0,
            counter_clockwise: true,
        });
        let turned = started_at(&c.edges(), 0, 0.25);
        assert_eq!(turned.len(), 1);
        assert!(turned[0].from().distance(Point::new(1.0, 7.0)) < 1e-12);
    }
}
