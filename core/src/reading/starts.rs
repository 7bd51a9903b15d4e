//! Candidate partitions from all scales.
//!
//! One hand follows a line within a tenth of a millimetre, another draws a square freely and bows
//! every side by three. No single price of misfit reads both, and which hand it was is not known. So
//! the exact best partition of every number of lines and arcs is found, and at every rung of a ladder
//! of scales the few of them that cost least there go on.
//!
//! Paths of more edges than that are met by the ladder alone: the best partition at every rung.

use super::proposed::is_sound;
use crate::fit::partition::{COUNTED, Counted, Partition, Rung, SpanTable};
use crate::geom::Sorted as _;
use crate::trace::Stations;
use std::collections::BTreeSet;

/// Rungs of the ladder, each this much coarser than the last.
const RUNG_RATIO: f64 = 2.0;
/// The finest rung, as a part of the wander's own scale.
const FINEST: f64 = 0.25;
/// Prices of a line and an arc, nats: which of them a person means more often is not known here, and
/// the last two pairs ask for outlines of straight edges alone and of arcs alone.
const EDGE_PRICES: [(f64, f64); 5] = [
    (8.0, 10.0),
    (8.0, 16.0),
    (10.0, 11.0),
    (8.0, 1e6),
    (1e6, 8.0),
];
/// Coarsest rung, as a slow error of this part of the diagonal...
const COARSEST: f64 = 0.03;
/// ...correlated over this part of it.
const COARSEST_CORRELATION: f64 = 0.12;
/// No rung is finer than this part of the coarsest, however little the hand is said to wander.
const LEAST_OF_COARSEST: f64 = 1e-9;
/// How many partitions go on from each rung, and how much more than the best they may cost, nats.
const KEPT: usize = 2;
const KEPT_WITHIN: f64 = 12.0;
/// How many partitions of more edges than that go on: solving them costs the cube of their edges.
const MANY: usize = 6;

/// Distinct partitions worth solving, those of the finest scales first. `scale` is the wander's own
/// price of misfit, 2σ²·2ℓ, mm³.
#[must_use]
pub fn starts(stations: &Stations, table: &SpanTable, scale: f64) -> Vec<Partition> {
    let size = stations.diagonal();
    let coarsest = 4.0 * (COARSEST * size) * (COARSEST * size) * COARSEST_CORRELATION * size;
    let mut counted = table.by_counts();
    counted.retain(|c| is_sound(&c.partition, stations));
    let mut seen: BTreeSet<Partition> = BTreeSet::new();
    let mut out = Vec::new();
    let mut take = |p: &Partition| {
        let new = seen.insert(p.clone());
        if new {
            out.push(p.clone());
        }
        new
    };
    let own = scale.min(coarsest);
    let mut scale = (FINEST * own).max(LEAST_OF_COARSEST * coarsest);
    let mut many = 0;
    while scale < coarsest * RUNG_RATIO {
        for (line, arc) in EDGE_PRICES {
            let rung = Rung { scale, line, arc };
            let cheap = cheapest(&counted, &rung);
            for c in &cheap {
                take(&c.partition);
            }
            // The best at this rung may have more edges than were counted. Finer than the wander
            // itself they would be edges of the wander.
            let few = cheap.first().is_some_and(|c| c.partition.len() < COUNTED);
            let beyond = !few && scale > 0.9 * own && many < MANY;
            if beyond && let Some(p) = table.best(&rung).filter(|p| is_sound(p, stations)) {
                many += usize::from(take(&p) && p.len() > COUNTED);
            }
        }
        scale *= RUNG_RATIO;
    }
    out
}

/// The few that cost least at a rung, cheapest first.
fn cheapest<'a>(counted: &'a [Counted], rung: &Rung) -> Vec<&'a Counted> {
    let price =
        |c: &Counted| c.misfit / rung.scale + rung.line * c.lines as f64 + rung.arc * c.arcs as f64;
    let mut priced: Vec<(f64, &Counted)> = counted.iter().map(|c| (price(c), c)).collect();
    priced.order_by(|a, b| a.0.total_cmp(&b.0));
    let least = priced.first().map_or(0.0, |p| p.0);
    let near = priced.iter().take_while(|p| p.0 < least + KEPT_WITHIN);
    near.take(KEPT).map(|p| p.1).collect()
}
