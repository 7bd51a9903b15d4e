//! Where loops meet: closed ones anywhere but in the corners they share, each pair of edges once.

use super::{CHORD, MOST_CROSSINGS, Problem, RESOLUTION, Reason};
use crate::geom::{Edge, Point, Side, near, side_of};
use crate::outline::nesting::index_of;
use crate::outline::{Bounds, Outline};
use core::ops::ControlFlow;
use static_aabb2d_index::StaticAABB2DIndex;
use std::collections::BTreeSet;

/// A chord of an edge.
#[derive(Clone, Copy)]
struct Chord {
    loop_index: usize,
    edge: usize,
    from: Point,
    to: Point,
    /// Its number among the loop's chords, and how many those are.
    order: usize,
    count: usize,
}

impl Chord {
    fn bounds(&self) -> Bounds {
        Bounds::of_point(self.from).union(&Bounds::of_point(self.to))
    }

    /// The other follows this one round the loop.
    fn is_before(&self, other: &Self) -> bool {
        self.loop_index == other.loop_index && (self.order + 1) % self.count == other.order
    }
}

fn chords(outline: &Outline) -> Vec<Chord> {
    let mut chords = Vec::new();
    let closed = outline.loops.iter().enumerate();
    for (loop_index, l) in closed.filter(|(_, l)| l.path.is_closed()) {
        let first = chords.len();
        for (edge, e) in l.path.edges().iter().enumerate() {
            let points = e.flatten(CHORD);
            let pairs = points.iter().zip(points.iter().skip(1));
            chords.extend(pairs.filter(|(p, q)| p != q).map(|(from, to)| Chord {
                loop_index,
                edge,
                from: *from,
                to: *to,
                order: 0,
                count: 0,
            }));
        }
        let count = chords.len() - first;
        for (order, chord) in chords.iter_mut().skip(first).enumerate() {
            (chord.order, chord.count) = (order, count);
        }
    }
    chords
}

/// Where closed loops cross or touch themselves or each other, each pair of edges once, up to
/// [`MOST_CROSSINGS`] of them.
pub(super) fn crossings<F>(outline: &Outline, found: &mut F) -> ControlFlow<()>
where
    F: FnMut(Problem) -> ControlFlow<()>,
{
    let mut said: BTreeSet<(usize, usize, usize, usize)> = BTreeSet::new();
    let mut asked_to_stop = false;
    let mut tell = |a: (usize, usize), b: (usize, usize), at: Point| {
        if !said.insert((a.0, a.1, b.0, b.1)) {
            return ControlFlow::Continue(());
        }
        let (other_loop, other_edge) = b;
        let reason = if a.0 == other_loop {
            Reason::CrossesItself { other_edge }
        } else {
            Reason::CrossesLoop {
                other_loop,
                other_edge,
            }
        };
        let next = found(Problem {
            reason,
            loop_index: a.0,
            edge: Some(a.1),
            at,
        });
        asked_to_stop = next.is_break();
        if said.len() >= MOST_CROSSINGS {
            return ControlFlow::Break(());
        }
        next
    };
    if with_arcs(outline, &mut tell).is_continue() {
        for (a, b) in touching(&chords(outline), Chord::bounds) {
            if let Some(at) = meet(a, b)
                && tell((a.loop_index, a.edge), (b.loop_index, b.edge), at).is_break()
            {
                break;
            }
        }
    }
    if asked_to_stop {
        ControlFlow::Break(())
    } else {
        ControlFlow::Continue(())
    }
}

/// Pairs of which the boxes touch, each once, in their order.
fn touching<T>(all: &[T], bounds: impl Fn(&T) -> Bounds) -> impl Iterator<Item = (&T, &T)> {
    let index = index_of(all.iter().map(&bounds));
    all.iter().enumerate().flat_map(move |(i, a)| {
        let Bounds { min, max } = bounds(a);
        let query = |index: &StaticAABB2DIndex<f64>| index.query(min.x, min.y, max.x, max.y);
        let mut near = index.as_ref().map(query).unwrap_or_default();
        near.retain(|j| *j > i);
        near.sort_unstable();
        near.into_iter().filter_map(move |j| Some((a, all.get(j)?)))
    })
}

/// Where edges of closed loops, one of them an arc, cross or touch; of edges that share a corner, further from it
/// than an edge is long. Tells the loop and the edge of both.
fn with_arcs<F>(outline: &Outline, tell: &mut F) -> ControlFlow<()>
where
    F: FnMut((usize, usize), (usize, usize), Point) -> ControlFlow<()>,
{
    let closed = outline.loops.iter().enumerate();
    let edges: Vec<((usize, usize), Edge)> = closed
        .filter(|(_, l)| l.path.is_closed())
        .flat_map(|(i, l)| {
            (l.path.edges().into_iter().enumerate()).map(move |(e, edge)| ((i, e), edge))
        })
        .collect();
    for ((name, a), (other, b)) in touching(&edges, |e| Bounds::of_edge(&e.1)) {
        if let (Edge::Line(_), Edge::Line(_)) = (a, b) {
            continue;
        }
        let corners = [(a.to(), b.from()), (a.from(), b.to())];
        let is_common = |p: &Point| {
            let mut corners = corners.iter().filter(|c| name.0 == other.0 && c.0 == c.1);
            corners.any(|c| c.0.distance(*p) <= RESOLUTION)
        };
        if let Some(at) = near::crossings(a, b).into_iter().find(|p| !is_common(p)) {
            tell(*name, *other, at)?;
        }
    }
    ControlFlow::Continue(())
}

/// Where two chords meet, other than neighbours in their common end.
fn meet(a: &Chord, b: &Chord) -> Option<Point> {
    let sides = (side_of(a.from, a.to, b.from), side_of(a.from, a.to, b.to));
    let back = (side_of(b.from, b.to, a.from), side_of(b.from, b.to, a.to));
    // Neighbours share an end; they meet elsewhere only when they lie on one line and one goes
    // back over the other.
    let common = if a.is_before(b) {
        Some((a.from, a.to, b.to))
    } else if b.is_before(a) {
        Some((b.from, b.to, a.to))
    } else {
        None
    };
    if let Some((before, at, after)) = common {
        let folded = side_of(before, at, after) == Side::On && (before - at).dot(after - at) > 0.0;
        // Two chords alone close a loop on themselves and share both ends.
        return (folded && a.count > 2).then_some(at);
    }
    if sides.0 == Side::On && sides.1 == Side::On {
        return a.bounds().touches(&b.bounds(), 0.0).then_some(b.from);
    }
    if sides.0 == sides.1 || back.0 == back.1 {
        return None;
    }
    let (d, e) = (a.to - a.from, b.to - b.from);
    // As good as on one line: anywhere along it.
    let t = (b.from - a.from).cross(e) / d.cross(e);
    let t = if t.is_finite() {
        t.clamp(0.0, 1.0)
    } else {
        0.0
    };
    Some(a.from.lerp(a.to, t))
}
