//! Drawing exchange files (DXF), read and written.
//!
//! Read, plain or binary, of release 9 to now: LINE, ARC, CIRCLE, ELLIPSE, SPLINE, POLYLINE and LWPOLYLINE
//! with bulges, POINT (a mark), INSERT of blocks in blocks; of the section ENTITIES, in the units that the
//! header states. What is on layers that are off or frozen, invisible or on a sheet is left out and told.
//! Colours and line types do not count. Entities seen from below (extrusion 0, 0, −1) are mirrored as the
//! published reference says.
//!
//! ```text
//! binary ─▶ pairs ─▶ file (header, layers, where blocks are) ─▶ draw ─▶ entity, spline, fill ─▶ pen
//! ```

mod binary;
mod draw;
mod entity;
mod file;
mod fill;
mod header;
mod pairs;
mod spline;
mod write;

pub use file::read;
pub use write::write;
