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
    pub(crate) fn hull(&self) -> impl Iterator<Item = Point> {
        self.poles.iter().map(on_plate)
    }

    /// The place at `t` and the derivative there.
    fn at(&self, t: f64) -> (Point, Vec2) {
        let mut q = [[0.0; 3]; MOST_DEGREE + 1];
        let count = self.poles.len();
        q[..count].copy_from_slice(&self.poles);
        let between = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| a[k] + t * (b[k] - a[k]));
        for left in (2..count).rev() {
            for i in 0..left {
                q[i] = between(q[i], q[i + 1]);
            }
        }
        let h = between(q[0], q[1]);
        let n = (count - 1) as f64;
        let slope = [0, 1, 2].map(|k| n * (q[1][k] - q[0][k]));
        let p = on_plate(&h);
        let along = Vec2::new(slope[0] - slope[2] * p.x, slope[1] - slope[2] * p.y) * (1.0 / h[2]);
        (p, along)
    }
}

fn on_plate(h: &[f64; 3]) -> Point {
    Point::new(h[0] / h[2], h[1] / h[2])
}

/// How far to go in to find a direction where the derivative vanishes.
const ASIDE: f64 = 1e-4;

impl Curve {
    /// The place at `t`.
    pub(crate) fn at(&self, t: f64) -> Point {
        self.with_slope(t).0
    }

    fn with_slope(&self, t: f64) -> (Point, Vec2) {
        match self {
            Self::Bezier(b) => b.at(t),
            Self::Ellipse(e) => {
                let angle = e.start + e.sweep * t;
                (e.at(angle), e.slope(angle) * e.sweep)
            }
        }
    }

    /// The place at `t` and the direction in which the curve runs there; at a joint of the part from
    /// `t` to `towards`, the direction of that part.
    pub(crate) fn heading(&self, t: f64, towards: f64) -> (Point, Option<Vec2>) {
        let (p, slope) = self.with_slope(t);
        let sign = if towards >= t { 1.0 } else { -1.0 };
        let aside = (self.at(t + (towards - t) * ASIDE) - p) * sign;
        // Where control points coincide the derivative is nothing but rounding.
        let steady = slope.length() * ASIDE * (towards - t).abs() > 0.1 * aside.length();
        (p, if steady { slope.unit() } else { aside.unit() })
    }

    /// No shorter than the curve, mm.
    pub(crate) fn longest(&self) -> f64 {
        match self {
            Self::Ellipse(e) => e.u.length().max(e.v.length()) * e.sweep.abs(),
            Self::Bezier(b) => {
                let hull: Vec<Point> = b.hull().collect();
                let pairs = hull.iter().zip(hull.iter().skip(1));
                pairs.map(|(p, q)| p.distance(*q)).sum()
            }
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
        let curve = Curve::Bezier(quarter.expect("weights above 0"));
        for i in 0..=20 {
            let (p, way) = curve.heading(f64::from(i) / 20.0, 1.5);
            let radius = p - Point::default();
            assert!((radius.length() - 1.0).abs() < 1e-15, "{p:?}");
            assert!(way.expect("it goes on").dot(radius).abs() < 1e-12);
        }
    }

    #[test]
    fn where_poles_coincide_the_curve_still_has_a_direction() {
        let p = Point::new;
        let bent = Bezier::new(&[p(0.0, 0.0), p(0.0, 0.0), p(4.0, 0.0), p(4.0, 4.0)]);
        let curve = Curve::Bezier(bent.expect("four poles"));
        let (_, way) = curve.heading(0.0, 1.0);
        assert!(way.is_some_and(|w| (w - Vec2::new(1.0, 0.0)).length() < 1e-3));
    }
}
