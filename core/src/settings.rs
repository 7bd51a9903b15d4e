//! Everything about a reading that a person may set; hints say the rest.

use serde::{Deserialize, Serialize};

/// How a trace is to be taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum TraceKind {
    /// Told from the trace itself.
    #[default]
    Auto,
    /// A stylus run along a line: many points in order.
    Sampled,
    /// A few touches in order: each corner once, arcs by three or more touches.
    Touched,
    /// Points in no order.
    Cloud,
}

/// How the line came about: the two are different instruments, and err differently.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Hand {
    /// Not said: both are thought of.
    #[default]
    Unsaid,
    /// It followed something: a marker line, a template, the old part.
    Traced,
    /// It drew from memory, with nothing to follow.
    Drawn,
}

/// Settings of a reading. Lengths are mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Settings {
    /// How the trace is to be taken. Default: told from the trace itself.
    pub kind: TraceKind,
    /// How the line came about. Default: not said.
    pub hand: Hand,
    /// Round sizes to whole multiples of this step where the step lies inside a size's ± (or, of a size
    /// far surer than the step, a little beyond, which is told) and the relations allow it. Default: none.
    pub whole: Option<f64>,
    /// A stroke no wider than this is a mark. Default 1.5 mm.
    pub mark_size: f64,
    /// Spacing of the stations a path is read by. Default 1 mm; smaller sees smaller features
    /// and takes longer. All built-in lengths of the reading are stated for 1 mm stations and
    /// grow with this one.
    pub station: f64,
    /// Tie loops, holes and marks of one trace to one another: square, alike, about one centre, in
    /// patterns. Default: yes. A job that looks for the pattern itself wants the marks as touched.
    #[serde(skip_serializing_if = "is_true")]
    pub tied: bool,
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde asks with a reference"
)]
fn is_true(b: &bool) -> bool {
    *b
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            kind: TraceKind::Auto,
            hand: Hand::Unsaid,
            whole: None,
            mark_size: 1.5,
            station: 1.0,
            tied: true,
        }
    }
}

impl Settings {
    /// The same settings with every length `k` times as large.
    #[must_use]
    pub fn scaled(&self, k: f64) -> Self {
        Self {
            kind: self.kind,
            hand: self.hand,
            whole: self.whole.map(|w| w * k),
            mark_size: self.mark_size * k,
            station: self.station * k,
            tied: self.tied,
        }
    }
}
