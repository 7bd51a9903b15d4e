//! Corrections by the person, as data.
//!
//! A hint names its subject by a place on the plate, not by a number, so it survives re-running:
//! the edge, corner, loop, hole or mark nearest to that place is meant. A size is what a rule would measure:
//! a side over all (to where rounded or clipped corners would be), a round thing by its diameter, a fillet by
//! its radius. In a hints file:
//!
//! ```json
//! { "trued_hints": 1, "units": "mm",
//!   "hints": [ { "at": [50.0, 0.2], "edge": "straight" },
//!              { "at": [100.0, 30.0], "size": 60.0 },
//!              { "at": [0.0, 0.0], "corner": { "radius": 8.0 } },
//!              { "at": [20.0, 20.0], "loop": "hole" },
//!              { "at": [12.0, 12.0], "hole": 8.0, "with": [[88.0, 12.0]] },
//!              { "at": [12.0, 12.0], "distance": 15.0, "to": [0.0, 30.0] } ] }
//! ```
//!
//! A key nobody knows is refused: a correction that is skipped without a word is worse than none.

use crate::geom::Point;
use serde::{Deserialize, Serialize};

mod text;

/// One correction: what is meant at a place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "text::Written", into = "text::Written")]
#[cfg_attr(feature = "types", derive(ts_rs::TS), ts(as = "text::Written"))]
pub struct Hint {
    /// The place that names the subject, mm.
    pub at: Point,
    /// What is so.
    pub says: Says,
}

/// What a hint says of the edge, corner, loop, hole or mark nearest to its place.
#[derive(Clone, Debug, PartialEq)]
pub enum Says {
    /// The edge is straight or an arc.
    Edge(EdgeKind),
    /// What a rule measures here, mm: a side over all, a circle's diameter, a fillet's radius.
    Size(f64),
    /// As [`Says::Size`], and the whole drawing is scaled so that it holds.
    Scale(f64),
    /// The diameter of the circle or arc, mm.
    Diameter(f64),
    /// The radius of the circle or arc, mm.
    Radius(f64),
    /// What the corner is.
    Corner(CornerKind),
    /// So far from what is nearest to the other place, mm: a hole from an edge (square to it) or from
    /// another hole, an edge from a parallel one.
    Distance(f64, Point),
    /// The edge is parallel to the edge nearest to this other place.
    Parallel(Point),
    /// The edge is as long as (or has the radius of) the edge nearest to this other place.
    Equal(Point),
    /// The edge lies on one line with the edge nearest to this other place.
    InLine(Point),
    /// The loop is a part, a hole, open, a circle or a rectangle; or it (or a mark) has nothing to do with others.
    Loop(LoopKind),
    /// The mark is a round hole of this diameter, mm; and so are the marks at these other places.
    Hole(f64, Vec<Point>),
    /// The hole or mark forms a pattern with those at other places.
    Pattern(Pattern),
    /// The edge lies along the straight line from here to this other place (a datum such as a
    /// sheared side of the stock).
    Datum(Point),
    /// The drawing is turned so that the edge lies at this angle, degrees.
    Level(f64),
    /// The drawing is moved so that this corner or hole lies at (0, 0).
    Zero,
}

/// A pattern of holes or marks that a person says.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// Which pattern.
    pub kind: PatternKind,
    /// Places of the others.
    pub with: Vec<Point>,
    /// Of a rectangle, its two sides between centres, mm.
    pub sides: Option<[f64; 2]>,
    /// Of a circle, its diameter through the centres, mm.
    pub diameter: Option<f64>,
    /// From one hole to the next, mm.
    pub pitch: Option<f64>,
}

/// The patterns that can be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum PatternKind {
    /// One behind the other at one pitch.
    Row,
    /// Round a circle at one pitch.
    Circle,
    /// The corners of a rectangle.
    Rectangle,
}

/// What an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum EdgeKind {
    /// Straight.
    Straight,
    /// Circular.
    Arc,
}

/// What a corner is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase", deny_unknown_fields)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum CornerKind {
    /// Two edges meet in a point.
    Sharp,
    /// Two edges meet at 90°.
    Square,
    /// Rounded by a tangent arc of this radius, mm.
    Radius(f64),
    /// This angle inside the loop, degrees.
    Angle(f64),
    /// The angle stays as traced: not squared, not set to any step.
    Keep,
}

/// What a loop is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum LoopKind {
    /// The outside of a piece.
    Part,
    /// An opening in a piece.
    Hole,
    /// A path with two ends.
    Open,
    /// A circle.
    Circle,
    /// A rectangle.
    Rectangle,
    /// It, or the mark here, stays where it was traced, whatever other loops and marks are.
    Alone,
}

impl Hint {
    /// The same hint with every place and length `k` times as large.
    #[must_use]
    pub fn scaled(&self, k: f64) -> Self {
        let scale = |p: Point| Point::new(p.x * k, p.y * k);
        self.placed(scale, k)
    }

    /// The same hint with every place moved and every length `k` times as large.
    #[must_use]
    pub fn placed(&self, place: impl Fn(Point) -> Point, k: f64) -> Self {
        let all = |with: &[Point]| with.iter().map(|p| place(*p)).collect();
        let says = match &self.says {
            Says::Size(v) => Says::Size(v * k),
            Says::Scale(v) => Says::Scale(v * k),
            Says::Diameter(v) => Says::Diameter(v * k),
            Says::Radius(v) => Says::Radius(v * k),
            Says::Corner(CornerKind::Radius(r)) => Says::Corner(CornerKind::Radius(r * k)),
            Says::Distance(v, to) => Says::Distance(v * k, place(*to)),
            Says::Parallel(p) => Says::Parallel(place(*p)),
            Says::Equal(p) => Says::Equal(place(*p)),
            Says::InLine(p) => Says::InLine(place(*p)),
            Says::Hole(d, with) => Says::Hole(d * k, all(with)),
            Says::Pattern(p) => Says::Pattern(Pattern {
                with: all(&p.with),
                sides: p.sides.map(|s| s.map(|v| v * k)),
                diameter: p.diameter.map(|v| v * k),
                pitch: p.pitch.map(|v| v * k),
                ..*p
            }),
            Says::Datum(p) => Says::Datum(place(*p)),
            Says::Edge(_) | Says::Corner(_) | Says::Loop(_) | Says::Level(_) | Says::Zero => {
                self.says.clone()
            }
        };
        Self {
            at: place(self.at),
            says,
        }
    }

    /// In a few words, for a sentence about it.
    #[must_use]
    pub fn words(&self) -> String {
        // No more digits than anybody can mean.
        let plain = |v: f64| libm::round(v * 1e4) / 1e4;
        let said: String = match &self.says {
            Says::Edge(EdgeKind::Straight) => "this edge is straight".into(),
            Says::Edge(EdgeKind::Arc) => "this edge is an arc".into(),
            Says::Size(v) => format!("this is {} mm", plain(*v)),
            Says::Scale(v) => format!("all is scaled so that this is {} mm", plain(*v)),
            Says::Diameter(v) => format!("this has diameter {} mm", plain(*v)),
            Says::Radius(v) => format!("this has radius {} mm", plain(*v)),
            Says::Corner(CornerKind::Sharp) => "this corner is sharp".into(),
            Says::Corner(CornerKind::Square) => "this corner is square".into(),
            Says::Corner(CornerKind::Radius(r)) => {
                format!("this corner has radius {} mm", plain(*r))
            }
            Says::Corner(CornerKind::Angle(a)) => format!("this corner has {}°", plain(*a)),
            Says::Corner(CornerKind::Keep) => "this corner keeps its angle".into(),
            Says::Distance(v, _) => format!("these are {} mm apart", plain(*v)),
            Says::Parallel(_) => "these two are parallel".into(),
            Says::Equal(_) => "these two are equal".into(),
            Says::InLine(_) => "these two are in line".into(),
            Says::Loop(LoopKind::Part) => "this loop is a part".into(),
            Says::Loop(LoopKind::Hole) => "this loop is a hole".into(),
            Says::Loop(LoopKind::Open) => "this loop is open".into(),
            Says::Loop(LoopKind::Circle) => "this loop is a circle".into(),
            Says::Loop(LoopKind::Rectangle) => "this loop is a rectangle".into(),
            Says::Loop(LoopKind::Alone) => "this stands alone".into(),
            Says::Hole(d, with) if with.is_empty() => {
                format!("this mark is a hole of {} mm", plain(*d))
            }
            Says::Hole(d, _) => format!("these marks are holes of {} mm", plain(*d)),
            Says::Pattern(p) => match p.kind {
                PatternKind::Row => "these are a row".into(),
                PatternKind::Circle => "these lie on a circle".into(),
                PatternKind::Rectangle => "these are a rectangle".into(),
            },
            Says::Datum(_) => "the outline lies along this datum".into(),
            Says::Level(a) => format!("this edge lies at {}°", plain(*a)),
            Says::Zero => "this is zero".into(),
        };
        format!("\"{said}\"")
    }
}
