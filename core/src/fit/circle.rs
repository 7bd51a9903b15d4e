//! The circle nearest to a run of points.
//!
//! Two fits. From moments alone, in constant time: Taubin's algebraic fit (IEEE PAMI 13, 1991) by
//! Newton's iteration on its characteristic polynomial, as set out by Chernov (*Circular and linear
//! regression*, 2010). A plain linear circle fit is a quarter low in radius on short arcs; Taubin's
//! is not. And the geometric (orthogonal) fit, Gauss–Newton from there with Levenberg–Marquardt
//! damping (Gander, Golub, Strebel, BIT 34, 1994), where the last digit counts.
//!
//! Fails (returns `None`) where the points are on one line to rounding: there is no circle then.
#![allow(
    clippy::indexing_slicing,
    reason = "three equations in three numbers: arrays of fixed size, loops of fixed length"
)]

use crate::geom::{Central, Moments, Point, Vec2};

/// A fitted circle with the mean square distance of the points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircleFit {
    /// Centre.
    pub center: Point,
    /// Radius, mm.
    pub radius: f64,
    /// Mean square distance, mm² (for the moment fit its first-order estimate).
    pub mean_square: f64,
}

/// Taubin's circle from central moments: centre as a step from the run's origin, radius, mean
/// square algebraic distance scaled to mm².
#[must_use]
pub fn taubin(c: &Central) -> Option<(Vec2, f64, f64)> {
    let mz = c.xx + c.yy;
    if mz <= 0.0 {
        return None;
    }
    let cov = c.xx * c.yy - c.xy * c.xy;
    let var_z = c.zz - mz * mz;
    let a3 = 4.0 * mz;
    let a2 = -3.0 * mz * mz - c.zz;
    let a1 = var_z * mz + 4.0 * cov * mz - c.xz * c.xz - c.yz * c.yz;
    let a0 = c.xz * (c.xz * c.yy - c.yz * c.xy) + c.yz * (c.yz * c.xx - c.xz * c.xy) - var_z * cov;
    let (mut x, mut y) = (0.0, a0);
    for _ in 0..24 {
        let slope = a1 + x * (2.0 * a2 + 3.0 * a3 * x);
        let next = x - y / slope;
        if next == x || !next.is_finite() {
            break;
        }
        let value = a0 + next * (a1 + next * (a2 + next * a3));
        if value.abs() >= y.abs() {
            break;
        }
        let step = (next - x).abs();
        x = next;
        y = value;
        // Newton's steps square their error: the next would change nothing.
        if step < 1e-9 * x.abs() {
            break;
        }
    }
    let det = x * x - x * mz + cov;
    if det.abs() <= 1e-14 * mz * mz {
        return None;
    }
    let u = Vec2::new(
        (c.xz * (c.yy - x) - c.yz * c.xy) / (2.0 * det),
        (c.yz * (c.xx - x) - c.xz * c.xy) / (2.0 * det),
    );
    let r2 = u.length_squared() + mz;
    // Mean of (|p - c|² - R²)², to first order 4R² times the mean square distance.
    let f = c.zz - mz * mz - 4.0 * (u.x * c.xz + u.y * c.yz)
        + 4.0 * (u.x * u.x * c.xx + 2.0 * u.x * u.y * c.xy + u.y * u.y * c.yy);
    let misfit = (f / (4.0 * r2)).max(0.0);
    (r2.is_finite() && misfit.is_finite()).then(|| (c.mean + u, r2.sqrt(), misfit))
}

/// Most undamped steps at the end of a geometric fit.
const LAST_STEPS: usize = 40;

/// The geometric circle fit of unweighted points: least sum of squared distances.
#[must_use]
pub fn fit_circle(points: &[Point]) -> Option<CircleFit> {
    let origin = *points.first()?;
    let (center, radius, _) = taubin(&Moments::of(points, origin).central())?;
    let (mut p, mut r) = (origin + center, radius);
    let mut damping = 1e-6;
    let mut sum = sum_of_squares(points, p, r);
    for _ in 0..100 {
        let Some([dx, dy, dr]) = step(points, p, r, damping) else {
            break;
        };
        let (q, s) = (Point::new(p.x + dx, p.y + dy), r + dr);
        let next = sum_of_squares(points, q, s);
        let small = (dx * dx + dy * dy + dr * dr).sqrt() <= 1e-15 * (r + p.to_vec().length());
        if next <= sum {
            (p, r, sum) = (q, s, next);
            damping = (damping * 0.1).max(1e-15);
        } else {
            damping *= 10.0;
        }
        if small || damping > 1e12 {
            break;
        }
    }
    // The sum is blind to steps whose square is below its rounding: the last digits come from steps that
    // grow ever smaller.
    let mut last = 1e-5 * r;
    for _ in 0..LAST_STEPS {
        let Some([dx, dy, dr]) = step(points, p, r, 0.0) else {
            break;
        };
        let size = (dx * dx + dy * dy + dr * dr).sqrt();
        if size.is_nan() || size >= last {
            break;
        }
        (p, r, last) = (Point::new(p.x + dx, p.y + dy), r + dr, size);
    }
    let n = points.len() as f64;
    let fit = CircleFit {
        center: p,
        radius: r,
        mean_square: sum_of_squares(points, p, r) / n,
    };
    (r.is_finite() && p.is_finite()).then_some(fit)
}

fn sum_of_squares(points: &[Point], c: Point, r: f64) -> f64 {
    points
        .iter()
        .map(|&p| (p.distance(c) - r) * (p.distance(c) - r))
        .sum()
}

/// One damped Gauss–Newton step in (x, y, r).
fn step(points: &[Point], c: Point, r: f64, damping: f64) -> Option<[f64; 3]> {
    let mut a = [[0.0; 3]; 3];
    let mut b = [0.0; 3];
    for &p in points {
        let u = (c - p).unit()?;
        let row = [u.x, u.y, -1.0];
        let residual = p.distance(c) - r;
        for i in 0..3 {
            for j in 0..3 {
                a[i][j] += row[i] * row[j];
            }
            b[i] -= row[i] * residual;
        }
    }
    for (i, row) in a.iter_mut().enumerate() {
        row[i] *= 1.0 + damping;
    }
    solve3(a, b)
}

/// Cramer's rule on a symmetric positive 3×3 system.
fn solve3(a: [[f64; 3]; 3], b: [f64; 3]) -> Option<[f64; 3]> {
    let det3 = |m: [[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let det = det3(a);
    if det == 0.0 || !det.is_finite() {
        return None;
    }
    let mut x = [0.0; 3];
    for (k, out) in x.iter_mut().enumerate() {
        let mut m = a;
        for (row, &rhs) in m.iter_mut().zip(&b) {
            row[k] = rhs;
        }
        *out = det3(m) / det;
    }
    Some(x)
}
