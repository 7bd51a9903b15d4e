//! Elliptical arcs: from the end points of path data to a centre, and through transforms.
//!
//! Path data states an arc by its ends, radii, rotation and two flags. The centre form follows the
//! implementation notes of the W3C's SVG 2 (B.2.4 conversion, B.2.5 radii too small are scaled up).
//! An ellipse is kept as its centre and two conjugate radii, p(t) = c + u cos t + v sin t, a form
//! that any affine map keeps; it is a circle when u and v are equally long and square to each
//! other. Where that is so the arc stays an arc; anything else becomes a chain of arcs ([`super::arcs`]).

use super::curve::Bezier;
use crate::geom::{Arc, Point, Vec2};
use core::f64::consts::{FRAC_PI_2, TAU};
use kurbo::Affine;

/// How far the two radii may differ, as a share of them, in what is still a circle.
const ROUND: f64 = 1e-5;

/// A piece of an ellipse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Elliptic {
    pub(crate) center: Point,
    pub(crate) u: Vec2,
    pub(crate) v: Vec2,
    /// Parameter at the start, radians.
    pub(crate) start: f64,
    /// How far the parameter runs, radians.
    pub(crate) sweep: f64,
}

/// What a piece of an ellipse is when its radii are alike.
pub(crate) enum Round {
    /// A whole circle.
    Circle(Arc),
    /// A circular arc that turns so far.
    Arc(f64),
}

/// An arc of path data as stated, in user units.
#[derive(Clone, Copy)]
pub(crate) struct Stated {
    pub(crate) from: Point,
    pub(crate) to: Point,
    pub(crate) radii: (f64, f64),
    /// Rotation of the first radius, degrees.
    pub(crate) rotation: f64,
    pub(crate) large: bool,
    pub(crate) positive: bool,
}

impl Stated {
    /// The centre form; `None` where the arc is a straight line (a radius of 0) or nothing at all
    /// (both ends alike).
    pub(crate) fn centered(&self) -> Option<Elliptic> {
        let (rx, ry) = (self.radii.0.abs(), self.radii.1.abs());
        if rx == 0.0 || ry == 0.0 || self.from == self.to {
            return None;
        }
        // A circle has no direction: leaving the rotation out keeps its digits.
        let angle = if rx == ry {
            0.0
        } else {
            self.rotation.to_radians()
        };
        let (sin, cos) = libm::sincos(angle);
        let half = (self.from - self.to) * 0.5;
        // Step 1, in units of the radii: half the chord seen along the axes.
        let x = (cos * half.x + sin * half.y) / rx;
        let y = (cos * half.y - sin * half.x) / ry;
        let square = x * x + y * y;
        if !(square > 0.0 && square.is_finite()) {
            return None;
        }
        // B.2.5: radii that do not reach are scaled up until they just do.
        let scale = square.sqrt().max(1.0);
        let (rx, ry, x, y) = (rx * scale, ry * scale, x / scale, y / scale);
        // Step 2: the centre in the same units.
        let root = ((1.0 - square / (scale * scale)).max(0.0) / (x * x + y * y)).sqrt();
        let root = if self.large == self.positive {
            -root
        } else {
            root
        };
        let (cx, cy) = (root * y, -root * x);
        // Step 3 and 4: the centre in place, the angles.
        let u = Vec2::new(cos, sin) * rx;
        let v = Vec2::new(-sin, cos) * ry;
        let center = self.from.midpoint(self.to) + u * cx + v * cy;
        let start = libm::atan2(y - cy, x - cx);
        let end = libm::atan2(-y - cy, -x - cx);
        let mut sweep = end - start;
        if self.positive && sweep < 0.0 {
            sweep += TAU;
        } else if !self.positive && sweep > 0.0 {
            sweep -= TAU;
        }
        Some(Elliptic {
            center,
            u,
            v,
            start,
            sweep,
        })
    }
}

impl Elliptic {
    /// A circular arc.
    pub(crate) fn of_arc(arc: &Arc) -> Self {
        Self {
            start: arc.start_angle(),
            sweep: arc.sweep,
            ..Self::whole(arc.center, arc.radius, arc.radius)
        }
    }

    /// A whole ellipse with axes along x and y.
    pub(crate) fn whole(center: Point, rx: f64, ry: f64) -> Self {
        Self {
            center,
            u: Vec2::new(rx, 0.0),
            v: Vec2::new(0.0, ry),
            start: 0.0,
            sweep: TAU,
        }
    }

    /// Moved through a map.
    pub(crate) fn mapped(&self, map: &Affine) -> Self {
        let [a, b, c, d, _, _] = map.as_coeffs();
        let turn = |w: Vec2| Vec2::new(a * w.x + c * w.y, b * w.x + d * w.y);
        Self {
            center: place(map, self.center),
            u: turn(self.u),
            v: turn(self.v),
            ..*self
        }
    }

    /// The place at parameter `t`.
    pub(crate) fn at(&self, t: f64) -> Point {
        let (sin, cos) = libm::sincos(t);
        self.center + self.u * cos + self.v * sin
    }

    /// The same as rational quadratics of at most a quarter each. The middle pole lies where the tangents
    /// at both ends meet; its weight is the cosine of half the turn (any book on splines).
    pub(super) fn quarters(&self) -> Vec<Bezier> {
        let count = libm::ceil(self.sweep.abs() / FRAC_PI_2 - 1e-9).clamp(1.0, 8.0);
        let step = self.sweep / count;
        let cos = libm::cos(0.5 * step);
        let pole = |t: f64| {
            let p = self.at(t);
            [p.x, p.y, 1.0]
        };
        let quarter = |i: usize| {
            let start = self.start + step * i as f64;
            let out = self.at(start + 0.5 * step) - self.center;
            let middle = [
                self.center.x * cos + out.x,
                self.center.y * cos + out.y,
                cos,
            ];
            Bezier::rational(vec![pole(start), middle, pole(start + step)])
        };
        (0..count as usize).filter_map(quarter).collect()
    }

    /// Where it starts and ends.
    pub(crate) fn ends(&self) -> (Point, Point) {
        (self.at(self.start), self.at(self.start + self.sweep))
    }

    /// The circle or arc that it is, when it is one.
    pub(crate) fn round(&self) -> Option<Round> {
        let (a, b) = (self.u.length(), self.v.length());
        let round = (a - b).abs() <= ROUND * a && self.u.dot(self.v).abs() <= ROUND * a * b;
        if !(round && a > 0.0) {
            return None;
        }
        let turn = self.sweep * self.u.cross(self.v).signum();
        Some(if self.sweep.abs() >= TAU {
            Round::Circle(Arc::circle(self.center, 0.5 * (a + b), turn > 0.0))
        } else {
            Round::Arc(turn)
        })
    }
}

/// A point moved through a map.
pub(crate) fn place(map: &Affine, p: Point) -> Point {
    let [a, b, c, d, e, f] = map.as_coeffs();
    Point::new(a * p.x + c * p.y + e, b * p.x + d * p.y + f)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(from: (f64, f64), to: (f64, f64), r: f64, large: bool, positive: bool) -> Elliptic {
        Stated {
            from: Point::new(from.0, from.1),
            to: Point::new(to.0, to.1),
            radii: (r, r),
            rotation: 0.0,
            large,
            positive,
        }
        .centered()
        .expect("an arc")
    }

    /// W3C SVG 2, implementation notes B.2.4 and B.2.5; values recomputed independently.
    #[test]
    fn centre_and_sweep_follow_the_w3c_notes() {
        let small = arc((0.0, 0.0), (10.0, 0.0), 3.0, false, true);
        assert!(small.center.distance(Point::new(5.0, 0.0)) < 1e-12);
        assert!((small.u.length() - 5.0).abs() < 1e-12);
        assert!((small.sweep.to_degrees() - 180.0).abs() < 1e-12);
        let cases = [
            (false, 11.733_500_838_6, 49.949_874_371_1, 112.885_380_476),
            (true, 38.266_499_161_4, 30.050_125_628_9, 247.114_619_524),
        ];
        for (large, x, y, degrees) in cases {
            let a = arc((10.0, 20.0), (40.0, 60.0), 30.0, large, true);
            assert!(a.center.distance(Point::new(x, y)) < 1e-9, "{a:?}");
            assert!((a.sweep.to_degrees() - degrees).abs() < 1e-8, "{a:?}");
            assert!(a.at(a.start).distance(Point::new(10.0, 20.0)) < 1e-12);
        }
    }

    #[test]
    fn a_circle_stays_one_through_turns_and_mirrors_but_not_through_a_squeeze() {
        let a = arc((10.0, 0.0), (0.0, 10.0), 10.0, false, true);
        let turned = a.mapped(&(Affine::rotate(0.3) * Affine::scale_non_uniform(2.0, -2.0)));
        assert!(
            matches!(turned.round(), Some(Round::Arc(sweep)) if (sweep.abs() - FRAC_PI_2).abs() < 1e-12)
        );
        assert!((turned.u.length() - 20.0).abs() < 1e-12);
        let squeezed = a.mapped(&Affine::scale_non_uniform(1.0, 1.01));
        assert!(squeezed.round().is_none());
    }
}
