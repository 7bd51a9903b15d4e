//! Outlines that are their own mirror image.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is looked at"
)]

use super::constraint::{Condition, Constraint};
use super::figure::Figure;
use super::quantity::{Quantity, Side};
use crate::fit::partition::Kind;
use crate::report::RelationKind;

/// The outline as its own mirror image, about every axis that it nearly is one about.
///
/// Under a mirror edge `e` becomes edge `k − e`: chords, sweeps and turns that become one another are
/// equal, and a chain whose chords, sweeps and turns are alike both ways is its own image. Of each axis the
/// conditions that say so.
pub fn mirrored(body: usize, f: &Figure) -> Vec<Condition> {
    let m = f.len();
    if !(3..=MOST_MIRRORED).contains(&m) {
        return Vec::new();
    }
    let axes = if f.closed { 0..m } else { m - 1..m };
    axes.filter_map(|k| about(body, f, k)).collect()
}

fn about(body: usize, f: &Figure, k: usize) -> Option<Condition> {
    let m = f.len();
    let side = |e| Side::new(body, e);
    let image = |e: usize| (k + m - e) % m;
    let joints = if f.closed { m } else { m - 1 };
    let mut constraints = Vec::new();
    let alike =
        |of: fn(Side) -> Quantity, e, g| Constraint::difference(of(side(e)), of(side(g)), 0.0);
    for e in 0..joints {
        // The joint after an edge becomes the one before its image.
        let g = (image(e) + m - 1) % m;
        let unlike = || (f.turn_after(e) - f.turn_after(g)).abs() > MIRRORED_TURN;
        if (!f.closed && g >= joints) || unlike() {
            return None;
        }
        if e < g {
            constraints.push(alike(Quantity::Turn, e, g));
        }
    }
    for e in 0..m {
        let g = image(e);
        let (a, b) = (f.edge_length(e), f.edge_length(g));
        let sweeps = (f.sweep(e) - f.sweep(g)).abs();
        if f.kinds[e] != f.kinds[g]
            || a.max(b) > MIRRORED_LENGTH * a.min(b)
            || sweeps > 2.0 * MIRRORED_TURN
        {
            return None;
        }
        if e < g {
            constraints.push(alike(Quantity::Length, e, g));
            if f.kinds[e] == Kind::Arc {
                constraints.push(alike(Quantity::Sweep, e, g));
            }
        }
    }
    let all: Vec<Side> = (0..m).map(side).collect();
    (!constraints.is_empty()).then(|| Condition::new(RelationKind::Mirrored, &all, constraints))
}

/// Outlines of more edges are not asked to be their own image.
const MOST_MIRRORED: usize = 16;
/// Turns and lengths further apart than this are not asked to be alike: radians, and as a factor.
const MIRRORED_TURN: f64 = 0.25;
const MIRRORED_LENGTH: f64 = 1.3;
