//! A touched outline: the touches are the path.
//!
//! Nothing is thinned but a touch repeated in place. The last touch may repeat the first; it then
//! goes. Three touches and more close unless they lie along one line, for whoever touches the
//! corners of a part seldom touches the first one twice; an open line is said by a hint.

use super::PathKind;
use super::clean::{CleanPath, Ends};
use super::measure::{self, at};
use crate::geom::Point;

/// Touches nearer than this are one, mm.
const SAME: f64 = 1.0;

/// The path of touches in order.
pub(super) fn path(touches: &[Point], unit: f64) -> CleanPath {
    let mut points: Vec<Point> = Vec::new();
    for &p in touches {
        if points.last().is_none_or(|l| l.distance(p) > SAME * unit) {
            points.push(p);
        }
    }
    let step = measure::typical_step(&points);
    let n = points.len();
    let round = at(&points, 0).distance(at(&points, n.saturating_sub(1)));
    let repeated = n > 3 && round < (3.0 * unit).min(0.3 * step);
    if repeated {
        points.pop();
    }
    let span = measure::span(&points);
    let width = breadth(&points);
    let closed = points.len() > 2 && width > (0.03 * span).max(1.5 * unit);
    let last = points.len().saturating_sub(1);
    CleanPath {
        closed,
        kind: PathKind::Touched,
        step,
        ends: Ends {
            gap: at(&points, 0).distance(at(&points, last)),
            if_closed: (!closed && last > 1).then_some((0, last)),
            sureness: match (closed, repeated) {
                (true, true) => 2.0,
                (true, false) => 0.7,
                (false, _) => -2.0,
            },
            ..Ends::default()
        },
        points,
        ..CleanPath::default()
    }
}

/// Largest distance of a point from the line between the first point and the point farthest from
/// it, mm.
fn breadth(points: &[Point]) -> f64 {
    let Some(&first) = points.first() else {
        return 0.0;
    };
    let far = points.iter().copied().fold(first, |far, p| {
        if p.distance(first) > far.distance(first) {
            p
        } else {
            far
        }
    });
    let Some(along) = (far - first).unit() else {
        return 0.0;
    };
    points
        .iter()
        .map(|&p| along.cross(p - first).abs())
        .fold(0.0, f64::max)
}
