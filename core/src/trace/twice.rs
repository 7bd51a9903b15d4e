//! One line traced in two strokes: a loop gone round again after lifting, a side of it gone over again, a stroke that
//! a file holds twice.
//!
//! Taken for two lines, each would be cut, the second into the first one's kerf and into the part.
//!
//! 1. Strokes that agree point for point are one ([`dropped`]).
//! 2. Two closed paths are one line where each lies along the other all the way ([`join`]): the first stays, the
//!    other says once more where the line is. So does an open path that lies along another all its way.
//!
//! Fails on: two lines really meant closer together than [`REACH`], which no torch could cut apart.

use super::measure::{at, length};
use super::strokes::Run;
use super::{CleanPath, PathKind, Stroke};
use crate::geom::{Line, Point, Sorted as _};
use crate::outline::Bounds;
use core::cmp::Ordering;

/// Two passes of one line lie within this of one another, in stations.
const REACH: f64 = 2.5;
/// An open path shorter than this, in stations, may as well cross another as run along it.
const LEAST_ALONG: f64 = 5.5;
/// A stroke whose ends lie nearer to one another than this part of its length comes back.
const COMES_BACK: f64 = 0.2;
/// Places on either path that are looked at.
const PLACES: usize = 64;
/// Points of lines that others are held against, so that no trace takes long.
const MOST_HELD: usize = 20_000_000;

/// Which strokes are there once already, point for point; places touched again stay.
pub(super) fn dropped(strokes: &[&Stroke]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..strokes.len()).collect();
    let key = |i: &usize| {
        let points = strokes.get(*i).map_or(&[][..], |s| s.points.as_slice());
        let bits = |p: Point| [p.x.to_bits(), p.y.to_bits()];
        let middle = at(points, points.len() / 2);
        (points.len(), bits(at(points, 0)), bits(middle), *i)
    };
    order.sort_unstable_by_key(key);
    let mut out = vec![false; strokes.len()];
    for w in order.windows(2) {
        if let [a, b] = *w
            && let (Some(first), Some(second)) = (strokes.get(a), strokes.get(b))
            && first.points == second.points
            && let Some(d) = out.get_mut(b)
        {
            *d = true;
        }
    }
    out
}

/// Makes paths that lie along one another one; says where each was that is no line of its own any more, and whether
/// it went round.
pub(super) fn join(paths: &mut Vec<CleanPath>, unit: f64) -> Vec<(Point, bool)> {
    if paths.len() < 2 {
        return Vec::new();
    }
    let into = owners(paths.iter().map(Looked::of).collect(), unit);
    let mut places = Vec::new();
    for (i, k) in into.iter().enumerate() {
        let (Some(k), Some(path)) = (*k, paths.get(i)) else {
            continue;
        };
        let (mut points, closed) = (path.points.clone(), path.closed);
        let start = at(&points, 0);
        points.extend(closed.then_some(start));
        places.push((start, closed));
        if let Some(first) = paths.get_mut(k) {
            first.again.push(points);
        }
    }
    let mut gone = into.iter();
    paths.retain(|_| gone.next().is_none_or(Option::is_none));
    places
}

/// The same of strokes that are not yet joined: one that lies along another all its way is joined to nothing. Those
/// that come back to where they began are left to [`join`].
pub(super) fn join_strokes(runs: &mut Vec<Run>, unit: f64) -> Vec<Point> {
    if runs.len() < 2 {
        return Vec::new();
    }
    let into = owners(runs.iter().map(Looked::of_run).collect(), unit);
    let mut places = Vec::new();
    for (i, k) in into.iter().enumerate() {
        let piece = runs.get(i).filter(|_| k.is_some());
        let Some(piece) = piece.map(|run| run.points.clone()) else {
            continue;
        };
        places.push(at(&piece, 0));
        if let Some(first) = k.and_then(|k| runs.get_mut(k)) {
            first.again.push(piece);
        }
    }
    let mut gone = into.iter();
    runs.retain(|_| gone.next().is_none_or(Option::is_none));
    places
}

/// Which path each one is a part of, where it is.
fn owners(looked: Vec<Looked<'_>>, unit: f64) -> Vec<Option<usize>> {
    // Loops as they were traced, then lines, the longest first.
    let mut order: Vec<(usize, &Looked<'_>)> = looked.iter().enumerate().collect();
    order.order_by(|(_, a), (_, b)| match (a.closed, b.closed) {
        (true, true) => Ordering::Equal,
        (false, false) => b.length.total_cmp(&a.length),
        (closed, other) => other.cmp(&closed),
    });
    let mut left = MOST_HELD;
    let mut into: Vec<Option<usize>> = vec![None; looked.len()];
    for (rank, (i, b)) in order.iter().enumerate() {
        for (k, a) in order.iter().take(rank) {
            let stays = into.get(*k).is_some_and(Option::is_none);
            if left == 0 || !stays || !a.may_hold(b, unit) {
                continue;
            }
            left = left.saturating_sub(a.points.len());
            let reach = REACH * unit;
            if b.lies_along(a, reach) && (!b.closed || a.lies_along(b, reach)) {
                if let Some(slot) = into.get_mut(*i) {
                    *slot = Some(*k);
                }
                break;
            }
        }
    }
    into
}

/// A path as it is held against others.
struct Looked<'a> {
    points: &'a [Point],
    bounds: Option<Bounds>,
    length: f64,
    closed: bool,
    /// Others may lie along it, and it along others.
    holds: bool,
    asked: bool,
}

impl<'a> Looked<'a> {
    fn of(path: &'a CleanPath) -> Self {
        Self {
            points: &path.points,
            bounds: Bounds::of_points(path.points.iter().copied()),
            length: length(&path.points),
            closed: path.closed,
            holds: path.kind == PathKind::Sampled && path.points.len() > 2,
            asked: path.kind == PathKind::Sampled && path.points.len() > 2,
        }
    }

    fn of_run(run: &'a Run) -> Self {
        let points = run.points.as_slice();
        let long = length(points);
        let ends = at(points, 0).distance(at(points, points.len().saturating_sub(1)));
        Self {
            points,
            bounds: Bounds::of_points(points.iter().copied()),
            length: long,
            closed: false,
            holds: points.len() > 2,
            asked: points.len() > 2 && ends > COMES_BACK * long,
        }
    }

    /// The other path may be this one gone over again.
    fn may_hold(&self, other: &Self, unit: f64) -> bool {
        let (Some(own), Some(theirs)) = (self.bounds, other.bounds) else {
            return false;
        };
        let reach = REACH * unit;
        let near = match other.closed {
            true => self.closed && alike(&own, &theirs, reach),
            false => other.length > LEAST_ALONG * unit && within(&theirs, &own, reach),
        };
        near && self.holds && other.asked
    }

    /// Every place of it lies within reach of the other.
    fn lies_along(&self, other: &Self, reach: f64) -> bool {
        let line = other.points;
        let off = |p: Point| {
            let next = line.iter().skip(1);
            let next = next.chain(line.first().filter(|_| other.closed));
            let steps = line.iter().zip(next).map(|(&from, &to)| Line { from, to });
            let square = steps.map(|l| (l.nearest(p).0 - p).length_squared());
            square.fold(f64::INFINITY, f64::min)
        };
        let points = self.points;
        let stride = points.len().div_ceil(PLACES).max(1);
        let places = points.iter().step_by(stride).chain(points.last());
        places.into_iter().all(|p| off(*p) < reach * reach)
    }
}

/// The same rectangle, each side within reach.
fn alike(a: &Bounds, b: &Bounds, reach: f64) -> bool {
    let off = [a.min - b.min, a.max - b.max];
    off.iter().all(|d| d.x.abs().max(d.y.abs()) < reach)
}

/// A rectangle lies in another, within reach.
fn within(a: &Bounds, of: &Bounds, reach: f64) -> bool {
    let (low, high) = (a.min - of.min, of.max - a.max);
    [low.x, low.y, high.x, high.y].iter().all(|d| *d > -reach)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Settings, Trace, trace::clean};
    use core::f64::consts::TAU;

    fn lap(radius: f64, from: f64, wobble: f64) -> Vec<Point> {
        let at = |k: i32| {
            let t = from + f64::from(k) / 200.0 * TAU;
            let r = radius + wobble * libm::sin(7.0 * t);
            Point::new(r * libm::cos(t), r * libm::sin(t))
        };
        (0..=200).map(at).collect()
    }

    fn cleaned(strokes: Vec<Vec<Point>>) -> usize {
        let trace = Trace::from_strokes(strokes);
        clean(&trace, &Settings::default()).unwrap().paths.len()
    }

    #[test]
    fn a_loop_traced_in_two_strokes_is_one() {
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), lap(40.3, 2.0, -0.4)]), 1);
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), lap(40.0, 0.0, 0.4)]), 1);
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), lap(36.0, 2.0, 0.4)]), 2);
    }

    #[test]
    fn a_side_traced_again_in_a_stroke_of_its_own_is_no_line_of_its_own() {
        let arc = |radius: f64, to: f64| -> Vec<Point> {
            let all = lap(radius, 1.0, 0.3);
            all.into_iter().take((to * 200.0) as usize).collect()
        };
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), arc(40.5, 0.3)]), 1);
        assert_eq!(cleaned(vec![arc(39.5, 0.1), lap(40.0, 0.0, 0.4)]), 1);
        // A line of its own: further in, or leaving the loop.
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), arc(36.0, 0.3)]), 2);
        let chord: Vec<Point> = (0..60)
            .map(|k| Point::new(f64::from(k) - 39.0, 3.0))
            .collect();
        assert_eq!(cleaned(vec![lap(40.0, 0.0, 0.4), chord]), 2);
        // Over the corner where two strokes meet; and one of several again.
        let of = |from: f64, to: f64| -> Vec<Point> {
            let all = lap(40.0, 0.0, 0.3);
            all[(from * 200.0) as usize..=(to * 200.0) as usize].to_vec()
        };
        assert_eq!(cleaned(vec![of(0.0, 0.5), of(0.5, 1.0), arc(40.3, 0.4)]), 1);
        assert_eq!(cleaned(vec![of(0.0, 0.5), of(0.1, 0.3), of(0.5, 1.0)]), 1);
        // A slit gone over again, and back.
        let there: Vec<Point> = (0..80).map(|k| Point::new(f64::from(k), 0.0)).collect();
        let back: Vec<Point> = there.iter().rev().map(|p| Point::new(p.x, 0.9)).collect();
        assert_eq!(cleaned(vec![there, back]), 1);
        let slit =
            |y: f64| -> Vec<Point> { (0..80).map(|k| Point::new(f64::from(k), y)).collect() };
        assert_eq!(
            cleaned(vec![slit(0.0), slit(0.6).into_iter().take(50).collect()]),
            1
        );
    }

    #[test]
    fn a_stroke_that_is_there_twice_is_taken_once() {
        let line: Vec<Point> = (0..100).map(|k| Point::new(f64::from(k), 3.0)).collect();
        assert_eq!(cleaned(vec![line.clone(), line.clone()]), 1);
    }
}
