//! From a hand's trace to the outline that was meant, ready to cut.
//!
//! The flow is the layout, and nothing reaches back up the stream:
//!
//! ```text
//! format ─▶ trace ─▶ fit ─▶ relate ─▶ reading ─▶ outline ─▶ cut ─▶ format
//! ```
//!
//! The whole tool is a function: `(trace, settings, hints) → (outline, report)`.
//!
//! ```
//! use trued::{Edge, Point, Settings, Trace, true_up};
//!
//! // A pen led round a plate of 90 by 60 mm, shaking by a third of a millimetre.
//! let corners = [(0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0), (0.0, 0.0)];
//! let mut line = Vec::new();
//! for (from, to) in corners.iter().zip(&corners[1..]) {
//!     for i in 0..60 {
//!         let t = f64::from(i) / 60.0;
//!         let shake = 0.3 * (0.9 * (line.len() as f64)).sin();
//!         let (x, y) = (from.0 + t * (to.0 - from.0), from.1 + t * (to.1 - from.1));
//!         line.push(Point::new(x + shake, y + shake));
//!     }
//! }
//! let trued = true_up(&Trace::from_strokes([line]), &Settings::default(), &[])?;
//! let [plate] = trued.outline.loops.as_slice() else { panic!("one loop") };
//! assert!(plate.path.is_closed());
//! let edges = plate.path.edges();
//! assert!(edges.len() == 4 && edges.iter().all(|e| matches!(e, Edge::Line(_))));
//! assert!((edges[0].length() - 90.0).abs() < 1.0 || (edges[0].length() - 60.0).abs() < 1.0);
//! # Ok::<(), trued::Refusal>(())
//! ```
//!
//! What came out is an [`Outline`] and a [`Report`]: the relations found, every size with its ±, other readings that
//! were close, and *doubts*, each a guess that may be wrong. A [`Hint`] sets right what was read
//! otherwise than meant. What cannot be is a [`Refusal`]: a sentence for people and a [`RefusalKind`] to decide by.
//!
//! ```
//! use trued::{RefusalKind, Settings, Trace, true_up};
//!
//! let refusal = true_up(&Trace::default(), &Settings::default(), &[]).unwrap_err();
//! assert_eq!(refusal.kind(), RefusalKind::Trace);
//! ```
//!
//! # Features
//!
//! | | | |
//! |---|---|---|
//! | `formats` | on | files: CSV, SVG, DXF, JSON (module `format`) |
//! | `cut` | on | plans for the torch, the machine, the shop jobs (`cut`, `machine`, `jobs`) |
//! | `photo`, `decode` | | a marker line or a part from a picture; from a picture file |
//! | `kurbo`, `geo-types` | | shapes to and from those of these crates |
//! | `cli` | | the program |
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

pub use error::{Refusal, RefusalKind};
pub use geom::{Arc, Edge, Line, Point, Vec2};
pub use hint::Hint;
pub use outline::{Chain, Circle, Deviation, Loop, Mark, Outline, Path, Role, Shape};
pub use reading::{Reader, Trued, true_up};
pub use report::{About, Doubt, Note, Relation, RelationKind, Report, Size, SizeKind};
pub use settings::{Hand, Settings, TraceKind};
pub use trace::{Stroke, Trace};
pub use units::Units;
