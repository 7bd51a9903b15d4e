//! Convex cells: cutting polygons into them, adding two of them, asking whether a place is inside.
//!
//! A region is cut by upright lines through its corners into trapezoids (even-odd, so openings and
//! several loops need no bridges), and trapezoids that continue one another convexly are joined
//! again. A convex polygon so comes out whole, an L as two.

use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use crate::outline::Bounds;

/// Corners nearer than this in x belong to one cutting line, mm.
const SAME_X: f64 = 1e-6;
/// A place counts as inside when it lies deeper than this, mm: pieces may touch.
const DEPTH: f64 = 1e-7;

/// A convex polygon, counter-clockwise, with its sides ready for asking.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) corners: Vec<Point>,
    /// Unit normals pointing inwards, one for each side.
    inward: Vec<Vec2>,
    pub(super) extent: Bounds,
}

impl Cell {
    /// `None` of fewer than three different corners.
    pub(super) fn new(corners: Vec<Point>) -> Option<Self> {
        let corners = without_straight(corners);
        let n = corners.len();
        let extent = Bounds::of_points(corners.iter().copied())?;
        let mut inward = Vec::with_capacity(n);
        for (i, &from) in corners.iter().enumerate() {
            let to = *corners.get((i + 1) % n)?;
            inward.push((to - from).unit()?.left());
        }
        (n >= 3).then_some(Self {
            corners,
            inward,
            extent,
        })
    }

    /// The place lies inside by more than a hair.
    pub(super) fn holds(&self, p: Point) -> bool {
        p.x > self.extent.min.x
            && p.x < self.extent.max.x
            && p.y > self.extent.min.y
            && p.y < self.extent.max.y
            && self
                .corners
                .iter()
                .zip(&self.inward)
                .all(|(&c, &n)| (p - c).dot(n) > DEPTH)
    }

    /// The part of a segment inside the cell, as fractions of it.
    pub(super) fn covers(&self, from: Point, to: Point) -> Option<(f64, f64)> {
        let way = to - from;
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for (&c, &n) in self.corners.iter().zip(&self.inward) {
            let depth = (from - c).dot(n) - DEPTH;
            let slope = way.dot(n);
            if slope.abs() < 1e-15 {
                if depth <= 0.0 {
                    return None;
                }
            } else if slope > 0.0 {
                enter = enter.max(-depth / slope);
            } else {
                leave = leave.min(-depth / slope);
            }
        }
        (enter < leave).then_some((enter, leave))
    }

    /// All places where this cell's reference may not be if it is to keep clear of `fixed`:
    /// the sum of `fixed` and this cell turned half round.
    pub(super) fn no_fit(&self, fixed: &Self) -> Option<Self> {
        let turned: Vec<Point> = self
            .corners
            .iter()
            .map(|c| Point::new(-c.x, -c.y))
            .collect();
        Self::new(sum(&fixed.corners, &turned))
    }

    /// Moved.
    pub(super) fn moved(&self, by: Vec2) -> Self {
        Self {
            corners: self.corners.iter().map(|&c| c + by).collect(),
            inward: self.inward.clone(),
            extent: Bounds {
                min: self.extent.min + by,
                max: self.extent.max + by,
            },
        }
    }
}

/// Drops corners that coincide with their neighbour or lie straight between two.
fn without_straight(corners: Vec<Point>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(corners.len());
    for p in corners {
        if kept.last().is_none_or(|q| p.distance(*q) > 1e-9) {
            kept.push(p);
        }
    }
    while kept.len() > 1
        && kept
            .first()
            .zip(kept.last())
            .is_some_and(|(a, b)| a.distance(*b) <= 1e-9)
    {
        kept.pop();
    }
    let n = kept.len();
    let turns = |i: usize| {
        let at = |k: usize| kept.get(k % n).copied().unwrap_or_default();
        let (a, b, c) = (at(i + n - 1), at(i), at(i + 1));
        let (u, v) = (b - a, c - b);
        u.cross(v) > 1e-12 * u.length() * v.length()
    };
    if n < 3 {
        return kept;
    }
    (0..n)
        .filter(|&i| turns(i))
        .filter_map(|i| kept.get(i).copied())
        .collect()
}

/// The Minkowski sum of two convex polygons: their sides merged by direction.
fn sum(a: &[Point], b: &[Point]) -> Vec<Point> {
    let (a, b) = (from_lowest(a), from_lowest(b));
    let (n, m) = (a.len(), b.len());
    let at = |p: &[Point], i: usize| p.get(i % p.len().max(1)).copied().unwrap_or_default();
    let mut corners = Vec::with_capacity(n + m);
    let (mut i, mut j) = (0, 0);
    while i < n || j < m {
        corners.push(at(&a, i) + at(&b, j).to_vec());
        let turn = (at(&a, i + 1) - at(&a, i)).cross(at(&b, j + 1) - at(&b, j));
        let step_a = j >= m || (i < n && turn >= 0.0);
        let step_b = i >= n || (j < m && turn <= 0.0);
        i += usize::from(step_a);
        j += usize::from(step_b);
    }
    corners
}

/// The same corners starting from the lowest, leftmost.
fn from_lowest(p: &[Point]) -> Vec<Point> {
    let key = |i: &usize| p.get(*i).map_or((0.0, 0.0), |q| (q.y, q.x));
    let start = (0..p.len()).min_by(|i, j| {
        key(i)
            .partial_cmp(&key(j))
            .unwrap_or(core::cmp::Ordering::Equal)
    });
    let mut turned = p.to_vec();
    turned.rotate_left(start.unwrap_or(0));
    turned
}

/// One trapezoid's sides, growing to the right.
struct Growing {
    bottom: Vec<Point>,
    top: Vec<Point>,
}

/// The region enclosed by the loops (even-odd) as convex cells.
pub(super) fn cells(loops: &[Vec<Point>]) -> Vec<Cell> {
    let mut lines: Vec<(Point, Point)> = Vec::new();
    for points in loops {
        let next = points.iter().cycle().skip(1);
        for (&p, &q) in points.iter().zip(next) {
            lines.push(if p.x <= q.x { (p, q) } else { (q, p) });
        }
    }
    let mut xs: Vec<f64> = loops.iter().flatten().map(|p| p.x).collect();
    xs.order_by(f64::total_cmp);
    xs.dedup_by(|b, a| *b - *a < SAME_X);
    lines.order_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let mut done = Vec::new();
    let mut open: Vec<Growing> = Vec::new();
    for (&left, &right) in xs.iter().zip(xs.iter().skip(1)) {
        let mut next = Vec::new();
        for (bottom, top) in trapezoids(&lines, left, right) {
            let fits = open.iter().position(|g| continues(g, bottom, top));
            let mut grown = match fits {
                Some(i) => open.swap_remove(i),
                None => Growing {
                    bottom: vec![bottom.0],
                    top: vec![top.0],
                },
            };
            grown.bottom.push(bottom.1);
            grown.top.push(top.1);
            next.push(grown);
        }
        done.extend(open.drain(..).filter_map(close));
        open = next;
    }
    done.extend(open.drain(..).filter_map(close));
    done
}

type Side = (Point, Point);

/// Bottom and top of each piece of the region between two upright lines.
fn trapezoids(lines: &[Side], left: f64, right: f64) -> Vec<(Side, Side)> {
    let height = |&(p, q): &Side, x: f64| {
        let t = ((x - p.x) / (q.x - p.x)).clamp(0.0, 1.0);
        p.y + t * (q.y - p.y)
    };
    let mut across: Vec<Side> = lines
        .iter()
        .take_while(|l| l.0.x < right)
        .filter(|(p, q)| p.x < left + SAME_X && q.x > right - SAME_X && q.x - p.x >= SAME_X)
        .map(|l| {
            (
                Point::new(left, height(l, left)),
                Point::new(right, height(l, right)),
            )
        })
        .collect();
    across.order_by(|a, b| (a.0.y + a.1.y).total_cmp(&(b.0.y + b.1.y)));
    across
        .chunks_exact(2)
        .filter_map(|pair| match pair {
            [bottom, top] => Some((*bottom, *top)),
            _ => None,
        })
        .collect()
}

/// The trapezoid takes up where the growing cell stands, and the two together are convex.
fn continues(g: &Growing, bottom: Side, top: Side) -> bool {
    let turn = |chain: &[Point], side: Side| match chain {
        [.., a, b] => {
            let (u, v) = (*b - *a, side.1 - side.0);
            u.cross(v) / (u.length() * v.length())
        }
        _ => 0.0,
    };
    let meets = |chain: &[Point], side: Side| {
        chain
            .last()
            .is_some_and(|p| p.distance(side.0) < 2.0 * SAME_X)
    };
    meets(&g.bottom, bottom)
        && meets(&g.top, top)
        && turn(&g.bottom, bottom) >= -1e-12
        && turn(&g.top, top) <= 1e-12
}

fn close(mut g: Growing) -> Option<Cell> {
    g.top.reverse();
    g.bottom.append(&mut g.top);
    Cell::new(g.bottom)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn polygon(corners: &[(f64, f64)]) -> Vec<Point> {
        corners.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    fn area(c: &Cell) -> f64 {
        let n = c.corners.len();
        (0..n)
            .map(|i| c.corners[i].to_vec().cross(c.corners[(i + 1) % n].to_vec()))
            .sum::<f64>()
            * 0.5
    }

    #[test]
    fn a_convex_polygon_stays_whole_and_an_l_becomes_two() {
        let hexagon = polygon(&[
            (0.0, 0.0),
            (4.0, -1.0),
            (7.0, 2.0),
            (6.0, 5.0),
            (2.0, 6.0),
            (-1.0, 3.0),
        ]);
        assert_eq!(cells(&[hexagon]).len(), 1);
        let l = polygon(&[
            (0.0, 0.0),
            (4.0, 0.0),
            (4.0, 1.0),
            (1.0, 1.0),
            (1.0, 5.0),
            (0.0, 5.0),
        ]);
        let both = cells(&[l]);
        assert_eq!(both.len(), 2);
        assert!((both.iter().map(area).sum::<f64>() - 8.0).abs() < 1e-9);
    }

    #[test]
    fn a_plate_with_an_opening_is_the_plate_less_the_opening() {
        let plate = polygon(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
        let opening = polygon(&[(3.0, 3.0), (3.0, 6.0), (6.0, 7.0), (6.0, 3.0)]);
        let all = cells(&[plate, opening]);
        assert!((all.iter().map(area).sum::<f64>() - (100.0 - 10.5)).abs() < 1e-9);
        assert!(!all.iter().any(|c| c.holds(Point::new(4.0, 4.0))));
        assert!(all.iter().any(|c| c.holds(Point::new(4.0, 9.0))));
    }

    #[test]
    fn squares_no_fit_region_is_the_square_of_both_sides() {
        let a = Cell::new(polygon(&[(0.0, 0.0), (3.0, 0.0), (3.0, 3.0), (0.0, 3.0)])).unwrap();
        let b = Cell::new(polygon(&[(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)])).unwrap();
        let no = b.no_fit(&a).unwrap();
        assert_eq!(no.corners.len(), 4);
        assert!((area(&no) - 25.0).abs() < 1e-12);
        assert!(no.holds(Point::new(2.9, 2.9)) && !no.holds(Point::new(3.0, 0.0)));
    }
}
