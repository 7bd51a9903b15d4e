//! How well a reading meets a known truth.
//!
//! *Whole* means exactly the right kinds of edges in the right cyclic order (either direction), in
//! one closed loop and nothing else. The geometry of a whole reading is judged by its distance
//! to the true outline, beside that of a robust fit which is told everything but the numbers.

use crate::shapes::{Case, interior, kinds};
use core::f64::consts::{FRAC_PI_2, PI};
use trued::{Edge, Outline, Path, Point, Refusal, Role, SizeKind, Trace, Trued};

/// What came of one case.
#[derive(Clone, Debug, Default)]
pub struct Score {
    /// Whole.
    pub whole: bool,
    /// Kinds of edges that came out, loop by loop, or the refusal.
    pub got: String,
    /// Distance to the true outline, root mean square, mm; whole readings only.
    pub rms: Option<f64>,
    /// The same of the told fit.
    pub told: Option<f64>,
    /// Corners meant square, and how many came out exactly so (within 0.01°).
    pub square: Tally,
    /// Corners 7° or more off square, and how many were left alone (not within 0.01° of square).
    pub odd: Tally,
    /// Corners 4° to 7° off square, and how many were left alone.
    pub near: Tally,
    /// Free sizes with their ±, by kind, and how many held the truth.
    pub sizes: Vec<(SizeKind, bool)>,
    /// Sizes that are whole mm in truth, and how many came out so exactly.
    pub whole_sizes: Tally,
    /// The same sizes of the told fit, rounded: what is to be had of the samples.
    pub told_whole_sizes: Tally,
    /// Those of them that came out otherwise: what was true, what came out and the told fit's, mm.
    pub missed_sizes: Vec<(SizeKind, [f64; 3])>,
    /// Seconds the reading took.
    pub seconds: f64,
}

/// So many of so many.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Of these.
    pub of: usize,
    /// So many.
    pub hit: usize,
}

impl Tally {
    /// Counts one more.
    pub fn add(&mut self, hit: bool) {
        self.of += 1;
        self.hit += usize::from(hit);
    }

    /// Adds another tally.
    pub fn merge(&mut self, other: Self) {
        self.of += other.of;
        self.hit += other.hit;
    }

    /// Share in percent; NaN of none.
    #[must_use]
    pub fn percent(self) -> f64 {
        100.0 * self.hit as f64 / self.of as f64
    }
}

/// Scores a reading of a case.
#[must_use]
pub fn score(case: &Case, trace: &Trace, result: &Result<Trued, Refusal>) -> Score {
    let trued = match result {
        Ok(t) => t,
        Err(e) => {
            return Score {
                got: format!("refused: {e}"),
                ..Score::default()
            };
        }
    };
    let mut s = Score {
        got: described(&trued.outline),
        ..Score::default()
    };
    let [only] = trued.outline.loops.as_slice() else {
        return s;
    };
    if only.role == Role::Open || !only.path.is_closed() || !trued.outline.marks.is_empty() {
        return s;
    }
    let Some(matching) = matching(&case.path, &only.path) else {
        return s;
    };
    s.meet(case, &only.path, &matching);
    let told = told_fit(case, trace);
    s.told = Some(rms_to(&told, &case.path));
    sizes(case, trued, &told, &matching, &mut s);
    s
}

/// Scores a closed path alone, without its sizes and without a told fit; nothing where it is not whole.
#[must_use]
pub fn of_path(case: &Case, path: &Path) -> Option<Score> {
    let matching = path.is_closed().then(|| matching(&case.path, path))??;
    let mut s = Score::default();
    s.meet(case, path, &matching);
    Some(s)
}

impl Score {
    /// What is seen of a whole path beside the true one.
    fn meet(&mut self, case: &Case, path: &Path, matching: &[usize]) {
        self.whole = true;
        self.rms = Some(rms_to(path, &case.path));
        corners(case, path, matching, self);
    }
}

/// The kinds of edges of all loops and the number of marks, in a few letters.
#[must_use]
pub fn described(outline: &Outline) -> String {
    let mut parts: Vec<String> = outline
        .loops
        .iter()
        .map(|l| {
            let open = if l.role == Role::Open { " open" } else { "" };
            format!("{}{open}", kinds(&l.path))
        })
        .collect();
    if !outline.marks.is_empty() {
        parts.push(format!("{} marks", outline.marks.len()));
    }
    parts.join(" + ")
}

/// Which true edge each read edge is, or `None` when kinds or order differ. Of several ways round,
/// the one whose edges lie nearest.
fn matching(truth: &Path, read: &Path) -> Option<Vec<usize>> {
    let (t, r) = (truth.edges(), read.edges());
    let n = t.len();
    if r.len() != n {
        return None;
    }
    let same = |a: &Edge, b: &Edge| matches!(a, Edge::Line(_)) == matches!(b, Edge::Line(_));
    let mut best: Option<(f64, Vec<usize>)> = None;
    for shift in 0..n {
        for forward in [true, false] {
            let map: Vec<usize> = (0..n)
                .map(|i| {
                    if forward {
                        (i + shift) % n
                    } else {
                        (shift + n - i) % n
                    }
                })
                .collect();
            if !map.iter().zip(&r).all(|(&j, e)| same(&t[j], e)) {
                continue;
            }
            let cost: f64 = map
                .iter()
                .zip(&r)
                .map(|(&j, e)| t[j].point_at(0.5).distance(e.point_at(0.5)))
                .sum();
            if best.as_ref().is_none_or(|(c, _)| cost < *c) {
                best = Some((cost, map));
            }
        }
    }
    best.map(|(_, map)| map)
}

/// Distance from points along `path` to `truth`, root mean square, mm.
#[must_use]
pub fn rms_to(path: &Path, truth: &Path) -> f64 {
    let edges = truth.edges();
    let (mut sum, mut count) = (0.0, 0.0);
    for edge in path.edges() {
        // A fit gone wild may be kilometres long; it need not be walked in half millimetres.
        let n = libm::ceil(edge.length() / 0.5).clamp(1.0, 2000.0) as usize;
        for i in 0..n {
            let p = edge.point_at((i as f64 + 0.5) / n as f64);
            let d = edges
                .iter()
                .map(|e| e.distance(p))
                .fold(f64::INFINITY, f64::min);
            let weight = edge.length() / n as f64;
            sum += weight * d * d;
            count += weight;
        }
    }
    libm::sqrt(sum / count)
}

fn corners(case: &Case, read: &Path, map: &[usize], s: &mut Score) {
    let (t, r) = (case.path.edges(), read.edges());
    let n = t.len();
    let line = |e: &Edge| matches!(e, Edge::Line(_));
    for i in 0..n {
        let j = (i + n - 1) % n;
        if n < 2 || !line(&r[i]) || !line(&r[j]) {
            continue;
        }
        // The corner between the same two edges of the truth, whichever comes first there.
        let (a, b) = (map[j], map[i]);
        let at = if (a + 1) % n == b { b } else { a };
        let true_off = (interior(&t, at).min(2.0 * PI - interior(&t, at)) - FRAC_PI_2).abs();
        let got = interior(&r, i);
        let off = (got.min(2.0 * PI - got) - FRAC_PI_2).abs().to_degrees();
        let squared = off < 0.01;
        let true_off = true_off.to_degrees();
        if true_off < 1e-6 {
            s.square.add(squared);
        } else if true_off < 7.0 {
            s.near.add(!squared);
        } else {
            s.odd.add(!squared);
        }
    }
}

/// The true value of a size between read edges that are the given true edges.
fn true_size(t: &[Edge], kind: SizeKind, edges: &[usize]) -> Option<f64> {
    match (kind, edges) {
        (SizeKind::Length, [i]) => crate::invariants::over_all(t, *i, true),
        (SizeKind::Diameter, [i]) => match t.get(*i)? {
            Edge::Arc(a) => Some(2.0 * a.radius),
            Edge::Line(_) => None,
        },
        (SizeKind::Radius, [i]) => match t.get(*i)? {
            Edge::Arc(a) => Some(a.radius),
            Edge::Line(_) => None,
        },
        (SizeKind::Distance, [i, j]) => {
            let (a, b) = (t.get(*i)?, t.get(*j)?);
            let d = a.direction_at(0.5);
            Some((b.point_at(0.5) - a.point_at(0.5)).cross(d).abs())
        }
        (SizeKind::Angle, [i, j]) => {
            let n = t.len();
            let at = if (i + 1) % n == *j { *j } else { *i };
            let clockwise = Path::area(&closed(t)) < 0.0;
            let angle = interior(t, at);
            Some(if clockwise { 2.0 * PI - angle } else { angle })
        }
        _ => None,
    }
}

fn closed(edges: &[Edge]) -> Path {
    Path::Chain(trued::Chain {
        corners: edges.iter().map(Edge::from).collect(),
        shapes: edges
            .iter()
            .map(|e| match e {
                Edge::Line(_) => trued::Shape::Line,
                Edge::Arc(a) => trued::Shape::Arc { sweep: a.sweep },
            })
            .collect(),
    })
}

fn sizes(case: &Case, trued: &Trued, told: &Path, map: &[usize], s: &mut Score) {
    let (t, told) = (case.path.edges(), told.edges());
    for size in &trued.report.sizes {
        let edges: Option<Vec<usize>> = size.edges.iter().map(|&i| map.get(i).copied()).collect();
        let Some(edges) = edges else { continue };
        let Some(truth) = true_size(&t, size.kind, &edges) else {
            continue;
        };
        if !size.fixed {
            let inside = (size.value - truth).abs() <= size.plus_minus;
            s.sizes.push((size.kind, inside));
        }
        if size.kind != SizeKind::Angle && (truth - libm::round(truth)).abs() < 1e-6 {
            let exact = (size.value - truth).abs() < 1e-6;
            s.whole_sizes.add(exact);
            let told = true_size(&told, size.kind, &edges);
            if !exact {
                let told = told.unwrap_or(f64::NAN);
                s.missed_sizes.push((size.kind, [truth, size.value, told]));
            }
            s.told_whole_sizes
                .add(told.is_some_and(|v| libm::round(v) == libm::round(truth)));
        }
    }
}

// ---------------------------------------------------------------- the fit that is told everything

/// A robust least-squares fit of the family's own numbers to all samples: Gauss–Newton with
/// numeric derivatives, damped (Levenberg 1944, Marquardt 1963), weights by Huber (1964).
#[must_use]
pub fn told_fit(case: &Case, trace: &Trace) -> Path {
    let samples: Vec<Point> = trace
        .strokes
        .iter()
        .flat_map(|s| s.points.clone())
        .collect();
    let mut x = case.numbers.clone();
    let mut damping = 1e-3;
    let mut r = residuals(case, &x, &samples);
    for _ in 0..12 {
        let w = huber_weights(&r);
        let cost = weighted(&r, &w);
        let j = jacobian(case, &x, &samples, &r);
        let mut done = true;
        for _ in 0..6 {
            let Some(step) = damped_step(&j, &r, &w, damping) else {
                damping *= 10.0;
                continue;
            };
            let y: Vec<f64> = x.iter().zip(&step).map(|(a, b)| a - b).collect();
            let ry = residuals(case, &y, &samples);
            if weighted(&ry, &w) < cost {
                let size = step.iter().fold(0.0f64, |m, v| m.max(v.abs()));
                (x, r) = (y, ry);
                damping = (damping * 0.3).max(1e-9);
                done = size < 1e-5;
                break;
            }
            damping *= 10.0;
        }
        if done {
            break;
        }
    }
    case.with_numbers(&x)
}

/// Signed distances of the samples to the outline of some numbers.
fn residuals(case: &Case, numbers: &[f64], samples: &[Point]) -> Vec<f64> {
    let edges = case.with_numbers(numbers).edges();
    samples
        .iter()
        .map(|&p| {
            let mut best = (f64::INFINITY, 0.0);
            for e in &edges {
                let (at, t) = e.nearest(p);
                let d = at.distance(p);
                if d < best.0 {
                    best = (d, e.direction_at(t).cross(p - at));
                }
            }
            best.0.copysign(best.1)
        })
        .collect()
}

fn huber_weights(r: &[f64]) -> Vec<f64> {
    let mut sizes: Vec<f64> = r.iter().map(|v| v.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let scale = 1.4826 * sizes.get(sizes.len() / 2).copied().unwrap_or(1.0);
    let k = 1.345 * scale.max(1e-6);
    r.iter()
        .map(|v| (k / v.abs().max(1e-12)).min(1.0))
        .collect()
}

fn weighted(r: &[f64], w: &[f64]) -> f64 {
    r.iter().zip(w).map(|(v, w)| w * v * v).sum()
}

fn jacobian(case: &Case, x: &[f64], samples: &[Point], r: &[f64]) -> Vec<Vec<f64>> {
    (0..x.len())
        .map(|k| {
            let h = 1e-6 * x[k].abs().max(1.0);
            let mut y = x.to_vec();
            y[k] += h;
            let ry = residuals(case, &y, samples);
            // A sample on the far side of a kink flips its sign: its derivative is left out.
            let slope = |(a, b): (&f64, &f64)| {
                let d = (b - a) / h;
                if d.abs() > 1e4 { 0.0 } else { d }
            };
            r.iter().zip(&ry).map(slope).collect()
        })
        .collect()
}

/// Solves the damped normal equations by elimination with pivoting.
fn damped_step(j: &[Vec<f64>], r: &[f64], w: &[f64], damping: f64) -> Option<Vec<f64>> {
    let n = j.len();
    let dot =
        |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).zip(w).map(|((a, b), w)| a * b * w).sum() };
    let mut m: Vec<Vec<f64>> = (0..n)
        .map(|i| {
            let mut row: Vec<f64> = (0..n).map(|k| dot(&j[i], &j[k])).collect();
            // A number the outline does not depend on (a circle has no turn) must not make it singular.
            row[i] = row[i] * (1.0 + damping) + 1e-9;
            row.push(dot(&j[i], r));
            row
        })
        .collect();
    solve(&mut m)
}

/// Solves a square system given as rows with their right side; `None` when it is singular.
pub fn solve(m: &mut [Vec<f64>]) -> Option<Vec<f64>> {
    let n = m.len();
    for c in 0..n {
        let p = (c..n).max_by(|&a, &b| m[a][c].abs().total_cmp(&m[b][c].abs()))?;
        m.swap(c, p);
        if m[c][c].abs() < 1e-12 {
            return None;
        }
        for i in c + 1..n {
            let f = m[i][c] / m[c][c];
            let pivot = m[c].clone();
            for (a, b) in m[i].iter_mut().zip(&pivot).skip(c) {
                *a -= f * b;
            }
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let s: f64 = (i + 1..n).map(|k| m[i][k] * x[k]).sum();
        x[i] = (m[i][n] - s) / m[i][i];
    }
    Some(x)
}
