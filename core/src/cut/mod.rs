//! From outlines to a plan the torch can follow.

pub mod course;
pub mod gauge;
pub mod kerf;
pub mod layout;
pub mod material;
pub mod near;
pub mod settings;
pub mod stock;
