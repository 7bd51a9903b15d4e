//! The room `jobs`.
