//! The room `machine`.
