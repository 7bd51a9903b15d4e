//! The size of the hand's wander, from the stations alone, before and independently of any fit.
//!
//! **Why.** Taken from the residuals of a fit, the wander lets a wrong fit excuse itself: a rounded
//! rectangle read as four lines has large residuals, hence a large wander, hence is right. So the
//! wander is read off short windows of the path instead.
//!
//! **How.** For windows of several lengths a circle is fitted to every window, and the 40 % quantile
//! of the mean square residuals is taken: most windows lie on one edge, where the circle leaves just
//! the wander; those on a corner fall into the upper part. The six quantiles are compared with what
//! an Ornstein–Uhlenbeck process of size 1 and correlation length ℓ leaves under the same treatment
//! (station means included; the table is simulated), and (σ, ℓ) is the best match on a logarithmic
//! scale, windows whose quantile is too large (corners) counting less.
//!
//! **Fails** on outlines whose every window holds a corner (many edges under about 15 mm): the wander
//! then comes out large, and small edges are lost. ℓ is poorly determined; what the reading leans on
//! is σ²ℓ, the weight of the slow part, which is good to about a fifth.
#![allow(
    clippy::indexing_slicing,
    reason = "indices run over the stations themselves, taken modulo their number where the path is closed"
)]

use super::Stations;
use crate::fit::taubin;
use crate::geom::Moments;
use crate::report::Wander;

/// Window lengths, stations.
pub const WINDOWS: [usize; 6] = [5, 8, 12, 18, 27, 40];
/// Correlation lengths of the table's rows, in stations.
pub const CORRELATIONS: [f64; 10] = [1.0, 1.5, 2.0, 3.0, 4.5, 6.0, 9.0, 13.0, 20.0, 30.0];
/// Quantile of the windows' residuals that is compared.
pub const QUANTILE: f64 = 0.4;
/// Natural logarithm of that quantile for a unit process, by correlation length and window.
/// Made by `cargo run --release -p trued-tests --bin wander-table`.
const TABLE: [[f64; 6]; 10] = include!("wander_table.in");
/// No window may be longer than this part of the path.
const WINDOW_SHARE: f64 = 0.3;
/// Expected correlation length and its spread (logarithmic), in stations: the prior.
const USUAL_CORRELATION: f64 = 5.0;
const CORRELATION_SPREAD: f64 = 0.7;
/// Fewest samples in a window.
const SAMPLES_IN_WINDOW: f64 = 3.5;
/// The pen's own resolution, in units: no wander is taken to be smaller.
const FLOOR: f64 = 0.03;

/// The fast part of the wander. `unit` is the length built-in lengths are stated in, mm.
#[must_use]
pub fn measure(stations: &Stations, unit: f64) -> Wander {
    let quantiles = window_quantiles(stations);
    let mut best = (f64::INFINITY, 0.2 * unit, USUAL_CORRELATION * stations.step);
    for (row, &correlation) in TABLE.iter().zip(&CORRELATIONS) {
        if let Some((cost, size)) = match_row(&quantiles, row, correlation)
            && cost < best.0
        {
            best = (cost, size, correlation * stations.step);
        }
    }
    Wander {
        size: best.1.max(FLOOR * unit),
        correlation: best.2,
        slow: 0.0,
    }
}

/// For each window length the quantile of the windows' mean square residuals (natural logarithm of
/// mm²), or `None` where the path is too short for it.
#[must_use]
pub fn window_quantiles(stations: &Stations) -> [Option<f64>; 6] {
    let n = stations.len();
    let mut residuals: [Vec<f64>; 6] = Default::default();
    // Between samples the path was never seen: a window must hold several of them.
    let seen = |w: usize| w as f64 * stations.step >= SAMPLES_IN_WINDOW * stations.sample_step;
    let longest = WINDOWS
        .iter()
        .rposition(|&w| w as f64 <= WINDOW_SHARE * n as f64);
    let Some(longest) = longest else {
        return [None; 6];
    };
    for i in 0..n {
        let origin = stations.points[i];
        let mut run = Moments::default();
        // One run grows from window to window; `j` is the station it takes next.
        let (mut taken, mut j) = (0, i);
        for (residuals, &window) in residuals.iter_mut().zip(&WINDOWS[..=longest]) {
            if i + window > n && !stations.closed {
                break;
            }
            for _ in taken..window {
                run.add(stations.points[j] - origin, stations.weights[j]);
                j = if j + 1 < n { j + 1 } else { 0 };
            }
            taken = window;
            if seen(window) {
                let c = run.central();
                let line = crate::fit::line_misfit(&c);
                residuals.push(taubin(&c).map_or(line, |(_, _, m)| m.min(line)));
            }
        }
    }
    residuals.map(|mut r| {
        let at = (r.len() as f64 * QUANTILE) as usize;
        if r.len() < 4 {
            return None;
        }
        let (_, value, _) = r.select_nth_unstable_by(at, f64::total_cmp);
        Some(libm::log(value.max(1e-18)))
    })
}

/// How badly a table row matches, and the size of wander it then means.
fn match_row(quantiles: &[Option<f64>; 6], row: &[f64; 6], correlation: f64) -> Option<(f64, f64)> {
    let pairs = || {
        quantiles
            .iter()
            .zip(row)
            .zip(&WINDOWS)
            .filter_map(|((q, t), &w)| Some(((*q)? - t, w)))
    };
    let spread = |w: usize| 0.15 + 0.012 * w as f64;
    // Robust weighted mean: a window whose quantile is above the others' holds corners.
    let mut level = pairs().map(|(d, _)| d).fold(f64::INFINITY, f64::min);
    if !level.is_finite() {
        return None;
    }
    let discount = |e: f64| {
        if e > 0.0 {
            1.0 / (1.0 + 0.25 * e * e)
        } else {
            1.0
        }
    };
    for _ in 0..6 {
        let (mut sum, mut weight) = (0.0, 0.0);
        for (d, w) in pairs() {
            let k = discount((d - level) / spread(w)) / (spread(w) * spread(w));
            sum += k * d;
            weight += k;
        }
        level = sum / weight;
    }
    let off = libm::log(correlation / USUAL_CORRELATION) / CORRELATION_SPREAD;
    let misfit: f64 = pairs()
        .map(|(d, w)| {
            let e = (d - level) / spread(w);
            e * e * discount(e)
        })
        .sum();
    Some((misfit + off * off, libm::exp(0.5 * level)))
}
