//! Corrections by the person, as data.
//!
//! A hint names its subject by a place on the plate, not by a number, so it survives re-running:
//! the edge, corner, loop or mark nearest to that place is meant. In a hints file:
//!
//! ```json
//! { "trued_hints": 1, "units": "mm",
//!   "hints": [ { "at": [50.0, 0.2], "edge": "straight" },
//!              { "at": [100.0, 30.0], "size": 60.0 },
//!              { "at": [0.0, 0.0], "corner": { "radius": 8.0 } },
//!              { "at": [20.0, 20.0], "loop": "hole" },
//!              { "at": [12.0, 12.0], "hole": 8.0 } ] }
//! ```

use crate::geom::Point;
use serde::{Deserialize, Serialize};

/// One correction: what is meant at a place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hint {
    /// The place that names the subject, mm.
    pub at: Point,
    /// What is so.
    #[serde(flatten)]
    pub says: Says,
}

impl Hint {
    /// The same hint with every place and length `k` times as large.
    #[must_use]
    pub fn scaled(&self, k: f64) -> Self {
        let place = |p: Point| Point::new(p.x * k, p.y * k);
        let says = match self.says {
            Says::Size(v) => Says::Size(v * k),
            Says::Corner(CornerKind::Radius(r)) => Says::Corner(CornerKind::Radius(r * k)),
            Says::Parallel(p) => Says::Parallel(place(p)),
            Says::Equal(p) => Says::Equal(place(p)),
            Says::Hole(d) => Says::Hole(d * k),
            Says::Datum(p) => Says::Datum(place(p)),
            Says::Edge(_) | Says::Corner(_) | Says::Loop(_) => self.says.clone(),
        };
        Self {
            at: place(self.at),
            says,
        }
    }
}

/// What a hint says of the edge, corner, loop or mark nearest to its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Says {
    /// The edge is straight or an arc.
    Edge(EdgeKind),
    /// The edge has this size, mm: a line's length, an arc's radius.
    Size(f64),
    /// The corner is sharp, rounded, or keeps its traced angle.
    Corner(CornerKind),
    /// The edge is parallel to the edge nearest to this other place.
    Parallel(Point),
    /// The edge is as long as (or has the radius of) the edge nearest to this other place.
    Equal(Point),
    /// The loop is a part, a hole, open, a circle or a rectangle; or it (or a mark) has nothing to do with others.
    Loop(LoopKind),
    /// The mark is a round hole of this diameter, mm.
    Hole(f64),
    /// The edge lies along the straight line from here to this other place (a datum such as a
    /// sheared side of the stock).
    Datum(Point),
}

/// What an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EdgeKind {
    /// Straight.
    Straight,
    /// Circular.
    Arc,
}

/// What a corner is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CornerKind {
    /// Two edges meet in a point.
    Sharp,
    /// Rounded by a tangent arc of this radius, mm.
    Radius(f64),
    /// The angle stays as traced: not squared, not set to any step.
    Keep,
}

/// What a loop is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LoopKind {
    /// The outside of a piece.
    Part,
    /// An opening in a piece.
    Hole,
    /// A path with two ends.
    Open,
    /// A circle.
    Circle,
    /// A rectangle.
    Rectangle,
    /// It, or the mark here, stays where it was traced, whatever other loops and marks are.
    Alone,
}
