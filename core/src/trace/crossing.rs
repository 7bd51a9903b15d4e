//! Where a path crosses itself.
//!
//! A figure of eight, a star drawn in one stroke or a scribble is no outline that could be cut out:
//! such a path stays open and its crossings are told. Crossings are found exactly, step against
//! step, with a grid of cells about as large as the typical step so that the work stays linear.
//! Small and thin loops are left out: where the shorter way round from the crossing back to it is
//! less than a twelfth of the path, or encloses next to nothing, it is the hand's curl at a corner
//! or the wander of two neighbouring passes, not a figure.

use super::measure::{area, at, lengths, span};
use crate::geom::Point;
use crate::geom::Sorted as _;

/// Most crossings told.
const MOST: usize = 16;

/// Places where the path plainly crosses itself, in order along it. A closed path's closing step is
/// looked at too.
pub(super) fn crossings(points: &[Point], closed: bool, unit: f64) -> Vec<Point> {
    let steps = points.len().saturating_sub(usize::from(!closed));
    if steps < 3 {
        return Vec::new();
    }
    let cum = lengths(points);
    let closing = if closed {
        at(points, points.len() - 1).distance(at(points, 0))
    } else {
        0.0
    };
    let total = cum.last().copied().unwrap_or_default() + closing;
    let least = (0.08 * total).max(4.0 * unit);
    let width = 2.0 * unit + 0.02 * span(points);
    let whole = area(points);
    let step = |i: usize| (at(points, i), at(points, (i + 1) % points.len()));
    let cell = (2.0 * total / steps as f64).max(1e-9 * unit.max(total));
    let mut grid = cells(steps, cell, &step);
    grid.sort_unstable();
    let mut found: Vec<(usize, Point)> = Vec::new();
    for same in grid.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        for (k, &(_, _, i)) in same.iter().enumerate() {
            for &(_, _, j) in same.get(k + 1..).unwrap_or_default() {
                let (low, high) = (i.min(j) as usize, i.max(j) as usize);
                let of = |k: usize| cum.get(k).copied().unwrap_or_default();
                let way = of(high) - of(low);
                let round = if closed { way.min(total - way) } else { way };
                if round < least {
                    continue;
                }
                if let Some(p) = meet(step(low), step(high))
                    && is_wide(points, (low, high), whole, round, (way, width))
                    && !found.iter().any(|f| f.1.distance(p) < 2.0 * unit)
                {
                    found.push((low, p));
                }
            }
        }
        if found.len() >= MOST {
            break;
        }
    }
    found.order_by_key(|f| f.0);
    found.into_iter().map(|f| f.1).collect()
}

/// Whether the smaller loop cut off at the crossing of steps `low` and `high` encloses anything.
fn is_wide(
    points: &[Point],
    (low, high): (usize, usize),
    whole: f64,
    round: f64,
    (way, width): (f64, f64),
) -> bool {
    let inner = area(points.get(low + 1..=high).unwrap_or_default());
    let loop_area = if round < way { whole - inner } else { inner };
    2.0 * loop_area.abs() > width * round
}

/// Every cell each step passes near: cells of points spread along it no further apart than a cell.
fn cells(steps: usize, cell: f64, step: &impl Fn(usize) -> (Point, Point)) -> Vec<(i32, i32, u32)> {
    let mut grid = Vec::with_capacity(2 * steps);
    let index = |v: f64| libm::floor(v / cell).clamp(-2e9, 2e9) as i32;
    for i in 0..steps {
        let (p, q) = step(i);
        let (x0, x1) = (index(p.x.min(q.x)), index(p.x.max(q.x)));
        let (y0, y1) = (index(p.y.min(q.y)), index(p.y.max(q.y)));
        let wide = (f64::from(x1) - f64::from(x0) + 1.0) * (f64::from(y1) - f64::from(y0) + 1.0);
        if wide > 4096.0 {
            continue;
        }
        for x in x0..=x1 {
            for y in y0..=y1 {
                grid.push((x, y, i as u32));
            }
        }
    }
    grid
}

/// The place where two steps properly cross.
fn meet(a: (Point, Point), b: (Point, Point)) -> Option<Point> {
    let (u, v) = (a.1 - a.0, b.1 - b.0);
    let turn = u.cross(v);
    if turn == 0.0 {
        return None;
    }
    let t = (b.0 - a.0).cross(v) / turn;
    let s = (b.0 - a.0).cross(u) / turn;
    ((0.0..1.0).contains(&t) && (0.0..1.0).contains(&s)).then(|| a.0 + u * t)
}
