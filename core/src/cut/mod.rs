//! The room `cut`.
