//! A figure in the making: corners and bulges, free to move, and what each station sees of them.
//!
//! A chain of edges is described by its corners and, for every arc, its *bulge* `tan(sweep/4)`
//! (0 is straight, 1 a half circle counter-clockwise). Neighbours meet by construction, so no
//! intersection has to exist while the solve is on its way. The signed distance of a point from an
//! edge (positive to the right of travel) comes from the power of the point with respect to the
//! circle through both corners, in a form that is smooth through bulge 0:
//!
//! ```text
//! f = 2b/(c(1+b²)) (p−A)·(p−B) − (1−b²)/(1+b²) n·(p−A),   d = 2f / (1 + √(1 + 2fκ))
//! ```
//!
//! with chord length `c`, left normal `n` and curvature `κ = 4b/(c(1+b²))`. `d` is exact.
#![allow(
    clippy::indexing_slicing,
    reason = "corners, kinds and bulges are as many as edges by construction; indices are taken modulo their number"
)]

use crate::fit::partition::Kind;
use crate::geom::{Point, Vec2};
use crate::outline::{Chain, Shape};

/// Corners and bulges of a chain (a whole circle is a figure of its own, see [`super::solve`]).
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Corners in order; an open figure has one more than edges.
    pub corners: Vec<Point>,
    /// Bulge of each edge; 0 for lines.
    pub bulges: Vec<f64>,
    /// What each edge is.
    pub kinds: Vec<Kind>,
    /// The last edge runs back to the first corner.
    pub closed: bool,
}

/// One edge of a figure, with what its distance formula needs.
#[derive(Clone, Copy, Debug)]
pub struct EdgeView {
    a: Point,
    b: Point,
    unit: Vec2,
    chord: f64,
    bulge: f64,
}

/// Signed distance of a point and its derivatives by both corners and the bulge.
#[derive(Clone, Copy, Debug)]
pub struct Seen {
    /// mm, positive to the right of travel.
    pub distance: f64,
    /// By the first corner.
    pub by_from: Vec2,
    /// By the second corner.
    pub by_to: Vec2,
    /// By the bulge.
    pub by_bulge: f64,
}

impl Figure {
    /// Number of edges.
    #[must_use]
    pub fn len(&self) -> usize {
        self.kinds.len()
    }

    /// No edges.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.kinds.is_empty()
    }

    /// Index of the corner where edge `e` ends.
    #[must_use]
    pub fn end_corner(&self, e: usize) -> usize {
        (e + 1) % self.corners.len().max(1)
    }

    /// Number of free numbers: two a corner, one an arc.
    #[must_use]
    pub fn parameters(&self) -> usize {
        2 * self.corners.len() + self.kinds.iter().filter(|k| **k == Kind::Arc).count()
    }

    /// Where edge `e`'s bulge stands among the parameters, if it is an arc.
    #[must_use]
    pub fn bulge_slot(&self, e: usize) -> Option<usize> {
        (self.kinds.get(e) == Some(&Kind::Arc)).then(|| {
            2 * self.corners.len() + self.kinds[..e].iter().filter(|k| **k == Kind::Arc).count()
        })
    }

    /// Edge `e` ready to measure distances; `None` where its corners coincide.
    #[must_use]
    pub fn view(&self, e: usize) -> Option<EdgeView> {
        let a = *self.corners.get(e)?;
        let b = *self.corners.get(self.end_corner(e))?;
        let chord = a.distance(b);
        (chord > 1e-9).then(|| EdgeView {
            a,
            b,
            unit: (b - a) / chord,
            chord,
            bulge: self.bulges[e],
        })
    }

    /// Sweep of edge `e`, radians (0 for a line).
    #[must_use]
    pub fn sweep(&self, e: usize) -> f64 {
        4.0 * libm::atan(self.bulges[e])
    }

    /// Direction of travel at the start of edge `e`, radians (not normalised).
    #[must_use]
    pub fn start_direction(&self, e: usize) -> f64 {
        let d = self.corners[self.end_corner(e)] - self.corners[e];
        d.angle() - 0.5 * self.sweep(e)
    }

    /// Direction of travel at the end of edge `e`, radians (not normalised).
    #[must_use]
    pub fn end_direction(&self, e: usize) -> f64 {
        let d = self.corners[self.end_corner(e)] - self.corners[e];
        d.angle() + 0.5 * self.sweep(e)
    }

    /// How far edge `e` bows from its chord, mm.
    #[must_use]
    pub fn sagitta(&self, e: usize) -> f64 {
        0.5 * self.bulges[e].abs() * self.chord(e)
    }

    /// Radius of edge `e`, mm (infinite for a line).
    #[must_use]
    pub fn radius(&self, e: usize) -> f64 {
        let b = self.bulges[e].abs();
        let c = self.chord(e);
        if b > 0.0 {
            c * (1.0 + b * b) / (4.0 * b)
        } else {
            f64::INFINITY
        }
    }

    /// From end to end of edge `e`, mm.
    #[must_use]
    pub fn chord(&self, e: usize) -> f64 {
        self.corners[e].distance(self.corners[self.end_corner(e)])
    }

    /// Length along edge `e`, mm.
    #[must_use]
    pub fn edge_length(&self, e: usize) -> f64 {
        let c = self.chord(e);
        let sweep = self.sweep(e).abs();
        if sweep > 1e-9 {
            0.5 * c / libm::sin(0.5 * sweep) * sweep
        } else {
            c
        }
    }

    /// Centre of edge `e`'s circle.
    #[must_use]
    pub fn center(&self, e: usize) -> Option<Point> {
        let v = self.view(e)?;
        (v.bulge != 0.0).then(|| {
            let g = (1.0 - v.bulge * v.bulge) / (4.0 * v.bulge);
            v.a.midpoint(v.b) + v.unit.left() * (v.chord * g)
        })
    }

    /// Edge `e` meets the next at a joint: the last of an open figure meets none, nor does one alone.
    #[must_use]
    pub fn joins(&self, e: usize) -> bool {
        self.len() > 1 && (self.closed || e + 1 < self.len())
    }

    /// The edges that meet the next at a joint.
    pub fn joints(&self) -> impl Iterator<Item = usize> + use<'_> {
        (0..self.len()).filter(|&e| self.joins(e))
    }

    /// The turn at the joint where edge `e` ends and the next begins, radians in (-π, π].
    #[must_use]
    pub fn turn_after(&self, e: usize) -> f64 {
        let next = (e + 1) % self.len().max(1);
        crate::geom::normalize_angle(self.start_direction(next) - self.end_direction(e))
    }

    /// The finished chain: the same corners, sweeps for bulges.
    #[must_use]
    pub fn to_chain(&self) -> Chain {
        let shapes = (0..self.len())
            .map(|e| match self.kinds[e] {
                Kind::Line => Shape::Line,
                Kind::Arc => Shape::Arc {
                    sweep: self.sweep(e),
                },
            })
            .collect();
        Chain {
            corners: self.corners.clone(),
            shapes,
        }
    }

    /// Moves every parameter by `step` (laid out as [`Figure::parameters`] counts them).
    pub fn shift(&mut self, step: &[f64]) {
        for (c, d) in self.corners.iter_mut().zip(step.chunks_exact(2)) {
            *c = *c + Vec2::new(d[0], d[1]);
        }
        let bulges = step.get(2 * self.corners.len()..).unwrap_or_default();
        let arcs = self
            .bulges
            .iter_mut()
            .zip(&self.kinds)
            .filter(|(_, k)| **k == Kind::Arc);
        for ((bulge, _), d) in arcs.zip(bulges) {
            *bulge += d;
        }
    }
}

impl EdgeView {
    /// Chord length, mm.
    #[must_use]
    pub fn chord(&self) -> f64 {
        self.chord
    }

    /// Signed curvature, 1/mm, positive to the left; 0 for a line.
    #[must_use]
    pub fn curvature(&self) -> f64 {
        4.0 * self.bulge / (self.chord * (1.0 + self.bulge * self.bulge))
    }

    /// Unit vector to the left of the chord.
    #[must_use]
    pub fn left(&self) -> Vec2 {
        self.unit.left()
    }

    /// Unit directions of travel at the start and at the end.
    #[must_use]
    pub fn ends(&self) -> (Vec2, Vec2) {
        // The chord, turned by half the sweep: twice the arc tangent of the bulge.
        let b = self.bulge;
        let q = 1.0 / (1.0 + b * b);
        let (along, across) = (
            self.unit * ((1.0 - b * b) * q),
            self.unit.left() * (2.0 * b * q),
        );
        (along - across, along + across)
    }

    /// Signed distance of `p` from a straight edge, mm, positive to the right of travel, and its
    /// derivatives by both corners' ways to the left; a third number has room for another.
    #[must_use]
    pub fn see_line(&self, p: Point) -> (f64, [f64; 3]) {
        let a = p - self.a;
        let part = self.unit.dot(a) / self.chord;
        (-self.unit.cross(a), [1.0 - part, part, 0.0])
    }

    /// Distance of `p` from the chord's line, mm, positive to the right of travel.
    #[must_use]
    pub fn chord_distance(&self, p: Point) -> f64 {
        -self.unit.cross(p - self.a)
    }

    /// Signed distance of `p`, mm, positive to the right of travel.
    #[must_use]
    pub fn distance(&self, p: Point) -> f64 {
        let (a, e) = (p - self.a, p - self.b);
        let b = self.bulge;
        let q = 1.0 + b * b;
        let f = 2.0 * b / (self.chord * q) * a.dot(e) - (1.0 - b * b) / q * self.unit.cross(a);
        let k = 4.0 * b / (self.chord * q);
        2.0 * f / (1.0 + (1.0 + 2.0 * f * k).max(0.0).sqrt())
    }

    /// Signed distance with derivatives.
    #[must_use]
    pub fn see(&self, p: Point) -> Seen {
        let (a, e) = (p - self.a, p - self.b);
        let (b, c) = (self.bulge, self.chord);
        let q = 1.0 + b * b;
        let (near, lean) = (2.0 * b / (c * q), (1.0 - b * b) / q);
        let (dot, height) = (a.dot(e), self.unit.cross(a));
        let f = near * dot - lean * height;
        let root = (1.0 + 2.0 * f * 4.0 * b / (c * q)).max(1e-6).sqrt();
        let distance = 2.0 * f / (1.0 + root);
        // Derivatives of f; at the small distances that matter d follows f by 1/root.
        let along = self.unit * (near * dot / c - lean * height / c);
        let by_from = (e * -near) + along - e.left() * (lean / c);
        let by_to = (a * -near) - along + a.left() * (lean / c);
        let by_bulge = (2.0 * (1.0 - b * b) / c * dot + 4.0 * b * height) / (q * q);
        let k = 1.0 / root;
        Seen {
            distance,
            by_from: by_from * k,
            by_to: by_to * k,
            by_bulge: by_bulge * k,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(bulge: f64) -> Figure {
        Figure {
            corners: vec![Point::new(1.0, 2.0), Point::new(41.0, 12.0)],
            bulges: vec![bulge],
            kinds: vec![Kind::Arc],
            closed: false,
        }
    }

    #[test]
    fn distance_is_exact_and_its_derivatives_agree_with_differences() {
        for bulge in [-1.7, -0.4, 1e-4, 0.02, 0.4, 1.0, 2.2] {
            let f = figure(bulge);
            let v = f.view(0).unwrap();
            let arc = f.to_chain().edge(0).unwrap();
            let p = arc.point_at(0.3) + arc.direction_at(0.3).left() * -0.4;
            assert!((v.distance(p) - 0.4).abs() < 1e-6, "bulge {bulge}");
            let on = arc.point_at(0.6);
            let seen = v.see(on);
            let mut step = [0.0; 5];
            let wanted = [
                seen.by_from.x,
                seen.by_from.y,
                seen.by_to.x,
                seen.by_to.y,
                seen.by_bulge,
            ];
            for i in 0..5 {
                let h = 1e-5;
                step = [0.0; 5];
                step[i] = h;
                let mut g = f.clone();
                g.shift(&step);
                let up = g.view(0).unwrap().distance(on);
                step[i] = -2.0 * h;
                g.shift(&step);
                let down = g.view(0).unwrap().distance(on);
                let slope = (up - down) / (2.0 * h);
                assert!(
                    (slope - wanted[i]).abs() < 1e-4 * wanted[i].abs().max(1.0),
                    "{bulge} {i}: {slope} {}",
                    wanted[i]
                );
            }
            assert!(step[4] != 0.0);
        }
    }
}
