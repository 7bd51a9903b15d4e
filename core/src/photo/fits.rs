//! Least squares with a handful of unknowns, and the line through points.

use crate::geom::{Point, Vec2};

/// Least squares over rows of factors and their value. Nothing where the rows do not tell the unknowns.
pub(super) fn least_squares<const N: usize>(
    rows: impl Iterator<Item = ([f64; N], f64)>,
) -> Option<[f64; N]> {
    let mut normal = [[0.0; N]; N];
    let mut right = [0.0; N];
    for (row, value) in rows {
        for ((line, to), x) in normal.iter_mut().zip(&mut right).zip(&row) {
            for (cell, y) in line.iter_mut().zip(&row) {
                *cell += x * y;
            }
            *to += x * value;
        }
    }
    eliminate(normal, right)
}

/// Gauss and Jordan: the diagonal of a positive definite system needs no other pivots.
fn eliminate<const N: usize>(mut m: [[f64; N]; N], mut right: [f64; N]) -> Option<[f64; N]> {
    for k in 0..N {
        let (pivot, value) = (*m.get(k)?, *right.get(k)?);
        let head = *pivot.get(k)?;
        if !(head.abs() > 1e-12 && head.is_finite()) {
            return None;
        }
        for (i, (row, to)) in m.iter_mut().zip(&mut right).enumerate() {
            let share = if i == k { 0.0 } else { row.get(k)? / head };
            for (cell, p) in row.iter_mut().zip(&pivot) {
                *cell -= share * p;
            }
            *to -= share * value;
        }
    }
    for (k, to) in right.iter_mut().enumerate() {
        *to /= m.get(k)?.get(k)?;
    }
    right.iter().all(|v| v.is_finite()).then_some(right)
}

/// The line through points that lie along one: a point of it and its direction.
pub(super) fn line(points: &[Point]) -> Option<(Point, Vec2)> {
    let n = points.len() as f64;
    let sum = points
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.to_vec());
    let middle = Point::new(sum.x / n, sum.y / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for p in points {
        let d = *p - middle;
        xx += d.x * d.x;
        xy += d.x * d.y;
        yy += d.y * d.y;
    }
    let angle = 0.5 * libm::atan2(2.0 * xy, xx - yy);
    (points.len() > 1 && angle.is_finite()).then(|| (middle, Vec2::from_angle(angle)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_comes_back() {
        let rows = (0..9).map(|i| {
            let x = f64::from(i) - 3.0;
            ([1.0, x, x * x], 2.0 - 0.5 * x + 0.25 * x * x)
        });
        let fit = least_squares(rows).unwrap();
        for (got, want) in fit.iter().zip([2.0, -0.5, 0.25]) {
            assert!((got - want).abs() < 1e-12);
        }
        assert!(least_squares([([1.0, 1.0], 2.0)].into_iter()).is_none());
    }
}
