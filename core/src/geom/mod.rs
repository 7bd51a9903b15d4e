//! Ground floor: points, directions, the two shapes an edge can have, running moments.
//!
//! Lengths are millimetres, angles radians, y points up, positive turns are counter-clockwise.
//! Nothing here knows a tolerance: whoever compares says how close is close.

mod angle;
mod edge;
mod moments;
pub mod near;
mod point;
mod side;
mod sorted;

pub use angle::{normalize_angle, turn_between};
pub use edge::{Arc, Edge, Line};
pub use moments::{Central, Moments};
pub use point::{Point, Vec2};
pub use side::{Side, side_of};
pub use sorted::Sorted;
