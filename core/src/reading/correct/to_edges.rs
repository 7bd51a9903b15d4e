//! How far holes and marks lie from the edges beside them.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::places;
use super::stand::Stand;
use crate::outline::{Loop, Mark};
use crate::reading::Taken;
use crate::reading::describe::SPREAD_95;
use crate::reading::together::{Source, Together};
use crate::relate::constraint::Constraint;
use crate::relate::quantity::{Bodies as _, Quantity, Side};
use crate::report::{Size, SizeKind};

/// More free numbers, and it is not told how far holes lie from edges.
const MOST_TOLD: usize = 300;

/// How far each hole and mark lies from the edges about it; `loops` loops were traced, holes made of marks follow
/// them. Edges are numbered as the loops were made.
pub(in crate::reading) fn to_edges(
    taken: &[Taken],
    holes: &[Loop],
    marks: &[Mark],
    loops: usize,
    together: Option<&Together>,
) -> Vec<Size> {
    if places(taken, holes, marks) > MOST_TOLD {
        return Vec::new();
    }
    let stand = Stand::of(taken, holes, marks, together);
    let about = stand.edges_about_holes();
    if about.is_empty() || stand.joint.numbers() > MOST_TOLD {
        return Vec::new();
    }
    let Some(held) = stand.joint.held(&stand.found[stand.own..]) else {
        return Vec::new();
    };
    // What a drawing states has no ±.
    let is_drawn = |body: usize| match stand.sources[body] {
        Source::Loop(i) => taken[i].told.is_none(),
        Source::Hole(_) | Source::Mark(_) => false,
    };
    let size = |(body, line, across): (usize, Side, Quantity)| {
        if is_drawn(body) || is_drawn(line.body) {
            return None;
        }
        let linear = Constraint::at(across, 0.0).linear(&stand.joint)?;
        let Source::Loop(loop_index) = stand.sources[line.body] else {
            return None;
        };
        let (hole, mark) = match stand.sources[body] {
            Source::Loop(i) => (Some(i), None),
            Source::Hole(i) => (Some(loops + i), None),
            Source::Mark(i) => (None, Some(i)),
        };
        let sure = held.predict(&linear.gradient).0.max(0.0).sqrt();
        let fixed = sure < FIXED;
        Some(Size {
            kind: SizeKind::ToEdge,
            loop_index,
            edges: vec![line.edge],
            value: linear.value.abs(),
            plus_minus: if fixed { 0.0 } else { SPREAD_95 * sure },
            fixed,
            at: crate::reading::together::place_of(&stand.joint.bodies[body]),
            hole,
            mark,
        })
    };
    about.into_iter().filter_map(size).collect()
}

/// A distance surer than this is fixed, mm.
const FIXED: f64 = 1e-4;
