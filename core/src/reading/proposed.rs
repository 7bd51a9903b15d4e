//! Partitions that are proposed, with the conditions that are part of the proposal.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the partition that is changed, which has as many kinds as starts"
)]

use crate::fit::partition::{Kind, Partition};
use crate::geom::{Point, Sorted as _};
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::figure::Figure;
use crate::relate::kinds::RelationKind;
use crate::relate::quantity::{Quantity, Side};
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
fn tied(s: &Solved) -> Vec<Proposed> {
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

/// The same partition with every end of something narrow as people make it: the sides parallel, the end square to
/// them, or half a circle that both run into. A hand's wander is as wide as the end, so that the free solve shows none
/// of it.
#[must_use]
pub(super) fn ended(s: &Solved, unit: f64) -> Option<Proposed> {
    let f = &s.figure;
    let m = f.len();
    let ends: Vec<usize> = (0..m).filter(|e| is_end(f, *e, unit)).collect();
    let around = |e: usize| [(e + m - 1) % m, (e + 1) % m];
    let round = |e: &&usize| f.kinds[**e] == Kind::Arc;
    let direction = |e| Quantity::Direction(Side::new(0, e));
    let turned = |kind, a: usize, b: usize, by: f64| {
        let angle = Constraint::difference(direction(b), direction(a), by);
        Condition::new(kind, &[Side::new(0, a), Side::new(0, b)], vec![angle])
    };
    let mut held: Vec<Condition> = Vec::new();
    for &e in ends.iter().filter(round) {
        held.extend([Condition::tangent((e + m - 1) % m), Condition::tangent(e)]);
    }
    match *ends.as_slice() {
        [] => return None,
        // Two round ends of one radius have parallel sides.
        [a, b] if m == 4 && ends.iter().filter(round).count() == 2 => {
            held.push(Condition::equal_radius(a, b));
        }
        _ => {
            let mut pairs: Vec<[usize; 2]> = Vec::new();
            for &e in &ends {
                let [before, after] = around(e);
                let turn = f.turn_after(before) + f.turn_after(e) + f.sweep(e);
                let mut pair = [before, after];
                pair.sort_unstable();
                if !pairs.contains(&pair) {
                    pairs.push(pair);
                    let half = core::f64::consts::PI.copysign(turn);
                    held.push(turned(RelationKind::Parallel, before, after, half));
                }
                if f.kinds[e] == Kind::Line {
                    let quarter = core::f64::consts::FRAC_PI_2.copysign(turn);
                    held.push(turned(RelationKind::Square, before, e, quarter));
                }
            }
        }
    }
    Some(Proposed {
        partition: s.partition(),
        held,
    })
}

/// A short edge between two straight ones, the second of which runs back beside the first.
fn is_end(f: &Figure, e: usize, unit: f64) -> bool {
    let m = f.len();
    let (before, after) = ((e + m - 1) % m, (e + 1) % m);
    let inner = f.closed || (e > 0 && e + 1 < m);
    let straight = f.kinds[before] == Kind::Line && f.kinds[after] == Kind::Line;
    if !inner || m < 3 || !straight || before == after {
        return false;
    }
    let turn = libm::fabs(f.turn_after(before) + f.turn_after(e) + f.sweep(e));
    let sides = f.chord(before).min(f.chord(after));
    let short = f.edge_length(e) < (END * sides).min(NARROW * unit);
    short && (turn - core::f64::consts::PI).abs() < NEARLY_TANGENT
}

/// Where the ends of something narrow are, and how wide, mm.
#[must_use]
pub(super) fn narrow_ends(f: &Figure, unit: f64) -> Vec<(Point, f64)> {
    let (m, corners) = (f.len(), &f.corners);
    let ends = (0..m).filter(|e| is_end(f, *e, unit));
    ends.map(|e| (corners[e].midpoint(corners[f.end_corner(e)]), f.chord(e)))
        .collect()
}

/// Ends of something narrow that are neither square to parallel sides nor half a circle that both run into.
#[must_use]
pub(super) fn crooked(f: &Figure, unit: f64) -> usize {
    let m = f.len();
    let off = |turn: f64, by: f64| libm::fabs(libm::fabs(turn) - by) > 1e-6;
    let square = core::f64::consts::FRAC_PI_2;
    let is_crooked = |e: &usize| {
        let turns = [f.turn_after((e + m - 1) % m), f.turn_after(*e)];
        let meant = if f.kinds[*e] == Kind::Line {
            square
        } else {
            0.0
        };
        turns.into_iter().any(|t| off(t, meant))
    };
    (0..m)
        .filter(|e| is_end(f, *e, unit))
        .filter(is_crooked)
        .count()
}

/// An end is shorter than this part of the sides that it lies between.
const END: f64 = 0.35;
/// Something narrow is no wider than this, in units: of wider ends the free solve tells enough.
const NARROW: f64 = 12.0;

/// All ways in which people may have meant a partition that a free solve hardly shows: [`tied`] and [`ended`].
#[must_use]
pub(super) fn as_meant(s: &Solved, unit: f64) -> Vec<Proposed> {
    let mut out = tied(s);
    out.extend(ended(s, unit));
    out
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
    let next = (e + 1) % f.len();
    let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
    f.joins(e) && curved && f.turn_after(e).abs() < NEARLY_TANGENT
}

/// The same partition without the joints that its relations took away: where two lines came out in one direction, or
/// two arcs on one circle, the joint between them could lie anywhere along them.
#[must_use]
pub(super) fn as_one(s: &Solved) -> Option<Partition> {
    let f = &s.figure;
    let m = f.len();
    let one = |e: usize| {
        let before = (e + m - 1) % m;
        let joined = f.joins(before) && f.kinds[before] == f.kinds[e];
        let on = libm::fabs(f.turn_after(before)) < ONE_WAY;
        let round = match (f.center(before), f.center(e)) {
            (Some(a), Some(b)) => a.distance(b) < ONE_WAY * f.radius(e),
            _ => true,
        };
        joined && on && round
    };
    let p = s.partition();
    let kept = (0..m).filter(|e| !one(*e));
    let spans: Vec<(usize, Kind)> = kept.map(|e| (p.starts[e], p.kinds[e])).collect();
    (spans.len() < m).then(|| in_order(spans))
}

/// Two edges run on as one where they turn by less than this, radians: a candidate is solved to no more, and a hand
/// that means a corner turns by a hundred times as much.
const ONE_WAY: f64 = 1e-3;

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
