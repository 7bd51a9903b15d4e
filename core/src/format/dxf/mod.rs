//! Drawing exchange files (DXF), plain ASCII, read and written.
//!
//! Read: LINE, ARC, CIRCLE, POLYLINE and LWPOLYLINE with bulges, POINT (a mark), of the section
//! ENTITIES, in the units the header states. Everything else that is drawn is left alone and named
//! in a note. Layers, colours and line types do not count. Entities seen from below (extrusion
//! 0, 0, −1) are mirrored as the published reference says; those out of the plane are left alone.

mod entities;
mod header;
mod pairs;
mod read;
mod write;

pub use read::read;
pub use write::write;
