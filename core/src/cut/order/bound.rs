//! How short any order could be at best: Held and Karp's 1-tree bound (1970), without the precedence, so
//! the true best may lie above it.
//!
//! A tour of all stops is a spanning tree with one edge more. The least tree is therefore no longer than
//! any tour; prices on the stops, raised where the tree branches and lowered where it ends, push it
//! towards a tour and the bound upwards.

use super::Stop;
use crate::geom::Point;

/// No order whatever can travel less than this, mm.
#[must_use]
pub fn bound(stops: &[Stop], home: Point) -> f64 {
    let n = stops.len();
    if n == 0 {
        return 0.0;
    }
    let rounds = (8_000_000 / (n * n)).clamp(1, 60);
    let ways = Ways::new(stops, home);
    let way = |i: usize, j: usize| ways.between(i, j);
    let mut weight = vec![0.0_f64; n + 1];
    let mut best = 0.0_f64;
    let mut step = 0.0;
    for round in 0..rounds {
        let (tree, degree) =
            spanning_tree(n + 1, &|i, j| way(i, j) + at(&weight, i) + at(&weight, j));
        // A ring is made of the path by a node without cost, tied to home and to the last stop.
        let last = weight.iter().skip(1).copied().fold(f64::INFINITY, f64::min);
        let sum: f64 = weight.iter().sum();
        let value = tree + at(&weight, 0) + last - 2.0 * sum;
        best = best.max(value);
        if round == 0 {
            step = 0.5 * value / (n + 1) as f64;
        }
        let end = weight
            .iter()
            .skip(1)
            .position(|w| *w == last)
            .map(|i| i + 1);
        for (i, (w, d)) in weight.iter_mut().zip(&degree).enumerate() {
            let ring = usize::from(i == 0) + usize::from(Some(i) == end);
            *w += step * (*d as f64 + ring as f64 - 2.0);
        }
        step *= 0.94;
    }
    best
}

/// Most stops whose legs are all worked out beforehand (18 MB).
const MOST_WAYS: usize = 1500;

/// Lengths of legs between nodes: node 0 is home, node i + 1 stop i. A leg is at least the shorter
/// of its two ways.
struct Ways<'a> {
    stops: &'a [Stop],
    home: Point,
    /// Row by row, for as many stops as are worth it; else empty.
    table: Vec<f64>,
}

impl<'a> Ways<'a> {
    fn new(stops: &'a [Stop], home: Point) -> Self {
        let mut ways = Self {
            stops,
            home,
            table: Vec::new(),
        };
        let n = stops.len() + 1;
        if n <= MOST_WAYS {
            let all = (0..n * n).map(|k| ways.measured(k / n, k % n));
            let all: Vec<f64> = all.collect();
            ways.table = all;
        }
        ways
    }

    fn between(&self, i: usize, j: usize) -> f64 {
        let k = i * (self.stops.len() + 1) + j;
        match self.table.get(k) {
            Some(&way) => way,
            None => self.measured(i, j),
        }
    }

    fn measured(&self, i: usize, j: usize) -> f64 {
        let stop = |k: usize| k.checked_sub(1).and_then(|k| self.stops.get(k));
        match (stop(i), stop(j)) {
            (Some(a), Some(b)) => a.end.distance(b.start).min(b.end.distance(a.start)),
            (None, Some(s)) | (Some(s), None) => self.home.distance(s.start),
            (None, None) => 0.0,
        }
    }
}

fn at(weight: &[f64], i: usize) -> f64 {
    weight.get(i).copied().unwrap_or(0.0)
}

/// Length of the least spanning tree and the degree of each node (Prim 1957).
fn spanning_tree(n: usize, way: &dyn Fn(usize, usize) -> f64) -> (f64, Vec<usize>) {
    let mut nearest: Vec<(f64, usize)> = (0..n).map(|j| (way(0, j), 0)).collect();
    let mut left: Vec<usize> = (1..n).collect();
    let mut degree = vec![0; n];
    let mut length = 0.0;
    while !left.is_empty() {
        let key = |j: usize| nearest.get(j).map_or(f64::INFINITY, |x| x.0);
        let Some(k) = (0..left.len()).min_by(|&a, &b| {
            let of = |k: usize| left.get(k).map_or(f64::INFINITY, |&j| key(j));
            of(a).total_cmp(&of(b))
        }) else {
            break;
        };
        let next = left.swap_remove(k);
        let (w, from) = nearest.get(next).copied().unwrap_or((0.0, 0));
        length += w;
        for i in [next, from] {
            degree.iter_mut().skip(i).take(1).for_each(|d| *d += 1);
        }
        for &j in &left {
            let w = way(next, j);
            if let Some(x) = nearest.get_mut(j).filter(|x| w < x.0) {
                *x = (w, next);
            }
        }
    }
    (length, degree)
}
