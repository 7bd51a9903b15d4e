//! Whether a reading is the outline that was traced, and how far from it it lies.

use trued::{Edge, Path, Point};

/// The same kinds of edges in the same cyclic order, either way round. (That they lie near is said by
/// [`furthest`].)
#[must_use]
pub fn is_whole(truth: &Path, read: &Path) -> bool {
    let kinds = |p: &Path| -> Vec<bool> {
        p.edges()
            .iter()
            .map(|e| matches!(e, Edge::Line(_)))
            .collect()
    };
    let (t, r) = (kinds(truth), kinds(read));
    let n = t.len();
    if !read.is_closed() || r.len() != n {
        return false;
    }
    let turned = |shift: usize, way: bool| {
        (0..n).all(|i| {
            let j = if way { i + shift } else { shift + n - i };
            t[j % n] == r[i]
        })
    };
    (0..n).any(|s| turned(s, true) || turned(s, false))
}

/// The greatest distance of either outline from the other, mm.
#[must_use]
pub fn furthest(truth: &Path, read: &Path) -> f64 {
    most(read, truth).max(most(truth, read))
}

/// The same of several paths that together are read.
#[must_use]
pub fn furthest_of_all(truth: &Path, read: &[&Path]) -> f64 {
    let missed = along(truth).into_iter().map(|p| {
        let off = read.iter().map(|path| nearest(path, p));
        off.fold(f64::INFINITY, f64::min)
    });
    let beside = read.iter().map(|path| most(path, truth));
    missed.chain(beside).fold(0.0, f64::max)
}

/// Distance from points along `path` to `truth`, root mean square, mm.
#[must_use]
pub fn rms(path: &Path, truth: &Path) -> f64 {
    let squares: Vec<f64> = along(path)
        .iter()
        .map(|p| nearest(truth, *p))
        .map(|d| d * d)
        .collect();
    (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
}

fn along(path: &Path) -> Vec<Point> {
    let mut out = Vec::new();
    for e in path.edges() {
        let n = libm::ceil(e.length() / 1.0).clamp(1.0, 4000.0) as usize;
        out.extend((0..n).map(|i| e.point_at(i as f64 / n as f64)));
    }
    out
}

fn nearest(path: &Path, p: Point) -> f64 {
    let all = path.edges();
    all.iter()
        .map(|e| e.distance(p))
        .fold(f64::INFINITY, f64::min)
}

fn most(from: &Path, to: &Path) -> f64 {
    let edges = to.edges();
    along(from)
        .iter()
        .map(|p| {
            edges
                .iter()
                .map(|e| e.distance(*p))
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
}

/// How many tangent arcs and lines follow a curve within `within` mm: the longest that fit, one after the
/// other. (Not the least there is: a greedy count is at most one more on a curve that closes.)
#[must_use]
pub fn least_chain(points: &[Point], within: f64) -> usize {
    let n = points.len();
    let (mut at, mut count) = (0, 0);
    while at < n {
        let mut reach = 2;
        // An arc through both ends and the middle of the stretch.
        let fits = |to: usize| {
            let (a, m, b) = (
                points[at % n],
                points[(at + to / 2) % n],
                points[(at + to) % n],
            );
            (1..to).all(|k| off_arc(a, m, b, points[(at + k) % n]) < within)
        };
        while reach < n && fits(reach) {
            reach += (reach / 8).max(1);
        }
        while reach > 2 && !fits(reach) {
            reach -= 1;
        }
        at += reach;
        count += 1;
    }
    count
}

fn off_arc(a: Point, m: Point, b: Point, p: Point) -> f64 {
    let (u, v) = (m - a, b - a);
    let cross = 2.0 * u.cross(v);
    if cross.abs() < 1e-6 * v.length_squared() {
        return v.unit().map_or(0.0, |w| w.cross(p - a).abs());
    }
    let (uu, vv) = (u.length_squared(), v.length_squared());
    let c = a + (u.left() * vv - v.left() * uu) * (1.0 / cross);
    (p.distance(c) - a.distance(c)).abs()
}
