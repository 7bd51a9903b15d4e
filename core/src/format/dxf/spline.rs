//! SPLINE: B-splines of any degree, with weights or without, and curves through given points.
//!
//! Between two knots a B-spline is a Bézier. Its poles are values of the spline's polar form, by the same
//! scheme that evaluates the spline (de Boor) with other arguments: pole j takes the lower knot degree − j
//! times and the upper one j times (Ramshaw's blossoming, 1987). Nothing is approximated here.
//!
//! Where a file gives only points that the curve goes through, it is the cubic spline over the lengths of
//! the chords between them (de Boor, A Practical Guide to Splines, ch. IV): along the stated tangents at
//! its ends, or with no curvature there where none are stated.
#![allow(
    clippy::indexing_slicing,
    reason = "tables of as many rows as there are points, and a knot vector whose length is checked"
)]

use super::entity::Entity;
use crate::Refusal;
use crate::format::drawing::{Bezier, MOST_DEGREE, Pen};
use crate::geom::{Point, Vec2};

impl Entity<'_> {
    /// Draws a SPLINE; whether it could be.
    pub(super) fn draw_spline(&self, pen: &mut Pen<'_>) -> Result<bool, Refusal> {
        let poles = self.points(10)?;
        let pieces = if poles.len() < 2 {
            self.through_points()?
        } else {
            self.between_knots(&poles)?
        };
        let Some(start) = pieces.first().and_then(start_of) else {
            return Ok(false);
        };
        pen.move_to(start)?;
        for piece in &pieces {
            let Some(end) = piece.hull().last() else {
                continue;
            };
            match piece.hull().collect::<Vec<_>>().as_slice() {
                [_, to] => pen.line_to(*to)?,
                _ => pen.bezier(piece, end)?,
            }
        }
        // Closed or not shows in its ends.
        pen.lift()?;
        Ok(true)
    }

    /// The Béziers of a spline by poles, weights and knots; none where they do not go together.
    fn between_knots(&self, poles: &[Point]) -> Result<Vec<Bezier>, Refusal> {
        let weights = self.numbers(41)?;
        let knots = self.numbers(40)?;
        let degree = usize::try_from(self.integer(71)).unwrap_or(0);
        let n = poles.len();
        let ascending = knots.windows(2).all(|w| w[0] <= w[1]);
        let sound = (1..=MOST_DEGREE).contains(&degree)
            && n > degree
            && knots.len() == n + degree + 1
            && ascending
            && (weights.is_empty() || weights.len() == n)
            && weights.iter().all(|w| *w > 0.0);
        if !sound {
            return Ok(Vec::new());
        }
        let weight = |i: usize| weights.get(i).copied().unwrap_or(1.0);
        let rows: Vec<[f64; 3]> = (0..n)
            .map(|i| [poles[i].x * weight(i), poles[i].y * weight(i), weight(i)])
            .collect();
        let spans = (degree..n).filter(|k| knots[k + 1] > knots[*k]);
        let piece = |k: usize| {
            let pole = |j: usize| {
                let args = (0..degree).map(|i| {
                    if i < degree - j {
                        knots[k]
                    } else {
                        knots[k + 1]
                    }
                });
                polar(&rows, &knots, degree, k, &args.collect::<Vec<f64>>())
            };
            Bezier::rational((0..=degree).map(pole).collect())
        };
        Ok(spans
            .map(piece)
            .collect::<Option<Vec<_>>>()
            .unwrap_or_default())
    }

    /// The curve through the points that the file gives, as Béziers.
    fn through_points(&self) -> Result<Vec<Bezier>, Refusal> {
        let mut points = self.points(11)?;
        points.dedup();
        // One that closes smoothly is another curve.
        if self.integer(70) & 1 == 1 && points.first() != points.last() {
            return Ok(Vec::new());
        }
        let way = |x: i16| -> Result<Option<Vec2>, Refusal> {
            let v = Vec2::new(self.number_or(x, 0.0)?, self.number_or(x + 10, 0.0)?);
            Ok(v.unit())
        };
        Ok(through(&points, way(12)?, way(13)?))
    }
}

fn start_of(piece: &Bezier) -> Option<Point> {
    piece.hull().next()
}

/// The polar form of a spline over knots k and k + 1: as many arguments as its degree.
fn polar(rows: &[[f64; 3]], knots: &[f64], degree: usize, k: usize, args: &[f64]) -> [f64; 3] {
    let mut d: Vec<[f64; 3]> = rows[k - degree..=k].to_vec();
    for (r, t) in args.iter().enumerate().map(|(r, t)| (r + 1, *t)) {
        for j in (r..=degree).rev() {
            let i = k - degree + j;
            let (low, high) = (knots[i], knots[i + degree + 1 - r]);
            let a = (t - low) / (high - low);
            let before = d[j - 1];
            d[j] = [0, 1, 2].map(|c| before[c] + a * (d[j][c] - before[c]));
        }
    }
    d[degree]
}

/// The cubic spline through points, as Béziers.
fn through(points: &[Point], out: Option<Vec2>, inward: Option<Vec2>) -> Vec<Bezier> {
    let n = points.len();
    if n < 2 {
        return Vec::new();
    }
    let h: Vec<f64> = points.windows(2).map(|w| w[0].distance(w[1])).collect();
    let slope: Vec<Vec2> = points
        .windows(2)
        .zip(&h)
        .map(|(w, h)| (w[1] - w[0]) * (1.0 / h))
        .collect();
    // Unknown are the derivatives m at the points. Inside, curvature agrees from both sides; at an end
    // the derivative is stated, or the curvature is nothing: 2 m₀ + m₁ = 3 (p₁ − p₀) / h₀.
    let mut rows: Vec<([f64; 3], Vec2)> = Vec::with_capacity(n);
    rows.push(match out {
        Some(m) => ([0.0, 1.0, 0.0], m),
        None => ([0.0, 2.0, 1.0], slope[0] * 3.0),
    });
    for i in 1..n - 1 {
        let (a, b) = (h[i - 1], h[i]);
        let right = (slope[i - 1] * b + slope[i] * a) * 3.0;
        rows.push(([b, 2.0 * (a + b), a], right));
    }
    rows.push(match inward {
        Some(m) => ([0.0, 1.0, 0.0], m),
        None => ([1.0, 2.0, 0.0], slope[n - 2] * 3.0),
    });
    // Elimination down the three diagonals, and back.
    for i in 1..n {
        let (above, right) = rows[i - 1];
        let f = rows[i].0[0] / above[1];
        rows[i].0[1] -= f * above[2];
        rows[i].1 = rows[i].1 - right * f;
    }
    let mut m = vec![Vec2::default(); n];
    for i in (0..n).rev() {
        let next = if i + 1 < n { m[i + 1] } else { Vec2::default() };
        let ([_, on, after], right) = rows[i];
        m[i] = (right - next * after) * (1.0 / on);
    }
    (0..n - 1)
        .filter_map(|i| {
            let third = h[i] / 3.0;
            let (p, q) = (points[i], points[i + 1]);
            Bezier::new(&[p, p + m[i] * third, q - m[i + 1] * third, q])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spline_goes_through_its_points_smoothly_and_ends_straight() {
        let at = [(0.0, 0.0), (10.0, 5.0), (25.0, 0.0), (30.0, -12.0)];
        let points: Vec<Point> = at.iter().map(|(x, y)| Point::new(*x, *y)).collect();
        let pieces = through(&points, None, None);
        let hulls: Vec<Vec<Point>> = pieces.iter().map(|b| b.hull().collect()).collect();
        for (i, pair) in hulls.windows(2).enumerate() {
            assert_eq!(pair[0][3], points[i + 1]);
            let h = [i, i + 1].map(|k| points[k].distance(points[k + 1]));
            let before = (pair[0][3] - pair[0][2]) * (1.0 / h[0]);
            let after = (pair[1][1] - pair[1][0]) * (1.0 / h[1]);
            assert!((before - after).length() < 1e-12);
            let bend = |a: Point, b: Point, c: Point, h: f64| ((a - b) + (c - b)) * (1.0 / (h * h));
            let from = bend(pair[0][1], pair[0][2], pair[0][3], h[0]);
            let to = bend(pair[1][0], pair[1][1], pair[1][2], h[1]);
            assert!((from - to).length() < 1e-12);
        }
        let first = &hulls[0];
        assert!(((first[0] - first[1]) + (first[2] - first[1])).length() < 1e-12);
    }
}
