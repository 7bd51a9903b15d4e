//! One line traced in two strokes: a loop gone round again after lifting, a stroke that a file holds twice.
//!
//! Taken for two loops, each would be cut, the second into the first one's kerf.
//!
//! 1. Strokes that agree point for point are one ([`dropped`]).
//! 2. Two closed paths are one line where each lies along the other all the way ([`join`]): the first stays, the
//!    other says once more where the line is.
//!
//! Fails on: a loop gone round again half in one stroke and half in another; two loops really meant closer together
//! than [`REACH`], which no torch could cut apart.

use super::measure::at;
use super::{CleanPath, PathKind, Stroke};
use crate::geom::{Line, Point};
use crate::outline::Bounds;

/// Two passes of one line lie within this of one another, in stations.
const REACH: f64 = 2.5;
/// Places on either loop that are looked at.
const PLACES: usize = 64;
/// Pairs of loops of one size in one place that are looked at, so that no trace takes long.
const MOST_PAIRS: usize = 20_000;

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

/// Makes closed paths that lie along one another one; says where each was that is no loop of its own any more.
pub(super) fn join(paths: &mut Vec<CleanPath>, unit: f64) -> Vec<Point> {
    let bounds = |p: &CleanPath| Bounds::of_points(p.points.iter().copied());
    let bounds: Vec<Option<Bounds>> = paths.iter().map(bounds).collect();
    let reach = REACH * unit;
    let mut left = MOST_PAIRS;
    let mut into: Vec<Option<usize>> = vec![None; paths.len()];
    for (i, a) in paths.iter().enumerate() {
        for (k, b) in paths.iter().enumerate().take(i) {
            let both = bounds.get(i).copied().flatten();
            let both = both.zip(bounds.get(k).copied().flatten());
            let near = both.is_some_and(|(a, b)| alike(&a, &b, reach));
            if !near || left == 0 || into.get(k).is_none_or(Option::is_some) || !may_be_one(a, b) {
                continue;
            }
            left -= 1;
            if along(&a.points, &b.points, reach) && along(&b.points, &a.points, reach) {
                if let Some(slot) = into.get_mut(i) {
                    *slot = Some(k);
                }
                break;
            }
        }
    }
    let mut places = Vec::new();
    for (i, k) in into.iter().enumerate() {
        let Some(k) = *k else { continue };
        let mut points = paths.get(i).map(|p| p.points.clone()).unwrap_or_default();
        let start = at(&points, 0);
        points.push(start);
        places.push(start);
        if let Some(first) = paths.get_mut(k) {
            first.again.push(points);
        }
    }
    let mut gone = into.iter();
    paths.retain(|_| gone.next().is_none_or(Option::is_none));
    places
}

fn may_be_one(a: &CleanPath, b: &CleanPath) -> bool {
    let sampled = |p: &CleanPath| p.closed && p.kind == PathKind::Sampled && p.points.len() > 2;
    sampled(a) && sampled(b)
}

/// The same rectangle, each side within reach.
fn alike(a: &Bounds, b: &Bounds, reach: f64) -> bool {
    let off = [a.min - b.min, a.max - b.max];
    off.iter().all(|d| d.x.abs().max(d.y.abs()) < reach)
}

/// Every place of one closed path lies within reach of the other.
fn along(a: &[Point], b: &[Point], reach: f64) -> bool {
    let stride = a.len().div_ceil(PLACES).max(1);
    let off = |p: Point| {
        let next = b.iter().skip(1).chain(b.first());
        let steps = b.iter().zip(next).map(|(&from, &to)| Line { from, to });
        let square = steps.map(|l| (l.nearest(p).0 - p).length_squared());
        square.fold(f64::INFINITY, f64::min)
    };
    a.iter().step_by(stride).all(|p| off(*p) < reach * reach)
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
    fn a_stroke_that_is_there_twice_is_taken_once() {
        let line: Vec<Point> = (0..100).map(|k| Point::new(f64::from(k), 3.0)).collect();
        assert_eq!(cleaned(vec![line.clone(), line.clone()]), 1);
    }
}
