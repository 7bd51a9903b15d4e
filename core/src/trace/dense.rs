//! Samples far denser than the line: averaged in pairs, and again, while neighbours stay close.
//!
//! A fast digitiser under a slow hand leaves thousands of samples to the millimetre, each with the
//! digitiser's own noise, larger than the step. Any rule that looks at single samples then sees only
//! noise. Averaging neighbours halves the samples and keeps the line, as long as neighbours lie much
//! nearer to each other than the reach within which samples are one place anyway; it is repeated
//! until they do not. Three quarters of the steps must be short, so that a few lost samples or a hand
//! that hurried for a while do not stop it, and one that rested for long does not drive it on.
//!
//! A pen whose steps are longer than a quarter of a millimetre passes through untouched.

use crate::geom::{Point, Sorted as _};

/// Steps after averaging may be this long, mm at 1 mm stations.
const STEP: f64 = 0.22;
/// Fewer samples than this are never averaged.
const FEWEST: usize = 256;
/// How many steps are looked at.
const LOOKED_AT: usize = 1024;

/// The run averaged down; `None` where it is not so dense.
pub(super) fn averaged(points: &[Point], unit: f64) -> Option<Vec<Point>> {
    let mut best: Option<Vec<Point>> = None;
    loop {
        let now = best.as_deref().unwrap_or(points);
        if now.len() < FEWEST {
            return best;
        }
        let half: Vec<Point> = now
            .chunks(2)
            .filter_map(|c| match c {
                [a, b] => Some(a.midpoint(*b)),
                [a] => Some(*a),
                _ => None,
            })
            .collect();
        if upper_step(&half) > STEP * unit {
            return best;
        }
        best = Some(half);
    }
}

/// The step that three quarters of the steps fall short of.
fn upper_step(points: &[Point]) -> f64 {
    let stride = (points.len() / LOOKED_AT).max(1);
    let mut steps: Vec<f64> = points
        .windows(2)
        .step_by(stride)
        .filter_map(|w| match w {
            [a, b] => Some(a.distance(*b)),
            _ => None,
        })
        .collect();
    steps.order_by(f64::total_cmp);
    steps
        .get(3 * steps.len() / 4)
        .copied()
        .unwrap_or(f64::INFINITY)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dense_noisy_line_comes_down_to_the_line_and_a_plain_one_is_left() {
        let noise = |i: usize| ((i * 7919 % 1000) as f64 / 1000.0 - 0.5) * 0.6;
        let dense: Vec<Point> = (0..100_000)
            .map(|i| Point::new(i as f64 * 1e-3, noise(i)))
            .collect();
        let out = averaged(&dense, 1.0).unwrap();
        assert!(out.len() < 2000 && out.len() > 200, "{}", out.len());
        assert!(out.iter().all(|p| p.y.abs() < 0.1));
        let plain: Vec<Point> = (0..1000).map(|i| Point::new(i as f64 * 0.4, 0.0)).collect();
        assert!(averaged(&plain, 1.0).is_none());
    }
}
