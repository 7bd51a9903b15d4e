//! A marker line, or a part itself, from a photo: a picture becomes a trace in mm.
//!
//! ```text
//! decode ─▶ frame ─▶ view ─▶ flat ─▶ ink ─▶ chains ─▶ profile ─▶ tips ─▶ trace
//!           marks, sheet, target  └▶ part (a silhouette instead of a line)
//! ```
//!
//! 1. Four marks at the corners of a known rectangle, a sheet of known size or the printed target are found
//!    ([`frame`], [`sheet`], `target`) and tell how the plate is seen ([`view`]); what must be straight tells
//!    how the lens bends ([`lens`]).
//! 2. The plate is laid out from above ([`flat`]). What is narrow, with the ground returning on both sides, is
//!    ink ([`ink`]); thinned, it is chains ([`chains`]), of which the outline is chosen ([`lines`]).
//! 3. Across each chain both edges are measured, and corners are made of what lies beside them ([`profile`],
//!    [`tips`]).
//!
//! What comes out is a trace like any other, with the wander the line itself has. Whatever cannot be
//! trusted is refused with what to do. Needs no threads and no files: a browser's worker calls it with the
//! pixels of a canvas, is told how far it is, and can stop it.

mod camera;
mod chains;
mod cross;
#[cfg(feature = "decode")]
pub mod decode;
mod fits;
mod flat;
mod frame;
mod grid;
mod ink;
mod lens;
mod lines;
mod mark;
mod part;
mod picture;
mod profile;
mod read;
mod say;
mod scale;
mod sheet;
mod spots;
mod straight;
mod target;
mod thick;
mod thin;
mod tips;
mod view;

pub use flat::Flat;
pub use mark::MarkKind;
pub use picture::{MAX_PIXELS, Picture};
pub use read::read;
pub use target::{TARGET, target};
pub use view::{Lens, View};

use crate::format::template::Paper;
use crate::geom::Point;
use crate::report::{Doubt, Note};
use crate::{Refusal, Trace};

/// What in the picture tells the scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scale {
    /// Four marks at the corners of a rectangle of this width and height, mm. The width lies along the
    /// side nearer to the picture's horizontal.
    Frame(f64, f64),
    /// The printed target ([`target`]), whose discs measure so far across and up, mm.
    Target(f64, f64),
    /// A white sheet of this size.
    Sheet(Paper),
    /// The picture was taken straight from above and shows so many mm across.
    Across(f64),
}

/// Which line of the ink is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Wanted {
    /// Its middle.
    #[default]
    Middle,
    /// Its inner edge.
    Inside,
    /// Its outer edge.
    Outside,
}

/// What is asked of a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// What tells the scale.
    pub scale: Scale,
    /// The frame's corners in the picture, pixels, in any order, where a person shows them.
    pub corners: Option<[Point; 4]>,
    /// Which line of the ink.
    pub line: Wanted,
    /// The part itself lies there: its silhouette is wanted.
    pub part: bool,
    /// Thickness of the part, mm.
    pub thickness: f64,
    /// Height of the camera over the plate where it is known, mm.
    pub camera: Option<f64>,
}

impl Ask {
    /// The middle of a marker line.
    #[must_use]
    pub const fn of(scale: Scale) -> Self {
        Self {
            scale,
            corners: None,
            line: Wanted::Middle,
            part: false,
            thickness: 0.0,
            camera: None,
        }
    }
}

/// What came of a picture.
pub struct Photo {
    /// The line, mm.
    pub trace: Trace,
    /// What was done, in sentences.
    pub notes: Vec<Note>,
    /// What may be wrong.
    pub doubts: Vec<Doubt>,
    /// How the plate is seen.
    pub view: View,
    /// The frame's corners in the picture (pixels): lower left, lower right, upper right, upper left.
    pub corners: [Point; 4],
    /// Width and height of the frame, mm.
    pub frame: (f64, f64),
    /// Half-width of the 95 % interval of the scale, as a share.
    pub plus_minus: f64,
    /// Width of the line, mm; 0 of a part.
    pub width: f64,
    /// The plate from above.
    pub flat: Flat,
}

/// What tells the scale in a picture, before anything is read of it.
pub struct Framed {
    /// The frame's corners in the picture (pixels): lower left, lower right, upper right, upper left.
    pub corners: [Point; 4],
    /// Width and height of the frame, mm.
    pub size: (f64, f64),
    /// How the plate is seen.
    pub view: View,
    /// What was found may be others' marks.
    pub doubtful: bool,
}

/// Finds what tells the scale and nothing else, to be shown and put right before the picture is read.
///
/// # Errors
/// As [`read`].
pub fn find_frame(picture: &Picture, ask: &Ask) -> Result<Framed, Refusal> {
    read::check(ask)?;
    let (frame, size) = scale::frame_of(picture, ask)?;
    Ok(Framed {
        corners: frame.corners,
        size,
        view: frame.view,
        doubtful: say::is_doubtful(&frame, ask),
    })
}

/// Tells how far the work is (0..1), and whether to go on.
pub(crate) struct Watch<'a>(&'a mut dyn FnMut(f64) -> bool);

impl Watch<'_> {
    fn at(&mut self, done: f64) -> Result<(), Refusal> {
        match (self.0)(done) {
            true => Ok(()),
            false => Err(Refusal::Trace("the work on the picture was stopped".into())),
        }
    }
}
