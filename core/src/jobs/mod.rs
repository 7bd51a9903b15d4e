//! The jobs around the cut, each one function from plain values to plain values.
//!
//! - [`blanks`]: as many true blanks as a scrap gives;
//! - [`opening`]: an opening with its holes from touched marks;
//! - [`pattern`]: what pattern the marks were meant to form.

pub mod blanks;
pub mod opening;
pub mod pattern;

pub use blanks::{Blanks, BlanksSettings, Missing, blanks};
pub use opening::{Opening, OpeningSettings, OpeningShape, Place, opening};
pub use pattern::{Pattern, PatternKind, PatternSettings, pattern};
