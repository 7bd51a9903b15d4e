//! The outline: closed loops and open paths of edges meeting at shared corners.
//!
//! Corners are stored once and an edge holds only its shape, so neighbours meet bit for bit and a
//! closed loop is closed by construction. Centres and radii are derived.

mod bounds;
pub mod check;
pub mod crowd;
mod invariants;
pub mod nesting;
pub mod numbers;
mod path;

pub use bounds::Bounds;
#[cfg(feature = "formats")]
pub(crate) use path::enclosed;
pub use path::{Chain, Circle, Path, Shape};

use crate::geom::Point;
use serde::{Deserialize, Serialize};

/// What a loop bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Role {
    /// The outside of a piece; runs counter-clockwise.
    Part,
    /// An opening in a piece; runs clockwise.
    Hole,
    /// A path with two ends, cut along itself.
    Open,
}

/// How far the trace lies from the loop it became, mm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Deviation {
    /// Root mean square over mm of path.
    pub rms: f64,
    /// The largest.
    pub max: f64,
}

/// One loop or open path with its role.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Loop {
    /// What it bounds.
    pub role: Role,
    /// Its course.
    pub path: Path,
    /// How far the trace lies from it; `None` where there was no trace (drawn or made geometry).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deviation: Option<Deviation>,
}

/// A single touch that stayed a touch: usually a hole centre.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Mark {
    /// Where.
    pub at: Point,
}

/// Loops, open paths and marks: the outline that was meant.
///
/// Serialized it is what it is here, corner by corner, and reads back the same bit for bit. What comes from
/// elsewhere is worth a look by [`Outline::check_invariants`]; the outline document, for whoever reads it without this
/// crate, is [`crate::format::document`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Outline {
    /// Parts, holes and open paths.
    pub loops: Vec<Loop>,
    /// Touches that are no edges.
    #[serde(default)]
    pub marks: Vec<Mark>,
}
