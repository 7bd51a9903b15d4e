//! Whether a curve keeps to a pair of arcs: a proof over the whole of it, not a look at samples.
//!
//! *Problem.* Samples of a curve say nothing about what lies between them, and the weights of a rational
//! curve can hurry its parameter past any of them.
//!
//! *Idea.* In homogeneous coordinates a rational Bézier (X, Y, w) keeps within `off` of a circle about c with
//! radius r just where two polynomials are nowhere below zero,
//!
//! (r + off)² w² − |(X, Y) − c w|² and |(X, Y) − c w|² − (r − off)² w²,
//!
//! and a polynomial is nowhere below its least coefficient in Bernstein's form (Farouki and Rajan, Computer
//! Aided Geometric Design 5 (1988) 1). For a line the poles themselves are looked at. Where the coefficients
//! do not settle it the stretch is halved; they close in on the polynomial with the square of its length.
//!
//! *Which arc.* The normals at the start, at the joint and at the end cut the plane near a pair into the
//! sector of either arc. A stretch whose poles lie in one sector is held against that arc, one on both
//! sides of the joint against both. So its foot runs from the start of the pair to its end without a
//! gap, and the arcs lie as near to the curve as the curve does to them. Before the start and
//! after the end it may lie by [`ASIDE`] of the tolerance.
//!
//! *Fails*, and says no, where a curve touches the bound so nearly that [`DEEPEST`] halvings do not tell.

use super::curve::Bezier;
use crate::geom::{Edge, Point, Vec2};

/// The part of the tolerance that the curve may lie off beside an arc; with [`ASIDE`] square to it no more
/// than the whole.
const SHARE: f64 = 0.98;
/// The part of the tolerance by which it may lie before the start or after the end.
const ASIDE: f64 = 0.1;
/// No arc turns further, radians: its sector is then the meeting of two half planes.
const WIDEST: f64 = 3.0;
/// Most halvings of one stretch.
const DEEPEST: u32 = 12;

/// A place and the direction there.
type Ray = (Point, Vec2);

/// Two edges that run into one another, and how near a curve has to keep to them.
pub(super) struct Keeping {
    edges: [Edge; 2],
    start: Ray,
    joint: Ray,
    end: Ray,
    tolerance: f64,
}

impl Keeping {
    /// The pair `edges`, from a place and direction to another; nothing where it is no pair, or turns too far.
    pub(super) fn new(edges: &[Edge], start: Ray, end: Ray, tolerance: f64) -> Option<Self> {
        let &[first, second] = edges else {
            return None;
        };
        let wide = |e: &Edge| matches!(e, Edge::Arc(a) if a.sweep.abs() > WIDEST);
        if wide(&first) || wide(&second) {
            return None;
        }
        let joint = (first.to(), first.direction_at(1.0));
        Some(Self {
            edges: [first, second],
            start,
            joint,
            end,
            tolerance,
        })
    }

    /// The whole of a curve lies within the tolerance of the pair, and the pair of the curve.
    pub(super) fn holds(&self, curve: &Bezier) -> bool {
        let choose = Choose::new(curve.poles().len() - 1);
        let mut stretches = vec![(curve.clone(), 0)];
        while let Some((stretch, depth)) = stretches.pop() {
            if self.surely(&stretch, &choose) {
                continue;
            }
            let strays = |p: Point| {
                let [a, b] = self.edges.map(|e| e.distance(p));
                a.min(b) > SHARE * self.tolerance
            };
            if depth == DEEPEST || stretch.hull().next().is_none_or(strays) {
                return false;
            }
            let (early, late) = stretch.halves();
            stretches.extend([(early, depth + 1), (late, depth + 1)]);
        }
        true
    }

    /// Its poles and polynomials say so; where they do not it may still be so.
    fn surely(&self, stretch: &Bezier, choose: &Choose) -> bool {
        let aside = ASIDE * self.tolerance;
        let past = |(at, way): Ray, p: Point| (p - at).dot(way);
        let (mut least, mut most) = (f64::MAX, f64::MIN);
        for p in stretch.hull() {
            if past(self.start, p) < -aside || past(self.end, p) > aside {
                return false;
            }
            let along = past(self.joint, p);
            (least, most) = (least.min(along), most.max(along));
        }
        let [first, second] = &self.edges;
        let keeps = |edge: &Edge| keeps(edge, stretch, SHARE * self.tolerance, choose);
        (least >= 0.0 || keeps(first)) && (most <= 0.0 || keeps(second))
    }
}

/// A stretch lies within `off` of the line or circle of an edge.
fn keeps(edge: &Edge, stretch: &Bezier, off: f64, choose: &Choose) -> bool {
    match edge {
        Edge::Line(line) => (line.to - line.from).unit().is_some_and(|along| {
            let mut hull = stretch.hull();
            hull.all(|p| along.cross(p - line.from).abs() <= off)
        }),
        Edge::Arc(arc) => {
            // The foot on a circle runs on only where the curve stays clear of its centre.
            let off = off.min(0.9 * arc.radius);
            let square = |r: f64| r * r;
            let (outer, inner) = (square(arc.radius + off), square(arc.radius - off));
            let squares = choose.squares(stretch.poles(), arc.center);
            squares
                .iter()
                .all(|&(far, weight)| far <= outer * weight && far >= inner * weight)
        }
    }
}

/// Binomial coefficients of a degree and of its double.
struct Choose {
    once: Vec<f64>,
    twice: Vec<f64>,
}

impl Choose {
    fn new(degree: usize) -> Self {
        let row = |n: usize| {
            let mut c = 1.0;
            let mut row = vec![c];
            for k in 1..=n {
                c = c * (n + 1 - k) as f64 / k as f64;
                row.push(c);
            }
            row
        };
        Self {
            once: row(degree),
            twice: row(2 * degree),
        }
    }

    /// The coefficients in Bernstein's form of |(X, Y) − c w|² and of w².
    fn squares(&self, poles: &[[f64; 3]], c: Point) -> Vec<(f64, f64)> {
        let mut sums = vec![(0.0, 0.0); self.twice.len()];
        let scaled =
            |([x, y, w], n): (&[f64; 3], &f64)| (Vec2::new(x - c.x * w, y - c.y * w) * *n, w * n);
        let poles: Vec<(Vec2, f64)> = poles.iter().zip(&self.once).map(scaled).collect();
        for (i, (a, v)) in poles.iter().enumerate() {
            for ((b, w), sum) in poles.iter().zip(sums.iter_mut().skip(i)) {
                sum.0 += a.dot(*b);
                sum.1 += v * w;
            }
        }
        for (sum, n) in sums.iter_mut().zip(&self.twice) {
            (sum.0, sum.1) = (sum.0 / n, sum.1 / n);
        }
        sums
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Arc, Line};

    /// A straight run and an arc of a quarter, radius 10, against a curve that is a little off.
    #[test]
    fn a_curve_is_held_to_the_width_of_a_hair() {
        let p = Point::new;
        let line = Edge::Line(Line {
            from: p(-5.0, 0.0),
            to: p(0.0, 0.0),
        });
        let arc = Arc::from_sweep(p(0.0, 0.0), p(10.0, 10.0), core::f64::consts::FRAC_PI_2);
        let edges = [line, Edge::Arc(arc.expect("a quarter"))];
        let east = Vec2::new(1.0, 0.0);
        let keeping = |tolerance| {
            Keeping::new(
                &edges,
                (p(-5.0, 0.0), east),
                (p(10.0, 10.0), east.left()),
                tolerance,
            )
            .expect("a pair")
        };
        // A cubic quarter with legs of 0.5523 r lies up to 2.73e-4 r outside (from memory, any book on splines).
        let k = 5.522_847_498;
        let quarter = Bezier::new(&[p(0.0, 0.0), p(k, 0.0), p(10.0, 10.0 - k), p(10.0, 10.0)])
            .expect("poles");
        assert!(keeping(0.0028).holds(&quarter));
        assert!(!keeping(0.0027).holds(&quarter));
        let straight = Bezier::new(&[p(-5.0, 0.0), p(0.0, 0.0)]).expect("poles");
        assert!(keeping(0.0028).holds(&straight));
        // It starts too early.
        let early = Bezier::new(&[p(-5.1, 0.0), p(0.0, 0.0)]).expect("poles");
        assert!(!keeping(0.0028).holds(&early));
    }
}
