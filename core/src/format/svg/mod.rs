//! Scalable Vector Graphics.

mod write;

pub use write::write;
