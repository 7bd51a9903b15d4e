//! Partitions that are proposed, with the conditions that are part of the proposal.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the partition that is changed, which has as many kinds as starts"
)]

use crate::fit::partition::{Kind, Partition};
use crate::geom::Sorted as _;
use crate::relate::constraint::Condition;
use crate::relate::figure::Figure;
use crate::relate::solve::Solved;
use crate::trace::Stations;

/// A partition to try, with conditions that are part of the proposal.
#[derive(Clone, Debug)]
pub struct Proposed {
    /// Where edges start and what they are.
    pub partition: Partition,
    /// Conditions to hold from the start: a fillet is tangent at both ends.
    pub held: Vec<Condition>,
}

impl Proposed {
    /// A partition without conditions.
    #[must_use]
    pub fn free(partition: Partition) -> Self {
        Self {
            partition,
            held: Vec::new(),
        }
    }
}

/// The same partition with every nearly tangent joint tangent, and in a second proposal all arcs of
/// nearly one radius equal as well: shapes that people mean, which a free solve may miss by more
/// than one relation at a time can mend.
#[must_use]
pub fn tied(s: &Solved) -> Vec<Proposed> {
    let f = &s.figure;
    let m = f.len();
    let tangent = smooth_joints(f);
    if tangent.is_empty() {
        return Vec::new();
    }
    let mut equal = tangent.clone();
    equal.extend(alike((0..m).map(|e| radius(f, e))));
    let with = |held: Vec<Condition>| Proposed {
        partition: s.partition(),
        held,
    };
    if equal.len() > tangent.len() {
        vec![with(tangent), with(equal)]
    } else {
        vec![with(tangent)]
    }
}

/// The first of [`tied`].
#[must_use]
pub(super) fn with_tangents(s: &Solved) -> Option<Proposed> {
    tied(s).into_iter().next()
}

/// Every joint that is nearly smooth as one that is.
#[must_use]
pub(super) fn smooth_joints(f: &Figure) -> Vec<Condition> {
    let nearly = (0..f.len()).filter(|e| runs_on(f, *e));
    nearly.map(Condition::tangent).collect()
}

/// Edge `e` runs into the next nearly without a kink, and one of them is an arc.
fn runs_on(f: &Figure, e: usize) -> bool {
    let m = f.len();
    let next = (e + 1) % m;
    let joined = m > 1 && (f.closed || next > 0);
    let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
    joined && curved && f.turn_after(e).abs() < NEARLY_TANGENT
}

/// The radius of edge `e`, of an arc.
fn radius(f: &Figure, e: usize) -> Option<f64> {
    (f.kinds[e] == Kind::Arc).then(|| f.radius(e))
}

/// Of edges' radii, those that may be equal, each with the first such before it.
fn alike(radii: impl Iterator<Item = Option<f64>>) -> Vec<Condition> {
    let arcs: Vec<(usize, f64)> = radii
        .enumerate()
        .filter_map(|(e, r)| Some((e, r?)))
        .collect();
    let near = |r: f64, q: f64| r.max(q) < NEARLY_EQUAL * r.min(q);
    let mut out = Vec::new();
    for (i, &(e, r)) in arcs.iter().enumerate() {
        if let Some(&(g, _)) = arcs[..i].iter().find(|(_, q)| near(r, *q)) {
            out.push(Condition::equal_radius(g, e));
        }
    }
    out
}

/// Joints that turn less than this may be tangent ones, radians.
const NEARLY_TANGENT: f64 = 0.7;
/// Arcs whose radii differ by less than this factor may be equal.
const NEARLY_EQUAL: f64 = 1.8;

/// A closed path needs three edges, or two of which one is an arc.
#[must_use]
pub fn is_sound(p: &Partition, stations: &Stations) -> bool {
    let arcs = p.kinds.iter().filter(|k| **k == Kind::Arc).count();
    match p.len() {
        0 => false,
        1 => !stations.closed,
        2 => !stations.closed || arcs > 0,
        _ => true,
    }
}

/// Edges in the order of where they start; of two at one station the first.
#[must_use]
pub(super) fn in_order(mut spans: Vec<(usize, Kind)>) -> Partition {
    spans.order_by_key(|s| s.0);
    spans.dedup_by_key(|s| s.0);
    Partition {
        starts: spans.iter().map(|s| s.0).collect(),
        kinds: spans.iter().map(|s| s.1).collect(),
    }
}
