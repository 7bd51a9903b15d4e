//! Spikes: one to three samples far off the line, there and back again.
//!
//! A spike is known by its two long steps and by how little the line has moved on between them: a
//! run of k samples whose entry and exit steps are both longer than four typical steps, while the
//! chord across is short, both beside those two steps and beside the way the pen would have gone in
//! the meantime. Either bound alone is wrong: on a sparse pen (5 mm a sample) "no further than a few
//! steps" would take true corners, and "short beside the steps" alone would miss a spike that is
//! little longer than the steps around it. A single sample is also a spike where both its steps are
//! long beside the steps around *them* and the line turns sharply at it, and on a sparse pen where it lies
//! far outside the triangle in which a path that comes and goes as its neighbours do can have turned.
//!
//! What is left across a spike was not seen: on a sparse pen it may be a whole corner.
//!
//! A first or last sample far from all the others is a spike with only one step; it goes only from
//! a run long enough that nothing is lost with it.

use super::measure::{at, quantile};
use crate::geom::{Line, Point};

/// How many times as long as the steps around them a lone sample's two steps are.
const LONE: f64 = 1.6;
/// Longest spike, samples.
const LONGEST: usize = 3;
/// A pen is sparse whose steps are longer than this, in units.
const SPARSE: f64 = 1.5;
/// On a sparse pen a sample is a spike that is further off than this part of a step, and than so many times
/// what three quarters of them are off.
const OFF: f64 = 0.8;
const TIMES_USUAL: f64 = 6.0;
/// A way that would turn further out than this part of the chord across does not turn.
const FARTHEST: f64 = 3.0;

/// Cosine of the angle between the way to a tip and the way from it, taken backwards, within which the line turns back
/// there, and how far beyond its neighbours the tip may lie, in steps.
const BACK: f64 = 0.7;
const ON: f64 = 1.5;

/// What was removed.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Removed {
    /// How many samples.
    pub count: usize,
    /// Where the first of them was.
    pub place: Option<Point>,
    /// The steps that lead across what is gone, ascending: `i` from sample `i` to the next of those left.
    pub across: Vec<usize>,
}

/// Removes the spikes in place. `unit` is the length that lengths are stated in, mm.
pub(super) fn remove(points: &mut Vec<Point>, step: f64, unit: f64) -> Removed {
    let before = points.len();
    let mut out = Removed::default();
    if before < 5 || step <= 0.0 {
        return out;
    }
    let off = (step > SPARSE * unit).then(|| usual_offset(points).max(OFF * step));
    // Read position runs ahead of write position; samples before `write` are final.
    let (mut read, mut write) = (1, 1);
    while read < points.len() {
        if let Some(k) = spike_length(points, write, read, step, off) {
            out.place = out.place.or(points.get(read).copied());
            if out.across.last() != Some(&(write - 1)) {
                out.across.push(write - 1);
            }
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
    trim_ends(points, step, &mut out);
    out.across.retain(|i| i + 1 < points.len());
    out.count = before - points.len();
    out
}

/// How many samples from `read` on are a spike seen from `from`, if any.
fn spike_length(
    points: &[Point],
    write: usize,
    read: usize,
    step: f64,
    off: Option<f64>,
) -> Option<usize> {
    let from = at(points, write - 1);
    let entry = from.distance(at(points, read));
    if off.is_some_and(|most| offset(points, (write, read)).is_some_and(|o| o > most)) {
        return Some(1);
    }
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

/// How far the sample at `read` lies outside the triangle of its two neighbours and the place where the way
/// to the one meets the way from the other. Nothing where neighbours are wanting.
fn offset(points: &[Point], (write, read): (usize, usize)) -> Option<f64> {
    if write < 2 {
        return None;
    }
    let (before, from, p) = (
        at(points, write - 2),
        at(points, write - 1),
        at(points, read),
    );
    let (&to, &after) = (points.get(read + 1)?, points.get(read + 2)?);
    let (u, v, chord) = (from - before, to - after, to - from);
    let (turn, most) = (u.cross(v), FARTHEST * chord.length());
    // The tip: a distance `s` on along `u` from the one, `t` along `v` from the other.
    let (s, t) = (chord.cross(v) / turn, chord.cross(u) / turn);
    let ahead = s > 0.0 && t > 0.0 && s * u.length() < most && t * v.length() < most;
    let (long, way) = (u.length().max(v.length()), u + v);
    let tip = if ahead {
        from + u * s
    } else if u.dot(v) > BACK * u.length() * v.length() {
        // It comes and goes along one line, as into a slit and out again: the tip is a step further on.
        from.midpoint(to) + way * (ON * long / way.length())
    } else {
        from
    };
    Some(outside(p, [from, tip, to]))
}

/// The distance of a place from a triangle; 0 inside it.
fn outside(p: Point, corners: [Point; 3]) -> f64 {
    let [a, b, c] = corners;
    let sides = [(a, b), (b, c), (c, a)].map(|(from, to)| Line { from, to });
    let left = |side: &Line| (side.to - side.from).cross(p - side.from);
    if sides.iter().all(|s| left(s) > 0.0) || sides.iter().all(|s| left(s) < 0.0) {
        return 0.0;
    }
    let off = |side: Line| p.distance(side.nearest(p).0);
    sides.map(off).into_iter().fold(f64::INFINITY, f64::min)
}

/// So far off as hardly any sample of such a hand is.
fn usual_offset(points: &[Point]) -> f64 {
    let mut all: Vec<f64> = (2..points.len().saturating_sub(2))
        .filter_map(|i| offset(points, (i, i)))
        .collect();
    TIMES_USUAL * quantile(&mut all, 0.75)
}

/// Drops a lone first or last sample that lies more than ten steps off.
fn trim_ends(points: &mut Vec<Point>, step: f64, out: &mut Removed) {
    if points.len() < 20 {
        return;
    }
    let n = points.len();
    if at(points, n - 2).distance(at(points, n - 1)) > 10.0 * step {
        out.place = points.pop();
    }
    if at(points, 0).distance(at(points, 1)) > 10.0 * step {
        out.place = points.first().copied();
        points.remove(0);
        out.across.retain(|i| *i > 0);
        out.across.iter_mut().for_each(|i| *i -= 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Into a slit of 30 and out again, a sample every 2.5 mm, from a rim that runs on.
    #[test]
    fn the_tip_of_a_slit_stays() {
        let rim = |k: i32| Point::new(2.5 * f64::from(k), 0.0);
        let mut points: Vec<Point> = (0..12).map(rim).collect();
        let down = |k: i32| 2.5 * f64::from(k);
        points.extend((1..=12).map(|k| Point::new(27.6 + 0.1 * f64::from(k % 2), down(k))));
        points.extend(
            (1..12)
                .rev()
                .map(|k| Point::new(27.9 - 0.1 * f64::from(k % 2), down(k) - 0.9)),
        );
        points.extend((12..24).map(rim));
        let (n, tip) = (points.len(), points.iter().map(|p| p.y).fold(0.0, f64::max));
        let removed = remove(&mut points, 2.5, 1.0);
        assert_eq!((removed.count, points.len()), (0, n));
        assert!((points.iter().map(|p| p.y).fold(0.0, f64::max) - tip).abs() < 1e-12);
    }

    /// Once round a square of 40, a sample every 4 mm.
    fn square() -> Vec<Point> {
        let side = |k: i32| f64::from(4 * k);
        let there = (0..10).map(|k| Point::new(side(k), 0.0));
        let up = (0..10).map(|k| Point::new(40.0, side(k)));
        let back = (0..10).map(|k| Point::new(40.0 - side(k), 40.0));
        let down = (0..10).map(|k| Point::new(0.0, 40.0 - side(k)));
        there.chain(up).chain(back).chain(down).collect()
    }

    #[test]
    fn corners_of_a_sparse_pen_stay() {
        let mut points = square();
        assert_eq!(remove(&mut points, 4.0, 1.0), Removed::default());
        assert_eq!(points, square());
    }

    #[test]
    fn a_spike_hardly_longer_than_a_step_is_seen() {
        let mut points = square();
        let at = points[15] + crate::geom::Vec2::new(5.5, 2.0);
        points[15] = at;
        let removed = remove(&mut points, 4.0, 1.0);
        assert_eq!((removed.count, removed.place), (1, Some(at)));
        assert_eq!(removed.across, [14]);
    }

    #[test]
    fn what_a_spike_took_the_place_of_was_not_seen() {
        let mut stroke = square();
        stroke.push(stroke[0]);
        stroke[10] = Point::new(55.0, -14.0);
        let trace = crate::Trace::from_strokes([stroke]);
        let clean = super::super::clean(&trace, &crate::Settings::default());
        let bridged: Vec<_> = clean
            .iter()
            .flat_map(|c| &c.paths)
            .map(|p| &p.bridged)
            .collect();
        assert_eq!(bridged, [&vec![9]]);
    }
}
