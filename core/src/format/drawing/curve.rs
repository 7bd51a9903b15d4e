//! Curves that are neither straight nor circular: Béziers of any degree, with weights or without, and
//! pieces of ellipses.
//!
//! A Bézier keeps its poles times their weights and the weights beside them (homogeneous coordinates). So a
//! rational spline is evaluated by the same repeated halving of its control polygon (de Casteljau) as a
//! plain one, and an affine map moves it exactly.
#![allow(
    clippy::indexing_slicing,
    reason = "a table of as many rows as there may be poles, and an index that stays under their count"
)]

use super::ellipse::Elliptic;
use crate::geom::{Point, Vec2};
use kurbo::Affine;

/// Highest degree of a Bézier or spline.
pub(crate) const MOST_DEGREE: usize = 15;

/// A Bézier by its poles: x and y times the weight, and the weight.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bezier {
    poles: Vec<[f64; 3]>,
}

/// A curve with a parameter that runs from 0 to 1.
#[derive(Clone, Debug)]
pub(crate) enum Curve {
    Bezier(Bezier),
    Ellipse(Elliptic),
}

impl Bezier {
    /// Without weights. At least two points, at most [`MOST_DEGREE`] and one.
    pub(crate) fn new(points: &[Point]) -> Option<Self> {
        Self::rational(points.iter().map(|p| [p.x, p.y, 1.0]).collect())
    }

    /// With weights, all above 0.
    pub(crate) fn rational(poles: Vec<[f64; 3]>) -> Option<Self> {
        let sound = |p: &[f64; 3]| p.iter().all(|v| v.is_finite()) && p[2] > 0.0;
        let counted = (2..=MOST_DEGREE + 1).contains(&poles.len());
        (counted && poles.iter().all(sound)).then_some(Self { poles })
    }

    /// Moved through a map.
    pub(crate) fn mapped(&self, map: &Affine) -> Self {
        let [a, b, c, d, e, f] = map.as_coeffs();
        let turn = |p: &[f64; 3]| {
            let [x, y, w] = *p;
            [a * x + c * y + e * w, b * x + d * y + f * w, w]
        };
        Self {
            poles: self.poles.iter().map(turn).collect(),
        }
    }

    /// Its poles where they lie; the curve stays within their hull.
    pub(crate) fn hull(&self) -> impl DoubleEndedIterator<Item = Point> {
        self.poles.iter().map(on_plate)
    }

    /// Its poles times their weights, and the weights.
    pub(super) fn poles(&self) -> &[[f64; 3]] {
        &self.poles
    }

    /// The place at `t`.
    fn at(&self, t: f64) -> Point {
        let mut q = self.poles.clone();
        for left in (1..q.len()).rev() {
            for i in 0..left {
                q[i] = between(q[i], q[i + 1], t);
            }
        }
        on_plate(&q[0])
    }

    /// Its two halves in the parameter.
    pub(super) fn halves(&self) -> (Self, Self) {
        let mut late = self.poles.clone();
        let mut early = Vec::with_capacity(late.len());
        for left in (0..late.len()).rev() {
            early.push(late[0]);
            for i in 0..left {
                late[i] = between(late[i], late[i + 1], 0.5);
            }
        }
        (Self { poles: early }, Self { poles: late })
    }

    /// Where it starts and in which direction; where it ends and in which direction. It starts towards the
    /// first pole that does not coincide with the start but for rounding.
    pub(super) fn ends(&self) -> [(Point, Option<Vec2>); 2] {
        let speck = 1e-9 * self.longest();
        let way = |mut poles: Box<dyn Iterator<Item = Point> + '_>| {
            let end = poles.next().unwrap_or_default();
            let next = poles.find(|p| p.distance(end) > speck);
            (end, next.and_then(|p| (p - end).unit()))
        };
        let (start, out) = way(Box::new(self.hull()));
        let (end, back) = way(Box::new(self.hull().rev()));
        [(start, out), (end, back.map(|w| w * -1.0))]
    }

    /// The length of its polygon; no shorter than the curve, mm.
    pub(super) fn longest(&self) -> f64 {
        let pairs = self.hull().zip(self.hull().skip(1));
        pairs.map(|(p, q)| p.distance(q)).sum()
    }
}

fn on_plate(h: &[f64; 3]) -> Point {
    Point::new(h[0] / h[2], h[1] / h[2])
}

fn between(a: [f64; 3], b: [f64; 3], t: f64) -> [f64; 3] {
    [0, 1, 2].map(|k| a[k] + t * (b[k] - a[k]))
}

impl Curve {
    /// The place at `t`.
    pub(crate) fn at(&self, t: f64) -> Point {
        match self {
            Self::Bezier(b) => b.at(t),
            Self::Ellipse(e) => e.at(e.start + e.sweep * t),
        }
    }

    /// The same curve as Béziers, one after the other.
    pub(super) fn beziers(&self) -> Vec<Bezier> {
        match self {
            Self::Bezier(b) => vec![b.clone()],
            Self::Ellipse(e) => e.quarters(),
        }
    }

    /// No shorter than the curve, mm.
    pub(crate) fn longest(&self) -> f64 {
        match self {
            Self::Ellipse(e) => e.u.length().max(e.v.length()) * e.sweep.abs(),
            Self::Bezier(b) => b.longest(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter circle as a rational quadratic, weights 1, √½, 1 (from memory, any book on splines).
    #[test]
    fn a_rational_quadratic_is_a_quarter_circle() {
        let w = core::f64::consts::FRAC_1_SQRT_2;
        let quarter = Bezier::rational(vec![[1.0, 0.0, 1.0], [w, w, w], [0.0, 1.0, 1.0]]);
        let quarter = quarter.expect("weights above 0");
        let (early, late) = quarter.halves();
        for i in 0..=20 {
            for piece in [&quarter, &early, &late] {
                let p = piece.at(f64::from(i) / 20.0);
                assert!((p.distance(Point::default()) - 1.0).abs() < 1e-15, "{p:?}");
            }
        }
        let [_, (joint, inward)] = early.ends();
        let [(again, out), _] = late.ends();
        assert_eq!(joint, again);
        let radius = joint - Point::default();
        for way in [inward, out] {
            assert!(way.expect("it goes on").dot(radius).abs() < 1e-12);
        }
    }

    #[test]
    fn a_piece_of_an_ellipse_is_the_same_as_rational_quadratics() {
        let whole = Elliptic::whole(Point::new(3.0, 4.0), 50.0, 20.0);
        let piece = Elliptic {
            start: 0.4,
            sweep: -4.0,
            ..whole
        };
        let quarters = Curve::Ellipse(piece).beziers();
        assert_eq!(quarters.len(), 3);
        let mut at = piece.at(0.4);
        for quarter in &quarters {
            assert!(quarter.at(0.0).distance(at) < 1e-12);
            for i in 0..=10 {
                let p = quarter.at(f64::from(i) / 10.0) - whole.center;
                let (x, y) = (p.x / 50.0, p.y / 20.0);
                assert!((x * x + y * y - 1.0).abs() < 1e-14);
            }
            at = quarter.at(1.0);
        }
        assert!(at.distance(piece.at(-3.6)) < 1e-12);
    }

    #[test]
    fn where_poles_coincide_the_curve_still_has_a_direction() {
        let p = Point::new;
        let bent = Bezier::new(&[p(0.0, 0.0), p(0.0, 0.0), p(4.0, 0.0), p(4.0, 4.0)]);
        let [(_, way), _] = bent.expect("four poles").ends();
        assert!(way.is_some_and(|w| (w - Vec2::new(1.0, 0.0)).length() < 1e-12));
    }
}
