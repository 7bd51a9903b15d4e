//! Spikes: one to three samples far off the line, there and back again.
//!
//! A spike is known by its two long steps and by how little the line has moved on between them: a
//! run of k samples whose entry and exit steps are both longer than four typical steps, while the
//! chord across is short, both beside those two steps and beside the way the pen would have gone in
//! the meantime. Either bound alone is wrong: on a sparse pen (5 mm a sample) "no further than a few
//! steps" would take true corners, and "short beside the steps" alone would miss a spike that is
//! little longer than the steps around it.
//!
//! A first or last sample far from all the others is a spike with only one step; it goes only from
//! a run long enough that nothing is lost with it.

use super::measure::at;
use crate::geom::Point;

/// Longest spike, samples.
const LONGEST: usize = 3;

/// Removes the spikes in place; says how many samples went and where the first of them was.
pub(super) fn remove(points: &mut Vec<Point>, step: f64) -> (usize, Option<Point>) {
    let before = points.len();
    let mut first = None;
    if before < 5 || step <= 0.0 {
        return (0, None);
    }
    trim_ends(points, step, &mut first);
    // Read position runs ahead of write position; samples before `write` are final.
    let (mut read, mut write) = (1, 1);
    while read < points.len() {
        let from = at(points, write - 1);
        if let Some(k) = spike_length(points, from, read, step) {
            first = first.or(points.get(read).copied());
            read += k;
            continue;
        }
        let p = at(points, read);
        if let Some(slot) = points.get_mut(write) {
            *slot = p;
        }
        write += 1;
        read += 1;
    }
    points.truncate(write);
    (before - points.len(), first)
}

/// How many samples from `read` on are a spike seen from `from`, if any.
fn spike_length(points: &[Point], from: Point, read: usize, step: f64) -> Option<usize> {
    let entry = from.distance(at(points, read));
    if entry <= 4.0 * step {
        return None;
    }
    (1..=LONGEST).find(|&k| {
        let Some(&back) = points.get(read + k) else {
            return false;
        };
        let exit = at(points, read + k - 1).distance(back);
        let e = entry.min(exit);
        let chord = from.distance(back);
        let by_steps = (2.5 * (k as f64 + 1.0) * step).min(0.6 * e);
        exit > 4.0 * step && chord < by_steps.max(0.35 * e)
    })
}

/// Drops a lone first or last sample that lies more than ten steps off.
fn trim_ends(points: &mut Vec<Point>, step: f64, first: &mut Option<Point>) {
    if points.len() < 20 {
        return;
    }
    let n = points.len();
    if at(points, n - 2).distance(at(points, n - 1)) > 10.0 * step {
        *first = points.pop();
    }
    if at(points, 0).distance(at(points, 1)) > 10.0 * step {
        *first = points.first().copied();
        points.remove(0);
    }
}
