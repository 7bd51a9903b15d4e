//! Stretches of the drawn line that are straight: what they bow by is the lens's doing.

use super::frame::Frame;
use super::lens::bend_of;
use super::lines::Lines;
use super::profile::Measured;
use super::view::{Lens, View};
use crate::geom::Point;

/// What is straight in the line tells how the lens bends; the view is made anew with it.
pub(super) fn straighten(frame: &mut Frame, size: (f64, f64), found: &Lines) {
    let runs: Vec<Vec<Point>> = found
        .taken
        .iter()
        .flat_map(straight_runs)
        .map(|run| run.iter().map(|p| frame.view.sees(*p)).collect())
        .collect();
    if runs.is_empty() {
        return;
    }
    let (bend, _) = bend_of(&runs, frame.view.lens());
    let lens = Lens {
        bend,
        ..frame.view.lens()
    };
    if let Some(view) = View::of_rectangle(size.0, size.1, &frame.corners, lens) {
        frame.view = view;
    }
}

/// Long stretches of a line that are straight but for what a lens does.
fn straight_runs(line: &Measured) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    let spans = line.places.split(|p| p.half.is_none());
    for span in spans {
        let points: Vec<Point> = span.iter().map(|p| p.at).collect();
        cut_straight(&points, &mut out, 0);
    }
    out
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
