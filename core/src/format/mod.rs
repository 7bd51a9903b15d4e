//! Files in and out: what is written reads back the same.
//!
//! Readers turn bytes into a [`Trace`] (CSV, SVG, DXF) or into the documents this tool writes
//! itself (outline, job, hints), or refuse them with one sentence that names the line and the
//! value. A file is taken whole or not at all: one bad row refuses it. Lengths arrive in mm with
//! y up, whatever the file's own units and direction.
//!
//! What a drawing shows is handed on edge by edge as [`Trace::drawn`] ([`drawing`]); CSV, and what a person
//! says was traced, become strokes to be read.

#[cfg(feature = "cut")]
mod comments;
pub mod csv;
pub mod document;
mod drawing;
pub mod dxf;
#[cfg(feature = "cut")]
pub mod figures;
mod guess;
mod list;
#[cfg(feature = "cut")]
pub mod look;
mod numbers;
#[cfg(feature = "cut")]
pub mod plan_dxf;
#[cfg(feature = "cut")]
pub mod plan_json;
#[cfg(feature = "cut")]
pub mod plan_svg;
#[cfg(feature = "cut")]
pub mod rs274;
#[cfg(feature = "cut")]
pub mod sheet;
pub mod svg;
#[cfg(feature = "cut")]
pub mod template;
mod text;
mod wanted;

pub use crate::units::Units;
pub use document::{Document, Job};
pub use drawing::made_for;
pub use guess::units_doubt;
pub use list::Format;
#[cfg(feature = "cut")]
pub use list::PlanOptions;
pub use wanted::{CHORDS, Decimal, Wanted};

use crate::hint::Hint;
use crate::report::{Doubt, Note};
use crate::{Refusal, Trace, limits};

/// What a file held.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// The content itself.
    pub content: Content,
    /// What the reader did that the person should know, in sentences.
    pub notes: Vec<Note>,
    /// What the reader guessed, and what the file showed that could not be taken from it.
    pub doubts: Vec<Doubt>,
    /// The unit of length the file itself states.
    pub units: Option<Units>,
    /// The machine that the file was pre-distorted for, where it says so.
    pub made_for: Option<String>,
    /// It is the drawing of a plan: the kerf is in its paths already.
    pub is_plan: bool,
}

/// What is said where the drawing of a plan is to be cut.
pub const PLAN_AGAIN: &str =
    "this drawing is a plan already compensated for kerf: cut the outline it was made of";

impl Input {
    /// Content of which nothing else is known.
    #[must_use]
    pub const fn of(content: Content) -> Self {
        Self {
            content,
            notes: Vec::new(),
            doubts: Vec::new(),
            units: None,
            made_for: None,
            is_plan: false,
        }
    }
}

/// The kinds of content.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// What a hand left or a drawing states; still to be read.
    Trace(Trace),
    /// An outline already trued, with its report.
    Document(Document),
    /// A saved job: trace, settings and hints.
    Job(Job),
    /// Corrections without a trace.
    Hints(Vec<Hint>),
}

/// Reads a file. The format is told by the name's ending and, where that says nothing (standard
/// input), by the first bytes. `wanted` is what a person says of it: where that is nothing, the units of a
/// file that states none are enough.
///
/// # Errors
/// Refuses what is broken, empty, without geometry or past a documented limit, in one sentence.
pub fn read(name: &str, bytes: &[u8], wanted: impl Into<Wanted>) -> Result<Input, Refusal> {
    let wanted = wanted.into();
    if bytes.len() > limits::MAX_FILE_BYTES {
        return Err(Refusal::Limit {
            what: "the file's size in bytes",
            value: bytes.len().to_string(),
            limit: limits::MAX_FILE_BYTES.to_string(),
        });
    }
    if bytes.trim_ascii().is_empty() {
        return Err(Refusal::File("the file is empty".into()));
    }
    let format = Format::of_name(name).unwrap_or_else(|| Format::of_bytes(bytes));
    let mut input = format.read(bytes, &wanted)?;
    if format != Format::Json {
        input.doubts.splice(0..0, drawing::doubts_of(bytes));
    }
    if matches!(format, Format::Svg | Format::Dxf) {
        input.is_plan = drawing::is_plan(bytes);
    }
    Ok(Input {
        made_for: input.made_for.or_else(|| drawing::machine_of(bytes)),
        ..input
    })
}
