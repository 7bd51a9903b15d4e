//! Scalable Vector Graphics, read and written.
//!
//! Read: `path` with all its commands, `polyline`, `polygon`, `line`, `rect`, `circle`, `ellipse`, in any
//! nesting of groups, pictures, symbols and `use`, through transforms and styles whether said by attributes,
//! by `style` or by a style sheet, in real size. What is not shown is not cut, and told; texts and images
//! are left out and told; what is clipped in the picture comes in whole, and is doubted. Strokes' widths do not
//! count: a course is the line itself. A fill counts where it shows what the line does not: that an open shape is
//! closed, or that what lies within another is no hole.
//!
//! ```text
//! entities, viewport, style ─▶ walk ─▶ shapes, path ─▶ pen
//! ```

mod clip;
mod entities;
mod paint;
mod path;
mod shapes;
mod style;
mod transform;
mod viewport;
mod walk;
mod write;

pub use walk::read;
#[cfg(feature = "cut")]
pub(crate) use write::arc_ends;
pub use write::write;
