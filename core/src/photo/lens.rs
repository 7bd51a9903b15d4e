//! How much the lens bends, from what must be straight.
//!
//! A straight thing is straight in the picture of a lens that does not bend (the plumb-line method: Brown
//! 1971). Of one coefficient the straightest value is sought: over a few dozen values the sum of squared
//! distances of each run of points to its own line. Long runs far from the picture's middle say most.
//! Values beyond what phones leave uncorrected are unlikely from the start, so that runs which say nothing
//! leave the lens as it is.

use super::fits::{least_squares, line};
use super::view::Lens;
use crate::geom::Point;

/// What lenses usually bend by at the picture's corner.
pub(super) const USUAL: f64 = 0.004;
/// The largest that is thought of.
const MOST: f64 = 0.02;

/// The bend in which runs of points are straightest, and its standard deviation.
pub(super) fn bend_of(runs: &[Vec<Point>], lens: Lens) -> (f64, f64) {
    let middles = |bend: f64| -> Vec<Option<(f64, f64)>> {
        let lens = Lens { bend, ..lens };
        runs.iter().map(|r| bowed(r, lens)).collect()
    };
    // Each run's bow is linear in the bend, near enough: its value at none, and how it changes.
    let (none, some) = (middles(0.0), middles(MOST));
    let rows: Vec<(f64, f64, f64)> = none
        .iter()
        .zip(&some)
        .filter_map(|(a, b)| {
            let ((at, vague), (moved, _)) = ((*a)?, (*b)?);
            Some(((moved - at) / MOST, -at, vague))
        })
        .collect();
    // Runs that another bend would make straight are not straight: their say is cut (Cauchy's weights).
    let mut bend = 0.0;
    let mut sure = 1.0 / (USUAL * USUAL);
    for _ in 0..12 {
        let (mut pull, mut weight) = (0.0, 1.0 / (USUAL * USUAL));
        for (rate, want, vague) in &rows {
            let off = (want - rate * bend) / vague;
            let w = 1.0 / ((1.0 + off * off / 4.0) * vague * vague);
            pull += w * rate * want;
            weight += w * rate * rate;
        }
        bend = (pull / weight).clamp(-MOST, MOST);
        sure = weight;
    }
    (bend, 1.0 / libm::sqrt(sure))
}

/// How far the middle of a run lies beside the chord of its ends, pixels, and how well that is known.
fn bowed(run: &[Point], lens: Lens) -> Option<(f64, f64)> {
    let flat: Vec<Point> = run.iter().map(|p| lens.unbent(*p)).collect();
    let (middle, along) = line(&flat)?;
    let half = flat
        .iter()
        .map(|p| (*p - middle).dot(along).abs())
        .fold(1.0, f64::max);
    let place = |p: &Point| {
        let t = (*p - middle).dot(along) / half;
        ([1.0, t, t * t], (*p - middle).dot(along.left()))
    };
    let form = least_squares(flat.iter().map(place))?;
    let [_, _, bow] = form;
    let off = flat.iter().map(|p| {
        let (row, value) = place(p);
        let d = value - row.iter().zip(&form).map(|(a, b)| a * b).sum::<f64>();
        d * d
    });
    let rms = libm::sqrt(off.sum::<f64>() / flat.len() as f64);
    // Neighbours err together: a run has about a dozen places of its own. Never surer than a tenth of a pixel.
    Some((bow, 0.1 + rms))
}
