//! A whole circle through a closed path: three numbers, solved like any figure.
//!
//! Gauss–Newton from Taubin's circle over blocks of stations round the loop, whitened as in
//! [`super::solve`] (a loop without a start goes round: its first block follows the last).
#![allow(
    clippy::indexing_slicing,
    reason = "three free numbers: arrays of fixed size; stations are counted modulo their number"
)]

use super::blocks::{EdgeResiduals, MOST_PASSES, Noise, block_noise};
use super::normal::Normal;
use crate::fit::taubin;
use crate::geom::{Moments, Point};
use crate::trace::Stations;

/// A solved circle with what is known of it.
#[derive(Clone, Debug)]
pub struct Round {
    /// Centre.
    pub center: Point,
    /// Radius, mm.
    pub radius: f64,
    /// Half the sum of squares of the whitened blocks, nats.
    pub misfit: f64,
    /// Number of blocks.
    pub blocks: usize,
    /// Residuals round the loop, block by block.
    pub residuals: EdgeResiduals,
    /// Mean square distance of the stations, mm².
    pub mean_square: f64,
    /// Normal equations in (x, y, radius).
    pub normal: Normal,
}

const BLOCK: f64 = 3.0;

/// The circle nearest to the stations; `fixed` holds the radius to a value.
#[must_use]
pub fn solve_circle(stations: &Stations, noise: &Noise, fixed: Option<f64>) -> Option<Round> {
    let n = stations.len();
    let origin = *stations.points.first()?;
    let mut m = Moments::default();
    for (p, w) in stations.points.iter().zip(&stations.weights) {
        m.add(*p - origin, *w);
    }
    let (center, mut radius, _) = taubin(&m.central())?;
    let mut center = origin + center;
    let parts = (libm::round(stations.length() / (BLOCK * noise.unit).max(stations.sample_step))
        as usize)
        .clamp(6.min(n), n);
    for _ in 0..8 {
        let (mut normal, ..) = system(stations, noise, center, radius, parts)?;
        if let Some(r) = fixed {
            normal.condition(&[0.0, 0.0, 1.0], r - radius, 1e-9);
        }
        let step = normal.step();
        center = Point::new(center.x + step[0], center.y + step[1]);
        radius += step[2];
        if step.iter().all(|s| s.abs() < 1e-9 * radius) {
            break;
        }
    }
    if let Some(r) = fixed {
        radius = r;
    }
    let (mut normal, misfit, mean_square, residuals) =
        system(stations, noise, center, radius, parts)?;
    if fixed.is_some() {
        normal.condition(&[0.0, 0.0, 1.0], 0.0, 1e-9);
    }
    let fine = center.is_finite() && radius.is_finite() && radius > 0.0;
    fine.then_some(Round {
        center,
        radius,
        misfit,
        blocks: parts,
        residuals,
        mean_square,
        normal,
    })
}

fn system(
    stations: &Stations,
    noise: &Noise,
    center: Point,
    radius: f64,
    parts: usize,
) -> Option<(Normal, f64, f64, EdgeResiduals)> {
    let n = stations.len();
    let len = stations.length() / parts as f64;
    let (first, later, rho) = block_noise(&noise.whole(), len);
    let mut rows = Vec::with_capacity(parts);
    let (mut square, mut weight) = (0.0, 0.0);
    for b in 0..parts {
        let (lo, hi) = (b * n / parts, (b + 1) * n / parts);
        let (mut row, mut w_sum) = ([0.0; 4], 0.0);
        for k in lo..hi {
            let w = stations.weights[k].max(1e-9);
            let u = (stations.points[k] - center).unit()?;
            let r = stations.points[k].distance(center) - radius;
            for (a, v) in row.iter_mut().zip([r, -u.x, -u.y, -1.0]) {
                *a += w * v;
            }
            w_sum += w;
            square += w * r * r;
        }
        weight += w_sum;
        rows.push((
            row.map(|v| v / w_sum.max(1e-12)),
            (w_sum / len).min(MOST_PASSES),
        ));
    }
    let (mut h, mut g, mut misfit) = (vec![0.0; 9], vec![0.0; 3], 0.0);
    for b in 0..parts {
        let (row, share) = rows[b];
        let (prev, _) = rows[(b + parts - 1) % parts];
        let mut white = [0.0; 4];
        let is_first = b == 0 && stations.seam.is_some();
        for (w, (a, p)) in white.iter_mut().zip(row.iter().zip(&prev)) {
            *w = if is_first {
                first * a
            } else {
                later * (a - rho * p)
            };
        }
        misfit += 0.5 * share * white[0] * white[0];
        for i in 0..3 {
            g[i] += share * white[i + 1] * white[0];
            for j in 0..3 {
                h[3 * i + j] += share * white[i + 1] * white[j + 1];
            }
        }
    }
    let blocks = rows
        .iter()
        .map(|(row, share)| row[0] * share.min(1.0))
        .collect();
    let residuals = EdgeResiduals {
        blocks,
        length: len,
        freedoms: 3,
        hidden: 0.0,
        seam: None,
    };
    Some((
        Normal::new(h.to_vec(), &g)?,
        misfit,
        square / weight.max(1e-12),
        residuals,
    ))
}
