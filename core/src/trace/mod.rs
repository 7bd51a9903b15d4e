//! What the hand left, and how it becomes clean paths and stations.

mod clean;
mod close;
mod cloud;
mod crossing;
mod dense;
mod kind;
mod measure;
pub(crate) mod pace;
mod retrace;
mod slits;
mod spikes;
mod stations;
mod strokes;
mod thin;
mod touched;
mod twice;
pub(crate) mod untraced;
mod validate;
pub mod wander;

pub use clean::{CleanPath, CleanTrace, Ends, PathKind, clean};
pub use stations::Stations;

use crate::geom::{Edge, Point};
use serde::{Deserialize, Serialize};

/// Everything the hand left in one session, in mm, y up.
///
/// A trace may also carry geometry that was drawn rather than traced (straight edges and true arcs
/// from a drawing file): it goes through unchanged.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// Pen-down runs in the order they came. A stroke of one point is a mark.
    #[serde(default)]
    pub strokes: Vec<Stroke>,
    /// Exact edge chains from a drawing file; each is a run of edges meeting end to start.
    /// A chain whose last edge ends where its first starts is closed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub drawn: Vec<Vec<Edge>>,
}

/// One pen-down run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stroke {
    /// Points in the order they were touched.
    pub points: Vec<Point>,
    /// Seconds, one for each point, or empty where unknown. A help, never trusted: may repeat, jump or run backwards.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub times: Vec<f64>,
}

impl Stroke {
    /// A stroke without times.
    #[must_use]
    pub fn new(points: Vec<Point>) -> Self {
        Self {
            points,
            times: Vec::new(),
        }
    }
}

impl Trace {
    /// A trace of strokes without times.
    #[must_use]
    pub fn from_strokes<I: IntoIterator<Item = Vec<Point>>>(strokes: I) -> Self {
        Self {
            strokes: strokes.into_iter().map(Stroke::new).collect(),
            drawn: Vec::new(),
        }
    }

    /// The same trace with single touches, each a stroke of its own, as one stroke in the order they came: for
    /// a person who says that they are the corners of an outline.
    #[must_use]
    pub fn as_corners(mut self) -> Self {
        if self.strokes.len() > 2 && self.strokes.iter().all(|s| s.points.len() == 1) {
            let points = self.strokes.iter().flat_map(|s| s.points.iter().copied());
            self.strokes = vec![Stroke::new(points.collect())];
        }
        self
    }

    /// Sampled points in all strokes.
    #[must_use]
    pub fn point_count(&self) -> usize {
        self.strokes.iter().map(|s| s.points.len()).sum()
    }
}
