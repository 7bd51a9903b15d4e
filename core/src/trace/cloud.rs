//! A cloud: points in no order, put in order along the line they lie on.
//!
//! 1. *Reach*: the smallest radius within which the neighbours of a typical point lie along a
//!    line rather than in a blot (their spread across is under a third of their spread along).
//! 2. *Knots*: points are taken in turn; each that has no knot within reach becomes one. Every point
//!    goes to its nearest knot, and the knot moves to the mean of its points, which lies on the line
//!    even where points scatter to both sides.
//! 3. *Tree*: the shortest tree over knots no further apart than a few reaches (Kruskal, 1956). Its
//!    pieces are the separate paths; a piece's longest way (twice the farthest knot) is the path
//!    in order, and what branches off it is sideways scatter. A loop's tree misses just the loop's
//!    longest step, so the two ends of that way lie next to each other and the path closes.
//! 4. *Order*: every point of the piece is laid on the polygon through the knots, and points are
//!    averaged in bins along it. The result are means of given points: corners are not cut by the
//!    knots' spacing.
//!
//! Needs lines further apart than about two reaches; nearer, they are taken for one. A gap longer than
//! five reaches (or 8 mm) splits a path.

use super::measure;
use crate::geom::Sorted as _;
use crate::geom::{Line, Point};

/// Longest step between knots, mm, where the reach does not allow more.
const LONGEST_STEP: f64 = 8.0;
/// The same in reaches.
const STEP_REACHES: f64 = 5.0;
/// Places at which the reach is tried.
const TRIED: usize = 240;

/// A path read out of a cloud.
#[derive(Clone, Debug, Default)]
pub(super) struct Ordered {
    /// Means of the points, in order.
    pub(super) points: Vec<Point>,
    /// The order runs round.
    pub(super) closed: bool,
    /// Typical distance between them, mm.
    pub(super) step: f64,
}

/// The paths of a cloud, the largest first.
pub(super) fn order(points: &[Point], unit: f64) -> Vec<Ordered> {
    let reach = reach(points, unit);
    let (knots, owner) = knots(points, reach);
    let longest = (LONGEST_STEP * unit).max(STEP_REACHES * reach);
    let tree = tree(&knots, longest);
    let mut out: Vec<Ordered> = pieces(&tree)
        .into_iter()
        .filter(|way| way.len() > 2)
        .filter_map(|way| along(points, &knots, &owner, &way, (&tree, longest, reach, unit)))
        .collect();
    out.order_by(|a, b| measure::length(&b.points).total_cmp(&measure::length(&a.points)));
    out
}

// -------------------------------------------------------------------------------- neighbours

/// Points sorted into square cells, to find those near a place.
struct Cells {
    cell: f64,
    sorted: Vec<(i32, i32, u32)>,
}

impl Cells {
    fn new(points: &[Point], cell: f64) -> Self {
        let mut sorted: Vec<_> = points
            .iter()
            .enumerate()
            .map(|(i, &p)| {
                let (x, y) = Self::key(p, cell);
                (x, y, i as u32)
            })
            .collect();
        sorted.sort_unstable();
        Self { cell, sorted }
    }

    fn key(p: Point, cell: f64) -> (i32, i32) {
        let index = |v: f64| libm::floor(v / cell).clamp(-2e9, 2e9) as i32;
        (index(p.x), index(p.y))
    }

    /// Indices of the points in the cells around a place: all within one cell of it, and others.
    fn around(&self, p: Point) -> impl Iterator<Item = usize> + '_ {
        let (x, y) = Self::key(p, self.cell);
        (x - 1..=x + 1).flat_map(move |cx| {
            let from = self.sorted.partition_point(|k| (k.0, k.1) < (cx, y - 1));
            let to = self.sorted.partition_point(|k| (k.0, k.1) <= (cx, y + 1));
            let run = self.sorted.get(from..to).unwrap_or_default();
            run.iter().map(|k| k.2 as usize)
        })
    }
}

fn reach(points: &[Point], unit: f64) -> f64 {
    let span = measure::span(points);
    let mut r = unit;
    while r < 0.12 * span {
        if is_line(points, r) {
            return r;
        }
        r *= 1.3;
    }
    r
}

/// Whether the neighbours within `r` of a typical point lie along a line.
fn is_line(points: &[Point], r: f64) -> bool {
    let cells = Cells::new(points, r);
    let stride = points.len().div_ceil(TRIED).max(1);
    let mut ratios: Vec<f64> = points
        .iter()
        .step_by(stride)
        .map(|&p| flatness(points, &cells, p, r))
        .collect();
    measure::quantile(&mut ratios, 0.6) < 0.33
}

/// Spread across over spread along of the neighbours of `p`; 1 where there are too few.
fn flatness(points: &[Point], cells: &Cells, p: Point, r: f64) -> f64 {
    let (mut n, mut sx, mut sy, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for q in cells.around(p).filter_map(|i| points.get(i)) {
        let d = *q - p;
        if d.length_squared() <= r * r {
            n += 1.0;
            sx += d.x;
            sy += d.y;
            xx += d.x * d.x;
            xy += d.x * d.y;
            yy += d.y * d.y;
        }
    }
    if n < 4.0 {
        return 1.0;
    }
    let (xx, xy, yy) = (xx - sx * sx / n, xy - sx * sy / n, yy - sy * sy / n);
    let (mean, half) = (0.5 * (xx + yy), 0.5 * (xx - yy));
    let root = (half * half + xy * xy).sqrt();
    if mean + root <= 0.0 {
        return 1.0;
    }
    ((mean - root).max(0.0) / (mean + root)).sqrt()
}

// -------------------------------------------------------------------------------- knots and tree

/// Knots at most a reach from every point, and the knot of each point.
fn knots(points: &[Point], reach: f64) -> (Vec<Point>, Vec<usize>) {
    let seeds = seeds(points, reach);
    let cells = Cells::new(&seeds, reach);
    let mut sums = vec![(0.0, 0.0, 0.0); seeds.len()];
    let owner = points
        .iter()
        .map(|&p| {
            let own = nearest(&seeds, &cells, p);
            if let Some(s) = sums.get_mut(own) {
                *s = (s.0 + p.x, s.1 + p.y, s.2 + 1.0);
            }
            own
        })
        .collect();
    let mean = |(&(x, y, n), &seed): (&(f64, f64, f64), &Point)| {
        if n > 0.0 {
            Point::new(x / n, y / n)
        } else {
            seed
        }
    };
    (sums.iter().zip(&seeds).map(mean).collect(), owner)
}

/// Points of which no two are within reach of each other, and every point is within reach of one.
fn seeds(points: &[Point], reach: f64) -> Vec<Point> {
    let cells = Cells::new(points, reach);
    let mut covered = vec![false; points.len()];
    let mut seeds = Vec::new();
    for (i, &p) in points.iter().enumerate() {
        if covered.get(i) == Some(&true) {
            continue;
        }
        seeds.push(p);
        for j in cells.around(p) {
            if let (Some(c), Some(q)) = (covered.get_mut(j), points.get(j))
                && q.distance(p) <= reach
            {
                *c = true;
            }
        }
    }
    seeds
}

fn nearest(seeds: &[Point], cells: &Cells, p: Point) -> usize {
    let near = cells
        .around(p)
        .filter_map(|k| Some((k, seeds.get(k)?.distance(p))));
    near.fold((0, f64::MAX), |best, n| if n.1 < best.1 { n } else { best })
        .0
}

/// For each knot its neighbours in the tree, and how far they are, mm.
type Tree = Vec<Vec<(usize, f64)>>;

/// Neighbours of each knot in the shortest tree (a forest where steps would be too long).
fn tree(knots: &[Point], longest: f64) -> Tree {
    let cells = Cells::new(knots, longest);
    let mut edges: Vec<(f64, usize, usize)> = Vec::new();
    for (i, &p) in knots.iter().enumerate() {
        let mut near: Vec<(f64, usize, usize)> = cells
            .around(p)
            .filter(|&j| j != i)
            .filter_map(|j| Some((knots.get(j)?.distance(p), i.min(j), i.max(j))))
            .filter(|e| e.0 <= longest)
            .collect();
        near.order_by(|a, b| a.0.total_cmp(&b.0));
        // Within a few reaches there are few knots; a tree needs no more than the nearest of them.
        near.truncate(12);
        edges.extend(near);
    }
    edges.order_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    edges.dedup();
    let mut set: Vec<usize> = (0..knots.len()).collect();
    let mut tree = vec![Vec::new(); knots.len()];
    for (d, i, j) in edges {
        let (a, b) = (root(&mut set, i), root(&mut set, j));
        if a == b {
            continue;
        }
        if let Some(s) = set.get_mut(a.max(b)) {
            *s = a.min(b);
        }
        for (from, to) in [(i, j), (j, i)] {
            if let Some(t) = tree.get_mut(from) {
                t.push((to, d));
            }
        }
    }
    tree
}

fn root(set: &mut [usize], mut i: usize) -> usize {
    while let Some(&up) = set.get(i) {
        if up == i {
            break;
        }
        // Halve the way for the next one who asks.
        let above = set.get(up).copied().unwrap_or(up);
        if let Some(s) = set.get_mut(i) {
            *s = above;
        }
        i = above;
    }
    i
}

/// The longest way through each piece of the forest.
fn pieces(tree: &Tree) -> Vec<Vec<usize>> {
    let mut seen = vec![false; tree.len()];
    let mut out = Vec::new();
    for start in 0..tree.len() {
        if seen.get(start) == Some(&true) {
            continue;
        }
        let (far, _) = farthest(tree, start, Some(&mut seen));
        let (end, before) = farthest(tree, far, None);
        let mut way = vec![end];
        let mut i = end;
        while let Some(&Some(up)) = before.get(i) {
            way.push(up);
            i = up;
        }
        out.push(way);
    }
    out
}

/// The knot farthest along the tree from `start`, and the way each knot was come to.
fn farthest(
    tree: &Tree,
    start: usize,
    mut seen: Option<&mut Vec<bool>>,
) -> (usize, Vec<Option<usize>>) {
    let mut before = vec![None; tree.len()];
    let mut best = (0.0, start);
    let mut stack = vec![(start, usize::MAX, 0.0)];
    while let Some((i, from, way)) = stack.pop() {
        if let Some(s) = seen.as_deref_mut().and_then(|s| s.get_mut(i)) {
            *s = true;
        }
        if way > best.0 {
            best = (way, i);
        }
        for &(j, d) in tree.get(i).map(Vec::as_slice).unwrap_or_default() {
            if j != from {
                if let Some(b) = before.get_mut(j) {
                    *b = Some(i);
                }
                stack.push((j, i, way + d));
            }
        }
    }
    (best.1, before)
}

// -------------------------------------------------------------------------------- order

/// The way with its branches: the place of every knot along it, and a branch longer than the reach
/// gone out to at its tip. Such a branch is a sharp corner whose two sides lie within reach of each
/// other, so that the tree ran across before the tip.
fn with_tips(knots: &[Point], way: &[usize], tree: &Tree, reach: f64) -> (Vec<usize>, Vec<usize>) {
    let mut on = vec![false; knots.len()];
    for &k in way {
        if let Some(o) = on.get_mut(k) {
            *o = true;
        }
    }
    let at = |k: usize| knots.get(k).copied().unwrap_or_default();
    let mut out: Vec<usize> = Vec::with_capacity(way.len());
    let mut place = vec![usize::MAX; knots.len()];
    for (n, &k) in way.iter().enumerate() {
        let mut branch = Vec::new();
        let mut tip = (0.0, k);
        let mut stack = vec![(k, 0.0)];
        while let Some((i, far)) = stack.pop() {
            if far > tip.0 {
                tip = (far, i);
            }
            for &(j, d) in tree.get(i).map(Vec::as_slice).unwrap_or_default() {
                if let Some(o) = on.get_mut(j)
                    && !*o
                {
                    *o = true;
                    branch.push(j);
                    stack.push((j, far + d));
                }
            }
        }
        let mut set = |i: usize, to: usize| {
            if let Some(p) = place.get_mut(i) {
                *p = to;
            }
        };
        let before = n.checked_sub(1).and_then(|n| way.get(n)).map(|&i| at(i));
        let after = way.get(n + 1).map(|&i| at(i));
        let detour =
            |to: Option<Point>| to.map_or(f64::MAX, |p| p.distance(at(tip.1)) - p.distance(at(k)));
        if tip.0 <= 1.2 * reach {
            set(k, out.len());
            branch.iter().for_each(|&i| set(i, out.len()));
            out.push(k);
        } else if detour(before) < detour(after) {
            branch.iter().for_each(|&i| set(i, out.len()));
            set(k, out.len() + 1);
            out.extend([tip.1, k]);
        } else {
            set(k, out.len());
            branch.iter().for_each(|&i| set(i, out.len() + 1));
            out.extend([k, tip.1]);
        }
    }
    (out, place)
}

/// Means of the points of one way's knots, in order along the polygon of the knots.
fn along(
    points: &[Point],
    knots: &[Point],
    owner: &[usize],
    way: &[usize],
    (tree, longest, reach, unit): (&Tree, f64, f64, f64),
) -> Option<Ordered> {
    let (way, place) = with_tips(knots, way, tree, reach);
    let mut polygon: Vec<Point> = way.iter().filter_map(|&k| knots.get(k).copied()).collect();
    let (&first, &last) = (polygon.first()?, polygon.last()?);
    let span = measure::span(&polygon);
    let around = measure::length(&polygon);
    let closed = first.distance(last) < (0.2 * span).max(longest)
        && around > 2.0 * longest
        && 2.0 * measure::area(&polygon).abs() > 0.04 * span * around;
    if closed {
        polygon.push(first);
    }
    let cum = measure::lengths(&polygon);
    let total = cum.last().copied()?;
    let mut laid: Vec<(f64, Point)> = points
        .iter()
        .zip(owner)
        .filter_map(|(&p, &own)| {
            let k = *place.get(own)?;
            (k != usize::MAX).then(|| (lay(&polygon, &cum, k, p, closed), p))
        })
        .collect();
    laid.order_by(|a, b| a.0.total_cmp(&b.0));
    // Bins of about a station, and of some three points where points are sparse or scatter.
    let bin = (unit).max(2.0 * total / laid.len().max(1) as f64);
    let mut means: Vec<Point> = Vec::new();
    for same in laid.chunk_by(|a, b| libm::floor(a.0 / bin) == libm::floor(b.0 / bin)) {
        let n = same.len() as f64;
        let (x, y) = same
            .iter()
            .fold((0.0, 0.0), |s, q| (s.0 + q.1.x, s.1 + q.1.y));
        means.push(Point::new(x / n, y / n));
    }
    let step = measure::typical_step(&means);
    (means.len() > 2).then_some(Ordered {
        points: means,
        closed,
        step,
    })
}

/// Length along the polygon at the place nearest to `p`, among the steps around knot `k`.
fn lay(polygon: &[Point], cum: &[f64], k: usize, p: Point, closed: bool) -> f64 {
    let steps = polygon.len().saturating_sub(1).max(1);
    let mut best = (f64::MAX, 0.0);
    for back in 0..4 {
        let i = if closed {
            (k + steps + 1 - back) % steps
        } else {
            match (k + 1).checked_sub(back) {
                Some(i) if i < steps => i,
                _ => continue,
            }
        };
        let (Some(&a), Some(&b)) = (polygon.get(i), polygon.get(i + 1)) else {
            continue;
        };
        let step = Line { from: a, to: b };
        let (near, t) = step.nearest(p);
        let off = near.distance(p);
        if off < best.0 {
            let before = cum.get(i).copied().unwrap_or_default();
            best = (off, before + t * step.length());
        }
    }
    best.1
}
