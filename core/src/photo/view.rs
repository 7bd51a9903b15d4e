//! Where a point of the plate is seen, and back.
//!
//! A plane seen by a pinhole camera is seen by a homography: eight numbers, which four points give
//! (Heckbert 1989 has the square's closed form). A real lens bends it a little, by one coefficient
//! here: what lies `r` from the picture's middle is seen at `r (1 + bend (r/R)²)`, `R` half the
//! picture's diagonal (Brown 1971, first term).

use crate::geom::{Point, Vec2};

/// A homography by rows.
pub(super) type Matrix = [[f64; 3]; 3];

/// How the plate is seen in the picture. mm on the plate, pixels in the picture (middles whole).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    to: Matrix,
    back: Matrix,
    lens: Lens,
}

/// The lens: the picture's middle, half its diagonal (pixels), and how much it bends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    pub(super) middle: Vec2,
    pub(super) reach: f64,
    /// Displacement at the picture's corner as a share of the distance from the middle.
    pub bend: f64,
}

impl Lens {
    pub(super) fn straight(width: usize, height: usize) -> Self {
        let middle = Vec2::new(0.5 * width as f64 - 0.5, 0.5 * height as f64 - 0.5);
        Self {
            middle,
            reach: middle.length().max(1.0),
            bend: 0.0,
        }
    }

    pub(super) fn bent(self, p: Point) -> Point {
        let v = p.to_vec() - self.middle;
        let r = v.length_squared() / (self.reach * self.reach);
        let v = self.middle + v * (1.0 + self.bend * r);
        Point::new(v.x, v.y)
    }

    /// Where a straight lens would see it, from the picture's middle.
    pub(super) fn unbent(self, p: Point) -> Point {
        let seen = p.to_vec() - self.middle;
        let mut v = seen;
        for _ in 0..5 {
            let r = v.length_squared() / (self.reach * self.reach);
            v = seen * (1.0 / (1.0 + self.bend * r));
        }
        let v = self.middle + v;
        Point::new(v.x, v.y)
    }
}

impl View {
    /// The view in which the corners of a rectangle `w` by `h` (from the origin, counter-clockwise on the
    /// plate) are seen at four places. Nothing where these are no convex corners.
    pub(super) fn of_rectangle(w: f64, h: f64, seen: &[Point; 4], lens: Lens) -> Option<Self> {
        let flat = seen.map(|p| lens.unbent(p));
        let unit = square_to(&flat)?;
        let to = unit.map(|[a, b, c]| [a / w, b / h, c]);
        Self::of_matrix(to, lens)
    }

    pub(super) fn of_matrix(to: Matrix, lens: Lens) -> Option<Self> {
        let back = inverse(&to)?;
        Some(Self { to, back, lens })
    }

    pub(super) const fn matrix(&self) -> &Matrix {
        &self.to
    }

    /// The lens.
    #[must_use]
    pub const fn lens(&self) -> Lens {
        self.lens
    }

    /// Where a point of the plate (mm) is seen, pixels.
    #[must_use]
    pub fn sees(&self, p: Point) -> Point {
        self.lens.bent(through(&self.to, p))
    }

    /// The point of the plate that is seen at a place.
    #[must_use]
    pub fn plate(&self, p: Point) -> Point {
        through(&self.back, self.lens.unbent(p))
    }

    /// Pixels by which what is seen moves as a point of the plate moves 1 mm along x and along y.
    pub(super) fn rates(&self, p: Point) -> (Vec2, Vec2) {
        let d = 0.05;
        let rate = |v: Vec2| (self.sees(p + v) - self.sees(p + (-v))) * (0.5 / d);
        (rate(Vec2::new(d, 0.0)), rate(Vec2::new(0.0, d)))
    }
}

/// A point through a homography.
pub(super) fn through(m: &Matrix, p: Point) -> Point {
    let [a, b, c] = m.map(|[x, y, z]| x * p.x + y * p.y + z);
    Point::new(a / c, b / c)
}

/// The unit square's corners (counter-clockwise from the origin) to four points.
fn square_to(q: &[Point; 4]) -> Option<Matrix> {
    let [a, b, c, d] = *q;
    let sum = (a - b) + (c - d);
    let (u, v) = (b - c, d - c);
    let below = u.cross(v);
    let g = sum.cross(v) / below;
    let h = u.cross(sum) / below;
    let fine = [below, g, h].iter().all(|x| x.is_finite()) && below.abs() > 1e-9;
    let rows = [
        [b.x - a.x + g * b.x, d.x - a.x + h * d.x, a.x],
        [b.y - a.y + g * b.y, d.y - a.y + h * d.y, a.y],
        [g, h, 1.0],
    ];
    fine.then_some(rows)
}

fn inverse(m: &Matrix) -> Option<Matrix> {
    let [a, b, c] = *m;
    let cross = |p: [f64; 3], q: [f64; 3]| {
        let ([p0, p1, p2], [q0, q1, q2]) = (p, q);
        [p1 * q2 - p2 * q1, p2 * q0 - p0 * q2, p0 * q1 - p1 * q0]
    };
    let (x, y, z) = (cross(b, c), cross(c, a), cross(a, b));
    let det: f64 = a.iter().zip(&x).map(|(p, q)| p * q).sum();
    let fine = det.is_finite() && det.abs() > 1e-300;
    let ([x0, x1, x2], [y0, y1, y2], [z0, z1, z2]) = (x, y, z);
    fine.then(|| [[x0, y0, z0], [x1, y1, z1], [x2, y2, z2]].map(|row| row.map(|v| v / det)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_points_give_the_homography_of_the_closed_form() {
        // Heckbert 1989, from memory, recomputed: the unit square to (0,0) (2,0) (3,3) (0,2) is
        // [1.5 0 0; 0 1.5 0; -.25 -.25 1], and its middle goes to (1, 1).
        let q = [(0.0, 0.0), (2.0, 0.0), (3.0, 3.0), (0.0, 2.0)].map(|(x, y)| Point::new(x, y));
        let lens = Lens {
            middle: Vec2::new(0.0, 0.0),
            reach: 1.0,
            bend: 0.0,
        };
        let view = View::of_rectangle(1.0, 1.0, &q, lens).unwrap();
        let want = [[1.5, 0.0, 0.0], [0.0, 1.5, 0.0], [-0.25, -0.25, 1.0]];
        for (row, wanted) in view.matrix().iter().zip(want) {
            for (v, w) in row.iter().zip(wanted) {
                assert!((v - w).abs() < 1e-12);
            }
        }
        let middle = view.sees(Point::new(0.5, 0.5));
        assert!(middle.distance(Point::new(1.0, 1.0)) < 1e-12);
    }

    #[test]
    fn what_is_seen_leads_back_to_the_plate_through_a_bent_lens() {
        let lens = Lens {
            bend: 0.01,
            ..Lens::straight(4000, 3000)
        };
        let q = [
            (500.0, 2500.0),
            (3600.0, 2300.0),
            (3300.0, 500.0),
            (700.0, 300.0),
        ]
        .map(|(x, y)| Point::new(x, y));
        let view = View::of_rectangle(300.0, 200.0, &q, lens).unwrap();
        for p in [(0.0, 0.0), (300.0, 200.0), (10.0, 150.0)].map(|(x, y)| Point::new(x, y)) {
            assert!(view.plate(view.sees(p)).distance(p) < 1e-6);
        }
        assert!(view.sees(Point::new(0.0, 0.0)).distance(q[0]) < 1e-6);
    }
}
