//! Hints as they are written: a place and keys beside it.
//!
//! Read by hand rather than derived: what is wrong with a hint is told in one sentence with its key, and keys
//! that go only with others (`to` with `distance`, `scale` with `size`) are refused alone.

use super::{CornerKind, EdgeKind, Hint, LoopKind, Pattern, PatternKind, Says};
use crate::geom::Point;
use serde::{Deserialize, Serialize};

/// A hint with all the keys it may have.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "types", derive(ts_rs::TS), ts(rename = "HintKeys"))]
pub(super) struct Written {
    at: Point,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    edge: Option<EdgeKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    size: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    scale: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    radius: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    corner: Option<CornerKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    distance: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    to: Option<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    parallel: Option<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    equal: Option<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    in_line: Option<Point>,
    #[serde(rename = "loop", default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    of_loop: Option<LoopKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    hole: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pattern: Option<PatternKind>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "types", ts(optional, as = "Option<Vec<Point>>"))]
    with: Vec<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    sides: Option<[f64; 2]>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    diameter: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    pitch: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    datum: Option<Point>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    level: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "types", ts(optional))]
    zero: Option<bool>,
}

impl Written {
    /// The keys that say something by themselves.
    fn said(&self) -> Vec<(&'static str, Says)> {
        let pattern = self.pattern.map(|kind| {
            Says::Pattern(Pattern {
                kind,
                with: self.with.clone(),
                sides: self.sides,
                diameter: self.diameter,
                pitch: self.pitch,
            })
        });
        let size = match self.scale {
            Some(true) => Says::Scale,
            _ => Says::Size,
        };
        let alone = self.diameter.filter(|_| self.pattern.is_none());
        let far = self.distance.zip(self.to);
        let all = [
            ("edge", self.edge.map(Says::Edge)),
            ("size", self.size.map(size)),
            ("diameter", alone.map(Says::Diameter)),
            ("radius", self.radius.map(Says::Radius)),
            ("corner", self.corner.map(Says::Corner)),
            ("distance", far.map(|(d, to)| Says::Distance(d, to))),
            ("parallel", self.parallel.map(Says::Parallel)),
            ("equal", self.equal.map(Says::Equal)),
            ("in_line", self.in_line.map(Says::InLine)),
            ("loop", self.of_loop.map(Says::Loop)),
            ("hole", self.hole.map(|d| Says::Hole(d, self.with.clone()))),
            ("pattern", pattern),
            ("datum", self.datum.map(Says::Datum)),
            ("level", self.level.map(Says::Level)),
            ("zero", self.zero.filter(|z| *z).map(|_| Says::Zero)),
        ];
        all.into_iter().filter_map(|(k, s)| Some((k, s?))).collect()
    }

    /// A key that goes only with another, which is not there.
    fn stray(&self) -> Option<&'static str> {
        let pattern = self.pattern;
        let lone = [
            (
                self.scale.is_some() && self.size.is_none(),
                "\"scale\" goes with \"size\"",
            ),
            (
                self.distance.is_some() != self.to.is_some(),
                "\"distance\" goes with \"to\"",
            ),
            (
                !self.with.is_empty() && self.hole.is_none() && pattern.is_none(),
                "\"with\" goes with \"hole\" or \"pattern\"",
            ),
            (
                self.sides.is_some() && pattern != Some(PatternKind::Rectangle),
                "\"sides\" goes with a rectangle",
            ),
            (
                self.pitch.is_some()
                    && !matches!(pattern, Some(PatternKind::Row | PatternKind::Circle)),
                "\"pitch\" goes with a row or circle",
            ),
            (
                self.diameter.is_some() && pattern.is_some_and(|p| p != PatternKind::Circle),
                "holes get a diameter by \"hole\"",
            ),
            (self.zero == Some(false), "\"zero\" is true or left out"),
        ];
        lone.into_iter().find(|l| l.0).map(|l| l.1)
    }
}

impl TryFrom<Written> for Hint {
    type Error = String;

    fn try_from(written: Written) -> Result<Self, String> {
        // Short, for what reads them cuts long sentences; the line is told beside it.
        let at = written.at;
        if let Some(stray) = written.stray() {
            return Err(stray.into());
        }
        let mut said = written.said();
        let Some((first, says)) = said.pop() else {
            return Err("the hint says nothing".into());
        };
        if let Some((second, _)) = said.pop() {
            return Err(format!("two things: \"{second}\" and \"{first}\""));
        }
        Ok(Self { at, says })
    }
}

impl From<Hint> for Written {
    fn from(hint: Hint) -> Self {
        let mut out = Self {
            at: hint.at,
            ..Self::default()
        };
        match hint.says {
            Says::Edge(kind) => out.edge = Some(kind),
            Says::Size(v) => out.size = Some(v),
            Says::Scale(v) => (out.size, out.scale) = (Some(v), Some(true)),
            Says::Diameter(v) => out.diameter = Some(v),
            Says::Radius(v) => out.radius = Some(v),
            Says::Corner(kind) => out.corner = Some(kind),
            Says::Distance(v, to) => (out.distance, out.to) = (Some(v), Some(to)),
            Says::Parallel(p) => out.parallel = Some(p),
            Says::Equal(p) => out.equal = Some(p),
            Says::InLine(p) => out.in_line = Some(p),
            Says::Loop(kind) => out.of_loop = Some(kind),
            Says::Hole(d, with) => (out.hole, out.with) = (Some(d), with),
            Says::Pattern(p) => {
                (out.pattern, out.with) = (Some(p.kind), p.with);
                (out.sides, out.diameter, out.pitch) = (p.sides, p.diameter, p.pitch);
            }
            Says::Datum(p) => out.datum = Some(p),
            Says::Level(a) => out.level = Some(a),
            Says::Zero => out.zero = Some(true),
        }
        out
    }
}
