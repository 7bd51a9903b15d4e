//! From outlines to a plan the torch can follow.

pub mod kerf;
pub mod layout;
pub mod near;
pub mod stock;
