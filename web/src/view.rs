//! Results as plain values.

use serde::Serialize;
use trued::{Deviation, Edge, Mark, Outline, Report, Role, Trace, Trued};

/// One loop with its edges spelled out.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct LoopView {
    role: Role,
    closed: bool,
    edges: Vec<Edge>,
    deviation: Option<Deviation>,
}

/// An outline with its report.
#[derive(Serialize)]
#[cfg_attr(not(target_arch = "wasm32"), derive(ts_rs::TS))]
pub struct Outcome<'a> {
    loops: Vec<LoopView>,
    marks: &'a [Mark],
    report: &'a Report,
    found: String,
    took: Option<f64>,
}

/// The view of a reading that took so many milliseconds.
pub fn outcome(trued: &Trued, took: Option<f64>) -> Outcome<'_> {
    Outcome {
        loops: loop_views(&trued.outline),
        marks: &trued.outline.marks,
        report: &trued.report,
        found: trued.report.found(),
        took,
    }
}

/// The loops with their edges.
pub fn loop_views(outline: &Outline) -> Vec<LoopView> {
    let view = |l: &trued::Loop| LoopView {
        role: l.role,
        closed: l.path.is_closed(),
        edges: l.path.edges(),
        deviation: l.deviation,
    };
    outline.loops.iter().map(view).collect()
}

/// An outline that is already true, as a drawing states it; its marks as touches.
pub fn as_drawn(outline: &Outline) -> Trace {
    let mut trace = Trace::from_strokes(outline.marks.iter().map(|m| vec![m.at]));
    trace.drawn = outline.loops.iter().map(|l| l.path.edges()).collect();
    trace
}
