//! Drawing exchange files (DXF), plain ASCII.

mod write;

pub use write::write;
