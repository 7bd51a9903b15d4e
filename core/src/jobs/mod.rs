//! The jobs around the cut, each one function from plain values to plain values.
//!
//! - [`opening`]: an opening with its holes from touched marks;
//! - [`pattern`]: what pattern the marks were meant to form.

pub mod opening;
pub mod pattern;

pub use opening::{Opening, OpeningSettings, OpeningShape, Place, opening};
pub use pattern::{Pattern, PatternKind, PatternSettings, pattern};
