//! Lines and arcs through runs of points, the exact best partition of a path into them, and the pattern that holes
//! were meant to form.

mod circle;
mod line;
pub mod partition;
pub mod pattern;
pub mod ways;

pub use circle::{CircleFit, fit_circle, taubin};
pub use line::{LineFit, fit_line, line_misfit, principal_direction};
