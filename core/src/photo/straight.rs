//! Stretches of a drawn line or a part's rim that are straight: what they bow by is the lens's doing.

use super::frame::Frame;
use super::lens::bend_of;
use super::profile::Measured;
use super::view::{Lens, View};
use crate::geom::Point;

/// What is straight in runs of points on the plate tells how the lens bends; the view is made anew with it.
pub(super) fn straighten(frame: &mut Frame, size: (f64, f64), runs: &[Vec<Point>]) {
    let mut straight = Vec::new();
    for run in runs {
        let (one, other) = run.split_at(halfway(run));
        cut_straight(one, &mut straight, 0);
        cut_straight(other, &mut straight, 0);
    }
    if straight.is_empty() {
        return;
    }
    for p in straight.iter_mut().flatten() {
        *p = frame.view.sees(*p);
    }
    let (bend, bends) = bend_of(&straight, frame.view.lens());
    let lens = Lens {
        bend,
        ..frame.view.lens()
    };
    if let Some(view) = View::of_rectangle(size.0, size.1, &frame.corners, lens) {
        frame.view = view;
        frame.bends = bends;
    }
}

/// Where a run that ends near where it began is farthest from there; nowhere in one that leads on.
fn halfway(run: &[Point]) -> usize {
    let (Some(first), Some(last)) = (run.first(), run.last()) else {
        return 0;
    };
    let far = |p: &Point| p.distance(*first);
    let most = run.iter().enumerate();
    let most = most.max_by(|a, b| far(a.1).total_cmp(&far(b.1)));
    most.filter(|(_, p)| far(p) > 2.0 * far(last))
        .map_or(0, |m| m.0)
}

/// Stretches of a line that were measured.
pub(super) fn stretches(line: &Measured) -> impl Iterator<Item = Vec<Point>> {
    let spans = line.places.split(|p| p.half.is_none());
    spans.map(|span| span.iter().map(|p| p.at).collect())
}

/// Shortest straight stretch that says anything of a lens, mm.
const STRAIGHT: f64 = 45.0;

fn cut_straight(points: &[Point], out: &mut Vec<Vec<Point>>, depth: usize) {
    let (Some(a), Some(b)) = (points.first(), points.last()) else {
        return;
    };
    let chord = a.distance(*b);
    let Some(u) = (*b - *a).unit() else { return };
    if points.len() < 20 || depth > 12 {
        return;
    }
    let off = |p: &Point| (*p - *a).cross(u).abs();
    let far = points
        .iter()
        .enumerate()
        .max_by(|p, q| off(p.1).total_cmp(&off(q.1)));
    let Some((at, far)) = far.map(|(i, p)| (i, off(p))) else {
        return;
    };
    if far < 0.006 * chord + 0.1 {
        if chord > STRAIGHT {
            // Ends are nearest to corners, where middles are pulled aside.
            let inner = points
                .iter()
                .filter(|p| p.distance(*a) > 3.0 && p.distance(*b) > 3.0);
            out.push(inner.copied().collect());
        }
        return;
    }
    let (left, right) = points.split_at(at.clamp(1, points.len() - 1));
    cut_straight(left, out, depth + 1);
    cut_straight(right, out, depth + 1);
}
