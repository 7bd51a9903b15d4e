//! Pictures of plates whose truth is known: a pinhole camera over a textured ground with light, shadow,
//! glare, marks, a line and what lies beside it; then blur, noise and JPEG.

pub mod album;
pub mod camera;
pub mod ground;
pub mod ink;
pub mod judge;
pub mod light;
mod other;
pub mod raster;
pub mod render;
pub mod scene;
pub mod shape;
