//! The room `format`.
