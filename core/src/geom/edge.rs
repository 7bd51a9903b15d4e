//! The two shapes an edge can have, with their ends.
//!
//! An [`Edge`] is a view: the outline stores corners once and each edge's shape
//! ([`Shape`](crate::Shape)), and builds these on demand, so that nothing can drift apart.

use super::{Point, Vec2};
use core::f64::consts::{PI, TAU};
use serde::{Deserialize, Serialize};

/// A straight edge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Line {
    /// Where it starts.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
}

/// A circular edge. A full circle has `from == to` and a sweep of ±2π.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Arc {
    /// Where it starts.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// Centre of the circle.
    pub center: Point,
    /// Radius, mm.
    pub radius: f64,
    /// How far it turns, radians; positive is counter-clockwise.
    pub sweep: f64,
}

/// One edge of an outline with its ends. In documents `{"line": {…}}` or `{"arc": {…}}`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Edge {
    /// Straight.
    Line(Line),
    /// Circular.
    Arc(Arc),
}

impl Line {
    /// Length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.from.distance(self.to)
    }

    /// The nearest place on the edge, and how far along it lies (0 at `from`, 1 at `to`).
    #[must_use]
    pub fn nearest(&self, p: Point) -> (Point, f64) {
        let d = self.to - self.from;
        let len2 = d.length_squared();
        let t = if len2 > 0.0 {
            ((p - self.from).dot(d) / len2).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (self.from.lerp(self.to, t), t)
    }
}

impl Arc {
    /// The arc from `from` to `to` that turns by `sweep`; `None` when the ends coincide
    /// (a full circle cannot be told from its ends) or the sweep is no turn at all.
    #[must_use]
    pub fn from_sweep(from: Point, to: Point, sweep: f64) -> Option<Self> {
        let chord = to - from;
        let length = chord.length();
        let (sin, cos) = libm::sincos(0.5 * sweep);
        if !(length > 0.0 && sin != 0.0 && length.is_finite() && sweep.is_finite()) {
            return None;
        }
        let center = from.midpoint(to) + chord.left() * (0.5 * cos / sin);
        let radius = (0.5 * length / sin).abs();
        Some(Self {
            from,
            to,
            center,
            radius,
            sweep,
        })
    }

    /// A whole circle that starts and ends `radius` to the right of its centre.
    #[must_use]
    pub fn circle(center: Point, radius: f64, counter_clockwise: bool) -> Self {
        let at = Point::new(center.x + radius, center.y);
        let sweep = if counter_clockwise { TAU } else { -TAU };
        Self {
            from: at,
            to: at,
            center,
            radius,
            sweep,
        }
    }

    /// A whole circle rather than a part of one.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.sweep.abs() >= TAU
    }

    /// Length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.radius * self.sweep.abs()
    }

    /// Direction from the centre to `from`, radians.
    #[must_use]
    pub fn start_angle(&self) -> f64 {
        (self.from - self.center).angle()
    }

    /// The place a fraction `t` of the way along.
    #[must_use]
    pub fn point_at(&self, t: f64) -> Point {
        self.center + Vec2::from_angle(self.start_angle() + t * self.sweep) * self.radius
    }

    /// How far along the arc the direction of `p` from the centre lies: in 0..=1 on the arc;
    /// a direction off it gives the nearer end.
    #[must_use]
    pub fn fraction_of(&self, p: Point) -> f64 {
        let turned = ((p - self.center).angle() - self.start_angle()) * self.sweep.signum();
        let turned = turned - TAU * libm::floor(turned / TAU);
        let sweep = self.sweep.abs();
        if turned <= sweep {
            turned / sweep
        } else if turned - sweep < TAU - turned {
            1.0
        } else {
            0.0
        }
    }

    /// The nearest place on the arc, and how far along it lies (0 at `from`, 1 at `to`).
    #[must_use]
    pub fn nearest(&self, p: Point) -> (Point, f64) {
        let t = self.fraction_of(p);
        let at = if t <= 0.0 {
            self.from
        } else if t >= 1.0 {
            self.to
        } else {
            let d = p - self.center;
            d.unit()
                .map_or(self.from, |u| self.center + u * self.radius)
        };
        (at, t)
    }
}

impl Edge {
    /// Where it starts.
    #[must_use]
    pub fn from(&self) -> Point {
        match self {
            Self::Line(l) => l.from,
            Self::Arc(a) => a.from,
        }
    }

    /// Where it ends.
    #[must_use]
    pub fn to(&self) -> Point {
        match self {
            Self::Line(l) => l.to,
            Self::Arc(a) => a.to,
        }
    }

    /// Length, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        match self {
            Self::Line(l) => l.length(),
            Self::Arc(a) => a.length(),
        }
    }

    /// The place a fraction `t` of the way along.
    #[must_use]
    pub fn point_at(&self, t: f64) -> Point {
        match self {
            Self::Line(l) => l.from.lerp(l.to, t),
            Self::Arc(a) => a.point_at(t),
        }
    }

    /// Unit direction of travel a fraction `t` of the way along.
    #[must_use]
    pub fn direction_at(&self, t: f64) -> Vec2 {
        match self {
            Self::Line(l) => (l.to - l.from).unit().unwrap_or(Vec2::new(1.0, 0.0)),
            Self::Arc(a) => {
                Vec2::from_angle(a.start_angle() + t * a.sweep).left() * a.sweep.signum()
            }
        }
    }

    /// The nearest place on the edge, and how far along it lies (0 at the start, 1 at the end).
    #[must_use]
    pub fn nearest(&self, p: Point) -> (Point, f64) {
        match self {
            Self::Line(l) => l.nearest(p),
            Self::Arc(a) => a.nearest(p),
        }
    }

    /// Distance from `p` to the edge, mm.
    #[must_use]
    pub fn distance(&self, p: Point) -> f64 {
        self.nearest(p).0.distance(p)
    }

    /// The same edge travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        match *self {
            Self::Line(l) => Self::Line(Line {
                from: l.to,
                to: l.from,
            }),
            Self::Arc(a) => Self::Arc(Arc {
                from: a.to,
                to: a.from,
                sweep: -a.sweep,
                ..a
            }),
        }
    }

    /// Points along the edge, start and end included, none further from the edge's true course
    /// than `tolerance` mm (chords lie inside an arc by at most that).
    #[must_use]
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        match self {
            Self::Line(l) => vec![l.from, l.to],
            Self::Arc(a) => {
                let n = chords(a.radius, a.sweep, tolerance);
                let mut points = Vec::with_capacity(n + 1);
                points.push(a.from);
                points.extend((1..n).map(|i| a.point_at(i as f64 / n as f64)));
                points.push(a.to);
                points
            }
        }
    }
}

/// How many chords keep an arc's sagitta under `tolerance`: between 2 and 4096.
fn chords(radius: f64, sweep: f64, tolerance: f64) -> usize {
    let half = if tolerance < radius {
        libm::acos(1.0 - tolerance.max(1e-9 * radius) / radius)
    } else {
        0.5 * PI
    };
    let n = libm::ceil(sweep.abs() / (2.0 * half.max(1e-6)));
    (n as usize).clamp(2, 4096)
}
