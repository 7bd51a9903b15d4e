//! Checks of trued against the outside.
