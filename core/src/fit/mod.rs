//! The room `fit`.
