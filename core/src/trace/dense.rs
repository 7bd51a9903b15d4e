//! Samples far denser than the line: averaged in blocks of 2, 4, 8, …, as long as neighbouring means
//! stay close.
//!
//! A fast digitiser under a slow hand leaves thousands of samples to the millimetre, each with the
//! digitiser's own noise, larger than the step. Any rule that looks at single samples then sees only
//! noise. Averaging neighbours leaves fewer samples and keeps the line, as long as the means lie much
//! nearer to each other than the reach within which samples are one place anyway. Three quarters of
//! the steps must be short, so that a few lost samples or a hand that hurried for a while do not stop
//! it, and one that rested for long does not drive it on.
//!
//! The block is the longest whose means take short steps, not the longest before the first that do
//! not: where samples scatter widely the steps of the means first shrink, as the scatter averages out,
//! and grow again once the line moves on within a block.
//!
//! 1. One pass takes the means down to a few thousand. These are halved further while enough are left
//!    and the steps are short or shrink; the coarsest with short steps are the result.
//! 2. Where there are none, finer blocks are looked at, in a thousand places each, the coarsest first.
//!
//! A mean of 2ᵏ samples is the midpoint of the means of its halves: sums of a million coordinates
//! would lose digits, and so the result does not depend on which of the two steps took it.
//!
//! A pen whose steps are longer than a quarter of a millimetre passes through untouched.

use crate::geom::Point;

/// Steps after averaging may be this long, mm at 1 mm stations.
const STEP: f64 = 0.22;
/// Fewer samples than this are never averaged.
const FEWEST: usize = 256;
/// How many steps are looked at.
const LOOKED_AT: usize = 1024;
/// Samples whose mean is taken without a further call.
const LANES: usize = 8;

/// The run averaged down; `None` where it is not so dense.
pub(super) fn averaged(points: &[Point], unit: f64) -> Option<Vec<Point>> {
    let is_short = |step: f64| step <= STEP * unit;
    let mut block = 1;
    while points.len() / (2 * block) >= 2 * LOOKED_AT {
        block *= 2;
    }
    let mut now = means(points, block);
    let mut step = upper_step(&now, 1);
    let mut best = (block > 1 && is_short(step)).then(|| now.clone());
    while now.len() >= FEWEST {
        now = means(&now, 2);
        let before = core::mem::replace(&mut step, upper_step(&now, 1));
        if is_short(step) {
            best = Some(now.clone());
        } else if step >= before {
            // The line moves on within a block: longer blocks only take longer steps.
            break;
        }
    }
    while best.is_none() && block > 2 {
        block /= 2;
        best = is_short(upper_step(points, block)).then(|| means(points, block));
    }
    best
}

fn means(points: &[Point], block: usize) -> Vec<Point> {
    points.chunks(block).filter_map(mean).collect()
}

/// The step that three quarters of the steps between means of neighbouring blocks fall short of.
fn upper_step(points: &[Point], block: usize) -> f64 {
    let stride = (points.len().div_ceil(block) / LOOKED_AT).max(1);
    let mut steps: Vec<f64> = points
        .chunks(block)
        .zip(points.chunks(block).skip(1))
        .step_by(stride)
        .filter_map(|(a, b)| Some(mean(a)?.distance(mean(b)?)))
        .collect();
    let place = 3 * steps.len() / 4;
    if place >= steps.len() {
        return f64::INFINITY;
    }
    let (_, step, _) = steps.select_nth_unstable_by(place, f64::total_cmp);
    *step
}

/// The mean of a block, by halves. What is left over at the end of a run counts as the other half
/// of its own pair.
fn mean(block: &[Point]) -> Option<Point> {
    if let Ok(lanes) = <&[Point; LANES]>::try_from(block) {
        return Some(mean_of(lanes));
    }
    match block {
        [] => None,
        [only] => Some(*only),
        [a, b] => Some(a.midpoint(*b)),
        more => {
            // As deep as the length has binary digits.
            let (first, rest) = more.split_at(more.len().next_power_of_two() / 2);
            Some(mean(first)?.midpoint(mean(rest)?))
        }
    }
}

fn mean_of([a, b, c, d, e, f, g, h]: &[Point; LANES]) -> Point {
    let low = a.midpoint(*b).midpoint(c.midpoint(*d));
    low.midpoint(e.midpoint(*f).midpoint(g.midpoint(*h)))
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

    #[test]
    fn wide_scatter_is_averaged_though_the_first_halving_leaves_long_steps() {
        let noise = |i: usize| ((i * 7919 % 1009) as f64 / 1009.0 - 0.5) * 1.2;
        let dense: Vec<Point> = (0..200_000)
            .map(|i| Point::new(i as f64 * 1e-3 + noise(i + 500), noise(i)))
            .collect();
        let out = averaged(&dense, 1.0).unwrap();
        assert!(out.len() < 4000, "{}", out.len());
    }

    #[test]
    fn a_mean_of_a_block_is_halving_again_and_again() {
        let points: Vec<Point> = (0..1003)
            .map(|i| Point::new(libm::sin(i as f64), libm::cos(3.0 * i as f64)))
            .collect();
        let mut halved = points.clone();
        for _ in 0..4 {
            halved = halved
                .chunks(2)
                .filter_map(|c| match c {
                    [a, b] => Some(a.midpoint(*b)),
                    [a] => Some(*a),
                    _ => None,
                })
                .collect();
        }
        let means: Vec<Point> = points.chunks(16).filter_map(mean).collect();
        assert_eq!(means, halved);
    }
}
