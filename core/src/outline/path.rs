//! The course of one loop: a circle, or a chain of edges that share their corners.

use crate::geom::{Arc, Edge, Line, Point};
use core::f64::consts::TAU;
use serde::{Deserialize, Serialize};

/// The shape of an edge between its two corners.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Shape {
    /// Straight.
    Line,
    /// Circular, turning by `sweep` radians (counter-clockwise positive, 0 < |sweep| < 2π).
    Arc {
        /// How far it turns.
        sweep: f64,
    },
}

/// Edges meeting at shared corners.
///
/// A closed chain has as many shapes as corners (the last runs back to the first corner), an open
/// one has one fewer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Chain {
    /// Corners in order of travel.
    pub corners: Vec<Point>,
    /// Shape of the edge leaving each corner.
    pub shapes: Vec<Shape>,
}

/// A whole circle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Circle {
    /// Its centre.
    pub center: Point,
    /// Its radius, mm.
    pub radius: f64,
    /// Which way it is travelled.
    pub counter_clockwise: bool,
}

/// The course of one loop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Path {
    /// A whole circle: no corners, one edge.
    Circle(Circle),
    /// Edges and corners.
    Chain(Chain),
}

impl Chain {
    /// As many shapes as corners: the last edge runs back to the first corner.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        !self.corners.is_empty() && self.shapes.len() == self.corners.len()
    }

    /// Edge `i` with its ends, or `None` past the last.
    #[must_use]
    pub fn edge(&self, i: usize) -> Option<Edge> {
        let shape = *self.shapes.get(i)?;
        let from = *self.corners.get(i)?;
        let to = *self.corners.get(i + 1).or(self.corners.first())?;
        let line = Edge::Line(Line { from, to });
        Some(match shape {
            Shape::Line => line,
            Shape::Arc { sweep } => Arc::from_sweep(from, to, sweep).map_or(line, Edge::Arc),
        })
    }
}

impl Path {
    /// A closed course: a circle, or a chain that runs back to its first corner.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        match self {
            Self::Circle(_) => true,
            Self::Chain(c) => c.is_closed(),
        }
    }

    /// All edges in order of travel. A circle is one full arc.
    #[must_use]
    pub fn edges(&self) -> Vec<Edge> {
        match self {
            Self::Circle(c) => vec![Edge::Arc(Arc::circle(
                c.center,
                c.radius,
                c.counter_clockwise,
            ))],
            Self::Chain(c) => (0..c.shapes.len()).filter_map(|i| c.edge(i)).collect(),
        }
    }

    /// Length of the whole course, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.edges().iter().map(Edge::length).sum()
    }

    /// Signed area, mm²: positive when travelled counter-clockwise; exact for arcs; 0 when open.
    #[must_use]
    pub fn area(&self) -> f64 {
        match self {
            Self::Circle(c) => {
                let area = 0.5 * TAU * c.radius * c.radius;
                if c.counter_clockwise { area } else { -area }
            }
            Self::Chain(c) if c.is_closed() => enclosed(&self.edges()),
            Self::Chain(_) => 0.0,
        }
    }

    /// The same course travelled the other way.
    #[must_use]
    pub fn reversed(&self) -> Self {
        match self {
            Self::Circle(c) => Self::Circle(Circle {
                counter_clockwise: !c.counter_clockwise,
                ..*c
            }),
            Self::Chain(c) => {
                let mut corners = c.corners.clone();
                corners.reverse();
                if c.is_closed() {
                    // Keep the first corner first, so that edge i becomes edge n-1-i.
                    corners.rotate_right(1);
                }
                let flip = |s: &Shape| match *s {
                    Shape::Line => Shape::Line,
                    Shape::Arc { sweep } => Shape::Arc { sweep: -sweep },
                };
                let shapes = c.shapes.iter().rev().map(flip).collect();
                Self::Chain(Chain { corners, shapes })
            }
        }
    }

    /// Points along the course, none further from it than `tolerance` mm; a closed course repeats
    /// its first point at the end.
    #[must_use]
    pub fn flatten(&self, tolerance: f64) -> Vec<Point> {
        let mut points: Vec<Point> = Vec::new();
        for edge in self.edges() {
            let run = edge.flatten(tolerance);
            let skip = usize::from(!points.is_empty());
            points.extend(run.into_iter().skip(skip));
        }
        points
    }
}

/// Signed area that edges go round which end where they begin, mm².
pub(crate) fn enclosed(edges: &[Edge]) -> f64 {
    let origin = edges.first().map_or(Point::default(), Edge::from);
    let part = |e: &Edge| {
        let triangle = 0.5 * (e.from() - origin).cross(e.to() - origin);
        match e {
            Edge::Line(_) => triangle,
            Edge::Arc(a) => triangle + 0.5 * a.radius * a.radius * (a.sweep - libm::sin(a.sweep)),
        }
    };
    edges.iter().map(part).sum()
}
