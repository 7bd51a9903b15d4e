//! Spikes: one to three samples far off the line, there and back again.
//!
//! A spike is known by its two long steps and by how little the line has moved on between them: a
//! run of k samples whose entry and exit steps are both longer than four typical steps, while the
//! chord across is short, both beside those two steps and beside the way the pen would have gone in
//! the meantime. Either bound alone is wrong: on a sparse pen (5 mm a sample) "no further than a few
//! steps" would take true corners, and "short beside the steps" alone would miss a spike that is
//! little longer than the steps around it. A single sample is also a spike where both its steps are
//! long beside the steps around *them* and the line turns sharply at it.
//!
//! A first or last sample far from all the others is a spike with only one step; it goes only from
//! a run long enough that nothing is lost with it.

use super::measure::at;
use crate::geom::Point;

/// How many times as long as the steps around them a lone sample's two steps are.
const LONE: f64 = 1.6;
/// Longest spike, samples.
const LONGEST: usize = 3;

/// Removes the spikes in place; says how many samples went and where the first of them was.
pub(super) fn remove(points: &mut Vec<Point>, step: f64) -> (usize, Option<Point>) {
    let before = points.len();
    let mut first = None;
    if before < 5 || step <= 0.0 {
        return (0, None);
    }
    // Read position runs ahead of write position; samples before `write` are final.
    let (mut read, mut write) = (1, 1);
    while read < points.len() {
        if let Some(k) = spike_length(points, write, read, step) {
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
    trim_ends(points, step, &mut first);
    (before - points.len(), first)
}

/// How many samples from `read` on are a spike seen from `from`, if any.
fn spike_length(points: &[Point], write: usize, read: usize, step: f64) -> Option<usize> {
    let from = at(points, write - 1);
    let entry = from.distance(at(points, read));
    if entry <= LONE * step {
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
        // One lone sample with a sharp turn at it is a spike even where samples were lost beside it.
        let share = if k == 1 { 0.9 } else { 0.35 };
        entry.min(exit) > 4.0 * step && chord < by_steps.max(share * e)
            || k == 1 && is_lone(points, (write, read), (e, chord), step)
    })
}

/// Whether the sample at `read` sticks out alone: both its steps are long beside the steps before
/// and after them, and the turn at it is sharp. A pen that truly turns there slows down; on a sparse
/// pen this is the only sign.
fn is_lone(
    points: &[Point],
    (write, read): (usize, usize),
    (e, chord): (f64, f64),
    step: f64,
) -> bool {
    if write < 2 || read + 2 >= points.len() {
        return false;
    }
    let before = at(points, write - 2).distance(at(points, write - 1));
    let after = at(points, read + 1).distance(at(points, read + 2));
    e > LONE * step.max(before).max(after) && chord < 1.3 * e
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
