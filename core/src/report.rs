//! What was done and how sure it is: relations, sizes with their ±, other readings, notes.

use crate::geom::Point;
pub use crate::relate::kinds::RelationKind;
use crate::units::Units;
use serde::{Deserialize, Serialize};

mod words;

/// A relation that was found and now holds exactly. `loop` and edge numbers count from 0 in the
/// outline's order; edge `i` leaves corner `i`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Relation {
    /// Which kind.
    pub kind: RelationKind,
    /// Number of the loop.
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// Edges it ties together.
    pub edges: Vec<usize>,
    /// The angle, radius, length or pitch it fixes or shares, where it has one (radians or mm).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub value: Option<f64>,
    /// Edges of other loops that it ties to these; where `edges` is empty, all of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "types", ts(optional, as = "Option<Vec<OfLoop>>"))]
    pub with: Vec<OfLoop>,
    /// Marks that it ties; where it ties marks alone, `loop` is the first of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "types", ts(optional, as = "Option<Vec<usize>>"))]
    pub marks: Vec<usize>,
}

impl Relation {
    /// It ties loops or marks to one another, not only the edges of one loop.
    #[must_use]
    pub fn is_across(&self) -> bool {
        !self.with.is_empty() || !self.marks.is_empty()
    }
}

/// An edge of a loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct OfLoop {
    /// Number of the loop.
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// The edge; all of the loop where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub edge: Option<usize>,
}

/// One measured size with its uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Size {
    /// What is measured.
    pub kind: SizeKind,
    /// Number of the loop (or of the first mark for a spacing of marks).
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// The edge or edges it belongs to.
    pub edges: Vec<usize>,
    /// mm, or radians for an angle.
    pub value: f64,
    /// Half-width of the 95 % interval, same unit; 0 where a relation or hint fixes the size.
    pub plus_minus: f64,
    /// Fixed by a relation, a hint or a whole step rather than free.
    #[serde(default)]
    pub fixed: bool,
    /// A place on the plate to write it at.
    pub at: Point,
    /// The loop that is a hole, for its distance to an edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub hole: Option<usize>,
    /// The mark, for its distance to an edge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub mark: Option<usize>,
}

/// The kinds of size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum SizeKind {
    /// A straight edge over all: to where rounded or clipped corners would be, or over round ends.
    Length,
    /// A fillet's radius, or that of an arc which turns by less than half a turn.
    Radius,
    /// Of a circle, or of an arc that turns by half a turn or more.
    Diameter,
    /// Between the centres of a slot's ends.
    Centers,
    /// From a hole or mark to an edge of the part about it, square to that.
    ToEdge,
    /// Between two parallel straight edges.
    Distance,
    /// Between neighbouring holes or marks.
    Spacing,
    /// Interior angle at a corner, radians.
    Angle,
}

/// Another way to read the same loop, kept because it was close.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Alternative {
    /// Number of the loop it would replace.
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// How it differs, in a few words: "an arc instead of lines 3 and 4".
    pub summary: String,
    /// How much dearer it is than the one taken, nats (under about 5 is close).
    pub price_above_best: f64,
    /// Its edges.
    pub edges: Vec<crate::geom::Edge>,
    /// Closed or open.
    pub closed: bool,
    /// Hints that, added to the job, make the reading come out this way.
    #[serde(default)]
    pub hints: Vec<crate::hint::Hint>,
}

/// Something that was done, or could not be, in one sentence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Note {
    /// The sentence.
    pub text: String,
    /// Where on the plate, if it has a place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub at: Option<Point>,
}

impl Note {
    /// A note without a place.
    #[must_use]
    pub fn new(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            at: None,
        }
    }

    /// A note about a place.
    #[must_use]
    pub fn at(text: impl Into<String>, at: Point) -> Self {
        Self {
            text: text.into(),
            at: Some(at),
        }
    }
}

/// A guess that may be wrong: who cuts should look there first, and doors that write what a machine
/// runs stop on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Doubt {
    /// What was guessed and what to do about it, in one sentence.
    pub text: String,
    /// Where it shows worst, if it has a place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pub at: Option<Point>,
    /// What it is about.
    pub about: About,
}

/// What a doubt is about: the stage that guessed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum About {
    /// What the trace was read as.
    Reading,
    /// A stretch that was closed without having been traced.
    Closing,
    /// The unit of length.
    Units,
    /// Which side of a loop is kept: part or hole.
    Role,
    /// What a file showed that could not be taken from it.
    File,
    /// A correction by the person.
    Hint,
    /// The machine: its profile, reach, figures out of any usual range.
    Machine,
    /// The cuts: what would be cut wrongly, fall or overlap.
    Plan,
}

impl Doubt {
    /// What is doubted at many places: the first of them one by one, the others by their number.
    #[must_use]
    pub fn first_of(
        about: About,
        places: &[Point],
        most: usize,
        text: &str,
        more: impl FnOnce(usize) -> String,
    ) -> Vec<Self> {
        let told = places.iter().take(most);
        let mut all: Vec<Self> = told.map(|at| Self::at(about, text, *at)).collect();
        if places.len() > most {
            all.push(Self::new(about, more(places.len() - most)));
        }
        all
    }

    /// A doubt without a place.
    #[must_use]
    pub fn new(about: About, text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            at: None,
            about,
        }
    }

    /// A doubt about a place.
    #[must_use]
    pub fn at(about: About, text: impl Into<String>, at: Point) -> Self {
        Self {
            at: Some(at),
            ..Self::new(about, text)
        }
    }
}

/// A size that nobody asked for and that a correction changed by more than its ±.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Also {
    /// What is measured.
    pub kind: SizeKind,
    /// Number of the loop.
    #[serde(rename = "loop")]
    pub loop_index: usize,
    /// The edge or edges it belongs to.
    pub edges: Vec<usize>,
    /// As it was read and as it is now, mm or radians.
    pub from: f64,
    /// As it is now.
    pub to: f64,
    /// Its ± as it was read.
    pub plus_minus: f64,
    /// A place on the plate to write it at.
    pub at: Point,
}

/// A trace scaled, then turned about (0, 0), then moved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Placed {
    /// So many times as large.
    pub scale: f64,
    /// Turned by so much, radians counter-clockwise.
    pub turn: f64,
    /// Where (0, 0) came to, mm.
    pub to: Point,
}

impl Default for Placed {
    fn default() -> Self {
        Self {
            scale: 1.0,
            turn: 0.0,
            to: Point::default(),
        }
    }
}

impl Placed {
    /// Where a place of the trace came to.
    #[must_use]
    pub fn place(&self, p: Point) -> Point {
        let (s, c) = libm::sincos(self.turn);
        let k = self.scale;
        Point::new(
            k * (c * p.x - s * p.y) + self.to.x,
            k * (s * p.x + c * p.y) + self.to.y,
        )
    }

    /// Where a place was in the trace.
    #[must_use]
    pub fn back(&self, p: Point) -> Point {
        let (s, c) = libm::sincos(self.turn);
        let (x, y) = (p.x - self.to.x, p.y - self.to.y);
        let k = 1.0 / self.scale;
        Point::new(k * (c * x + s * y), k * (c * y - s * x))
    }
}

/// The size of the hand's error on one loop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Wander {
    /// Standard deviation across the path, mm.
    pub size: f64,
    /// How far along the path it stays correlated, mm.
    pub correlation: f64,
    /// Slow error of a hand that draws freely, mm; 0 for a careful trace.
    pub slow: f64,
}

/// Everything a reading says besides the outline.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Report {
    /// Relations that now hold exactly.
    pub relations: Vec<Relation>,
    /// Sizes with their ±.
    pub sizes: Vec<Size>,
    /// Other readings that were close.
    pub readings: Vec<Alternative>,
    /// What was done, in sentences.
    pub notes: Vec<Note>,
    /// Guesses that may be wrong. A clean, ordinary trace has none.
    pub doubts: Vec<Doubt>,
    /// The hand's error, loop by loop.
    pub wander: Vec<Wander>,
    /// How far each edge lies from what was traced of it, mm (largest), loop by loop.
    pub moved: Vec<Vec<f64>>,
    /// The unit the trace was in, where its file or the person said it: what is said of the outline is
    /// said in it, and bare numbers are meant in it.
    pub traced_in: Option<Units>,
    /// The machine that the geometry was pre-distorted for; it must not be corrected again.
    pub made_for: Option<String>,
    /// What else moved by more than its ± when corrections were followed.
    pub also: Vec<Also>,
    /// How the trace was scaled, turned and moved as a whole, where a correction asked for that.
    pub placed: Option<Placed>,
}

impl Report {
    /// The relations in words, counted: "4 corners squared · 1 radius shared". Ties between loops are counted together.
    #[must_use]
    pub fn found(&self) -> String {
        let count = |n: usize, [one, more]: [&str; 2]| match n {
            0 => None,
            1 => Some(format!("1 {one}")),
            n => Some(format!("{n} {more}")),
        };
        let tie = |r: &&Relation| r.is_across() && !r.kind.row().across.is_empty();
        let own = |kind: &RelationKind| {
            let all = self.relations.iter().filter(|r| r.kind == *kind && !tie(r));
            count(all.count(), kind.row().counted)
        };
        let ties = count(
            self.relations.iter().filter(tie).count(),
            ["tie between loops", "ties between loops"],
        );
        let words: Vec<String> = RelationKind::ALL
            .iter()
            .filter_map(own)
            .chain(ties)
            .collect();
        words.join(" · ")
    }
}
