//! From a hand's trace to the outline that was meant, ready to cut.
//!
//! The flow is the layout, and nothing reaches back up the stream:
//!
//! ```text
//! format ─▶ trace ─▶ fit ─▶ relate ─▶ reading ─▶ outline ─▶ cut ─▶ format
//! ```
//!
//! The whole tool is a function: `(trace, settings, hints) → (outline, report)`.
#![forbid(unsafe_code)]
// No input may make it panic. A file of nothing but numbered tables may index; it says why it may.
#![cfg_attr(
    not(test),
    deny(
        clippy::expect_used,
        clippy::indexing_slicing,
        clippy::panic,
        clippy::string_slice,
        clippy::todo,
        clippy::unimplemented,
        clippy::unreachable,
        clippy::unwrap_used
    )
)]

pub mod cautions;
#[cfg(any(feature = "geo-types", feature = "kurbo"))]
mod convert;
#[cfg(feature = "cut")]
pub mod cut;
mod error;
pub mod fit;
#[cfg(feature = "formats")]
pub mod format;
pub mod geom;
pub mod hint;
#[cfg(feature = "cut")]
pub mod jobs;
pub mod limits;
#[cfg(feature = "cut")]
pub mod machine;
pub mod outline;
#[cfg(feature = "photo")]
pub mod photo;
pub mod reading;
pub mod relate;
pub mod report;
mod settings;
pub mod trace;
mod units;

pub use error::Refusal;
pub use geom::{Arc, Edge, Line, Point, Vec2};
pub use hint::Hint;
pub use outline::{Chain, Circle, Deviation, Loop, Mark, Outline, Path, Role, Shape};
pub use reading::{Trued, true_up};
pub use report::{About, Doubt, Note, Relation, RelationKind, Report, Size, SizeKind};
pub use settings::{Hand, Settings, TraceKind};
pub use trace::{Stroke, Trace};
pub use units::Units;
