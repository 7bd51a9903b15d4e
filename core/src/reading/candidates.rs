//! Candidate partitions from all scales.
//!
//! One hand follows a line within a tenth of a millimetre, another draws a square freely and bows
//! every side by three. No single price of misfit reads both, and which hand it was is not known, so
//! the exact best partition is taken at every rung of a ladder of scales, with three pairs of edge
//! prices; what comes up more than once is kept once.

use super::moves::is_sound;
use crate::fit::partition::{Partition, Rung, SpanTable};
use crate::trace::Stations;
use std::collections::BTreeSet;

/// Rungs of the ladder, each this much coarser than the last.
const RUNG_RATIO: f64 = 2.0;
/// Prices of a line and an arc, nats.
const EDGE_PRICES: [(f64, f64); 3] = [(8.0, 10.0), (8.0, 16.0), (10.0, 11.0)];
/// Coarsest rung, as a slow error of this part of the diagonal...
const COARSEST: f64 = 0.03;
/// ...correlated over this part of it.
const COARSEST_CORRELATION: f64 = 0.12;

/// Partitions with more edges than twice the fewest and these are passed over.
const SPARE_EDGES: usize = 12;

/// All distinct best partitions, finest first. `scale` is the wander's own price of misfit,
/// 2σ²·2ℓ, mm³.
#[must_use]
pub fn candidates(stations: &Stations, scale: f64) -> Vec<Partition> {
    let table = SpanTable::measure(stations, 90);
    let size = stations.diagonal();
    let coarsest = 4.0 * (COARSEST * size) * (COARSEST * size) * COARSEST_CORRELATION * size;
    let mut seen: BTreeSet<Partition> = BTreeSet::new();
    let mut out = Vec::new();
    let mut rung_scale = 0.5 * scale.min(coarsest);
    while rung_scale < coarsest * RUNG_RATIO {
        for (line, arc) in EDGE_PRICES {
            if let Some(p) = table.best(&Rung {
                scale: rung_scale,
                line,
                arc,
            }) && is_sound(&p, stations)
                && seen.insert(p.clone())
            {
                out.push(p);
            }
        }
        rung_scale *= RUNG_RATIO;
    }
    let fewest = out.iter().map(Partition::len).min().unwrap_or(0);
    out.retain(|p| p.len() <= 2 * fewest + SPARE_EDGES);
    out
}
