//! Scalable Vector Graphics, read and written.
//!
//! Read: `path` with all its commands, `polyline`, `polygon`, `line`, `rect`, `circle`, `ellipse`,
//! in any nesting of groups, pictures and transforms, in real size. What is not drawn (`defs`,
//! `clipPath`, `display: none` …) is passed over; what is drawn but no outline (text, images) or
//! could grow without bound (`use`) is left alone and named in a note. Strokes' widths and fills
//! do not count: a course is the line itself.

mod ellipse;
mod entities;
mod path;
mod read;
mod viewport;
mod write;

pub use read::read;
pub(crate) use write::arc_ends;
pub use write::write;
