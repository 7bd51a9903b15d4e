//! Conditions on a figure: each a number that must be zero, with its gradient by the figure's
//! parameters (corners first, x before y, then the bulges of the arcs).
#![allow(
    clippy::indexing_slicing,
    reason = "places in the gradient are those the figure itself numbers its corners and arcs with"
)]

use super::figure::Figure;
use crate::geom::{Vec2, normalize_angle};
use core::f64::consts::FRAC_PI_2;

/// One equation that a figure can be held to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Condition {
    /// Line `f` runs `angle` radians to the left of line `e`.
    Angle {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
        /// Turn from the first to the second, radians.
        angle: f64,
    },
    /// Line `e` runs in the direction `angle`, radians.
    Direction {
        /// The edge.
        e: usize,
        /// Its direction.
        angle: f64,
    },
    /// Edge `e` runs into the next without a kink.
    Tangent {
        /// The edge before the joint.
        e: usize,
    },
    /// Edge `e` meets the next at a right angle, though one of them is curved: a straight one then runs
    /// through the arc's centre.
    SquareJoint {
        /// The edge before the joint.
        e: usize,
        /// It turns left.
        left: bool,
    },
    /// Two edges have one chord length.
    EqualLength {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// Two arcs have one radius.
    EqualRadius {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// Two arcs have one centre: its x.
    CenterX {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// Two arcs have one centre: its y.
    CenterY {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// The centre of an arc: its x, mm.
    CenterAtX {
        /// The arc.
        e: usize,
        /// Where it is.
        value: f64,
    },
    /// The centre of an arc: its y, mm.
    CenterAtY {
        /// The arc.
        e: usize,
        /// Where it is.
        value: f64,
    },
    /// The turns after two edges are the same.
    EqualTurn {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// Two arcs sweep by the same angle (sign aside).
    EqualSweep {
        /// First edge.
        e: usize,
        /// Second edge.
        f: usize,
    },
    /// The start of line `f` lies on line `e`.
    OnLine {
        /// The line.
        e: usize,
        /// The edge whose first corner lies on it.
        f: usize,
    },
    /// Corner `c` lies on the straight line through `through` in the direction `angle`.
    CornerOnDatum {
        /// The corner.
        c: usize,
        /// x of a point on the datum.
        x: f64,
        /// y of a point on the datum.
        y: f64,
        /// Direction of the datum, radians.
        angle: f64,
    },
    /// A chord length, mm.
    Length {
        /// The edge.
        e: usize,
        /// Its length.
        value: f64,
    },
    /// A radius, mm.
    Radius {
        /// The arc.
        e: usize,
        /// Its radius.
        value: f64,
    },
    /// The distance of line `f`'s first corner from line `e`, mm.
    Distance {
        /// The line measured from.
        e: usize,
        /// The line measured to.
        f: usize,
        /// Signed distance, positive to the right of `e`.
        value: f64,
    },
}

/// A condition's value and gradient at a figure.
#[derive(Clone, Debug)]
pub struct Linear {
    /// The number that must become zero.
    pub value: f64,
    /// Its gradient.
    pub gradient: Vec<f64>,
}

/// Gradient under construction.
struct Sum<'a> {
    figure: &'a Figure,
    value: f64,
    gradient: Vec<f64>,
}

impl Condition {
    /// Value and gradient at `figure`, with room for `extra` further parameters. `None` where the
    /// figure is degenerate there.
    #[must_use]
    pub fn at(&self, figure: &Figure, extra: usize) -> Option<Linear> {
        self.sum(figure, vec![0.0; figure.parameters() + extra])
    }

    /// The value alone.
    #[must_use]
    pub fn value(&self, figure: &Figure) -> Option<f64> {
        Some(self.sum(figure, Vec::new())?.value)
    }

    /// Value and gradient; no gradient where there is no room for it.
    fn sum(&self, figure: &Figure, gradient: Vec<f64>) -> Option<Linear> {
        let mut s = Sum {
            figure,
            value: 0.0,
            gradient,
        };
        match *self {
            Self::Angle { e, f, angle } => {
                s.angle(f, 1.0)?;
                s.angle(e, -1.0)?;
                s.value = normalize_angle(s.value - angle);
            }
            Self::Direction { e, angle } => {
                s.angle(e, 1.0)?;
                s.value = normalize_angle(s.value - angle);
            }
            Self::Tangent { e } => {
                s.turn(e, 1.0)?;
                s.value = normalize_angle(s.value);
            }
            Self::SquareJoint { e, left } => {
                s.turn(e, 1.0)?;
                let turn = if left { FRAC_PI_2 } else { -FRAC_PI_2 };
                s.value = normalize_angle(s.value - turn);
            }
            Self::EqualLength { e, f } => {
                s.length(e, 1.0)?;
                s.length(f, -1.0)?;
            }
            Self::EqualRadius { e, f } => {
                s.radius(e, 1.0)?;
                s.radius(f, -1.0)?;
            }
            Self::CenterX { e, f } => {
                s.center(e, 1.0, true)?;
                s.center(f, -1.0, true)?;
            }
            Self::CenterY { e, f } => {
                s.center(e, 1.0, false)?;
                s.center(f, -1.0, false)?;
            }
            Self::CenterAtX { e, value } => {
                s.center(e, 1.0, true)?;
                s.value -= value;
            }
            Self::CenterAtY { e, value } => {
                s.center(e, 1.0, false)?;
                s.value -= value;
            }
            Self::EqualTurn { e, f } => {
                s.turn(e, 1.0)?;
                s.turn(f, -1.0)?;
                s.value = normalize_angle(s.value);
            }
            Self::EqualSweep { e, f } => {
                let sign = figure.bulges[e].signum() * figure.bulges[f].signum();
                s.sweep(e, 1.0);
                s.sweep(f, -sign);
            }
            Self::OnLine { e, f } => s.offset(e, f)?,
            Self::Distance { e, f, value } => {
                s.offset(e, f)?;
                s.value -= value;
            }
            Self::CornerOnDatum { c, x, y, angle } => {
                let n = Vec2::from_angle(angle).left();
                let p = *figure.corners.get(c)?;
                s.value = n.x * (p.x - x) + n.y * (p.y - y);
                s.corner(c, n);
            }
            Self::Length { e, value } => {
                s.length(e, 1.0)?;
                s.value -= value;
            }
            Self::Radius { e, value } => {
                s.radius(e, 1.0)?;
                s.value -= value;
            }
        }
        let fine = s.value.is_finite() && s.gradient.iter().all(|g| g.is_finite());
        fine.then_some(Linear {
            value: s.value,
            gradient: s.gradient,
        })
    }

    /// A size or a place that a person gave: it goes before what the stations say of an edge's length.
    #[must_use]
    pub fn is_said(&self) -> bool {
        matches!(
            self,
            Self::Length { .. }
                | Self::Radius { .. }
                | Self::Distance { .. }
                | Self::CornerOnDatum { .. }
        )
    }

    /// Whether the condition's number is an angle (radians) rather than a length (mm).
    #[must_use]
    pub fn is_angle(&self) -> bool {
        matches!(
            self,
            Self::Angle { .. }
                | Self::Direction { .. }
                | Self::Tangent { .. }
                | Self::SquareJoint { .. }
                | Self::EqualTurn { .. }
                | Self::EqualSweep { .. }
        )
    }
}

impl Sum<'_> {
    /// Corners of edge `e`: their indices and the step between them.
    fn chord(&self, e: usize) -> Option<(usize, usize, Vec2, f64)> {
        let (a, b) = (e, self.figure.end_corner(e));
        let d = *self.figure.corners.get(b)? - *self.figure.corners.get(a)?;
        let c = d.length();
        (c > 1e-9).then_some((a, b, d, c))
    }

    fn add(&mut self, slot: usize, g: f64) {
        if let Some(sum) = self.gradient.get_mut(slot) {
            *sum += g;
        }
    }

    fn corner(&mut self, c: usize, g: Vec2) {
        self.add(2 * c, g.x);
        self.add(2 * c + 1, g.y);
    }

    fn angle(&mut self, e: usize, k: f64) -> Option<()> {
        let (a, b, d, c) = self.chord(e)?;
        let g = d.left() * (k / (c * c));
        self.value += k * d.angle();
        self.corner(b, g);
        self.corner(a, -g);
        Some(())
    }

    fn sweep(&mut self, e: usize, k: f64) {
        if let Some(slot) = self.figure.bulge_slot(e) {
            let b = self.figure.bulges[e];
            self.value += k * self.figure.sweep(e);
            self.add(slot, k * 4.0 / (1.0 + b * b));
        }
    }

    fn turn(&mut self, e: usize, k: f64) -> Option<()> {
        let next = (e + 1) % self.figure.len().max(1);
        self.angle(next, k)?;
        self.sweep(next, -0.5 * k);
        self.angle(e, -k)?;
        self.sweep(e, -0.5 * k);
        Some(())
    }

    fn length(&mut self, e: usize, k: f64) -> Option<()> {
        let (a, b, d, c) = self.chord(e)?;
        self.value += k * c;
        self.corner(b, d * (k / c));
        self.corner(a, -d * (k / c));
        Some(())
    }

    fn radius(&mut self, e: usize, k: f64) -> Option<()> {
        let (a, b, d, c) = self.chord(e)?;
        let slot = self.figure.bulge_slot(e)?;
        let bulge = self.figure.bulges[e];
        if bulge == 0.0 {
            return None;
        }
        let r = c * (1.0 + bulge * bulge) / (4.0 * bulge.abs());
        self.value += k * r;
        self.corner(b, d * (k * r / (c * c)));
        self.corner(a, -d * (k * r / (c * c)));
        self.add(
            slot,
            k * 0.25 * c * (1.0 - 1.0 / (bulge * bulge)) * bulge.signum(),
        );
        Some(())
    }

    fn center(&mut self, e: usize, k: f64, is_x: bool) -> Option<()> {
        let (a, b, d, _) = self.chord(e)?;
        let slot = self.figure.bulge_slot(e)?;
        let bulge = self.figure.bulges[e];
        if bulge == 0.0 {
            return None;
        }
        let g = (1.0 - bulge * bulge) / (4.0 * bulge);
        let by_g = -(1.0 + bulge * bulge) / (4.0 * bulge * bulge);
        let mid = self.figure.corners[a].midpoint(self.figure.corners[b]);
        if is_x {
            self.value += k * (mid.x - d.y * g);
            self.corner(a, Vec2::new(0.5, g) * k);
            self.corner(b, Vec2::new(0.5, -g) * k);
            self.add(slot, -k * d.y * by_g);
        } else {
            self.value += k * (mid.y + d.x * g);
            self.corner(a, Vec2::new(-g, 0.5) * k);
            self.corner(b, Vec2::new(g, 0.5) * k);
            self.add(slot, k * d.x * by_g);
        }
        Some(())
    }

    /// Distance of edge `f`'s first corner to the right of line `e`.
    fn offset(&mut self, e: usize, f: usize) -> Option<()> {
        let (a, b, d, c) = self.chord(e)?;
        let p = *self.figure.corners.get(f)?;
        let (pa, pb) = (p - self.figure.corners[a], p - self.figure.corners[b]);
        let x = d.cross(pa);
        let u = d / c;
        // Right of travel: minus the left height x / c.
        self.value -= x / c;
        self.corner(a, -(pb.left() / c + u * (x / (c * c))));
        self.corner(b, pa.left() / c + u * (x / (c * c)));
        self.corner(f, u.left() * -1.0);
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::partition::Kind;
    use crate::geom::Point;

    #[test]
    fn gradients_agree_with_differences() {
        let figure = Figure {
            corners: [(0.0, 0.0), (40.0, 3.0), (44.0, 30.0), (-5.0, 33.0)]
                .map(|(x, y)| Point::new(x, y))
                .to_vec(),
            bulges: vec![0.0, 0.4, 0.0, -0.6],
            kinds: vec![Kind::Line, Kind::Arc, Kind::Line, Kind::Arc],
            closed: true,
        };
        let all = [
            Condition::Angle {
                e: 0,
                f: 2,
                angle: 3.0,
            },
            Condition::Direction { e: 2, angle: 3.0 },
            Condition::Tangent { e: 0 },
            Condition::Tangent { e: 3 },
            Condition::SquareJoint { e: 1, left: true },
            Condition::SquareJoint { e: 0, left: false },
            Condition::EqualLength { e: 0, f: 1 },
            Condition::EqualRadius { e: 1, f: 3 },
            Condition::CenterX { e: 1, f: 3 },
            Condition::CenterY { e: 1, f: 3 },
            Condition::CenterAtX { e: 1, value: 3.0 },
            Condition::CenterAtY { e: 3, value: 3.0 },
            Condition::EqualTurn { e: 0, f: 1 },
            Condition::EqualSweep { e: 1, f: 3 },
            Condition::OnLine { e: 0, f: 2 },
            Condition::Distance {
                e: 0,
                f: 2,
                value: 10.0,
            },
            Condition::CornerOnDatum {
                c: 1,
                x: 1.0,
                y: 2.0,
                angle: 0.3,
            },
            Condition::Length { e: 0, value: 40.0 },
            Condition::Radius { e: 3, value: 20.0 },
        ];
        for c in all {
            let here = c.at(&figure, 1).unwrap();
            for i in 0..figure.parameters() {
                let mut step = vec![0.0; figure.parameters()];
                let mut up = figure.clone();
                step[i] = 1e-6;
                up.shift(&step);
                let mut down = figure.clone();
                step[i] = -1e-6;
                down.shift(&step);
                let slope = (c.at(&up, 1).unwrap().value - c.at(&down, 1).unwrap().value) / 2e-6;
                assert!(
                    (slope - here.gradient[i]).abs() < 1e-6,
                    "{c:?} {i} {slope} {}",
                    here.gradient[i]
                );
            }
        }
    }
}
