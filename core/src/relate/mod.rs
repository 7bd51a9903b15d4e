//! The room `relate`.
