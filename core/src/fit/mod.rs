//! Lines and arcs through runs of points, and the exact best partition of a path into them.

mod circle;
mod line;
pub mod partition;

pub use circle::{CircleFit, fit_circle, taubin};
pub use line::{LineFit, fit_line, line_misfit, principal_direction};
