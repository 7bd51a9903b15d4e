//! Candidate partitions from all scales.
//!
//! One hand follows a line within a tenth of a millimetre, another draws a square freely and bows
//! every side by three. No single price of misfit reads both, and which hand it was is not known. So
//! the exact best partition of every number of lines and arcs is found, and at every rung of a ladder
//! of scales the few of them that cost least there go on.
//!
//! Paths of more edges than that are met by the ladder alone: the best partition at every rung.

use super::proposed::{in_order, is_sound};
use crate::fit::partition::{BACK, COUNTED, Counted, Kind, Partition, Rung, SpanTable, comes_back};
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
    // Two edges there and back are sound once they have ends.
    let tips = tips(stations);
    counted.retain(|c| {
        is_sound(&c.partition, stations) || !tipped(&c.partition, stations, &tips).is_empty()
    });
    let mut seen: BTreeSet<Partition> = BTreeSet::new();
    let mut out = Vec::new();
    let mut add = |p: &Partition| {
        let new = seen.insert(p.clone());
        if new {
            out.push(p.clone());
        }
        new
    };
    let mut take = |p: &Partition| {
        for with_ends in tipped(p, stations, &tips) {
            add(&with_ends);
        }
        is_sound(p, stations) && add(p)
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

/// The end of something narrow: where it is, and half its width, in stations.
struct Tip {
    station: usize,
    half: f64,
}

/// Most of a tip's width and least length beside it, in stations: wider ends have corners far enough apart.
const WIDEST_TIP: f64 = 14.0;
const BESIDE_TIP: usize = 8;

/// The stations at which something narrow ends.
fn tips(stations: &Stations) -> Vec<Tip> {
    let n = stations.len();
    let wide = |i: usize| {
        let at = |d: usize| stations.points.get((i + n + d - BESIDE_TIP) % n).copied();
        Some(at(0)?.distance(at(2 * BESIDE_TIP)?) / stations.step)
    };
    (0..n)
        .filter(|&i| n > 4 * BESIDE_TIP && comes_back(stations, i) > BACK)
        .filter_map(|i| {
            let wide = wide(i).filter(|w| *w < WIDEST_TIP)?;
            Some(Tip {
                station: i,
                half: 0.5 * wide,
            })
        })
        .collect()
}

/// The same partition with an end of its own, straight or round, wherever two edges meet at the tip of something
/// narrow: a slit or a tab of a few mm hardly costs less for having an end, so none is cut there, and without it its
/// sides, which are parallel, meet nowhere.
fn tipped(p: &Partition, stations: &Stations, tips: &[Tip]) -> Vec<Partition> {
    let n = stations.len();
    let m = p.starts.len();
    let apart = |a: usize, b: usize| (b + n - a) % n;
    let ends: Vec<Option<f64>> = (0..m)
        .map(|e| {
            let (before, here, after) = (
                *p.starts.get((e + m - 1) % m)?,
                *p.starts.get(e)?,
                *p.starts.get((e + 1) % m)?,
            );
            let alone = m == 1 || apart(before, here).min(apart(here, after)) > BESIDE_TIP;
            let tip = tips.iter().find(|t| t.station == here)?;
            let inner = stations.closed || e > 0;
            (inner && alone).then_some(tip.half)
        })
        .collect();
    if ends.iter().all(Option::is_none) || m > 2 * COUNTED {
        return Vec::new();
    }
    let quarter = core::f64::consts::FRAC_PI_2;
    [(Kind::Line, 1.0), (Kind::Arc, quarter)]
        .into_iter()
        .map(|(kind, share)| {
            let mut spans = Vec::new();
            for ((&start, &of), half) in p.starts.iter().zip(&p.kinds).zip(&ends) {
                match half {
                    Some(half) => {
                        let reach = (half * share).round().clamp(1.0, BESIDE_TIP as f64 - 2.0);
                        let reach = reach as usize;
                        spans.push(((start + n - reach) % n, kind));
                        spans.push(((start + reach) % n, of));
                    }
                    None => spans.push((start, of)),
                }
            }
            in_order(spans)
        })
        .collect()
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
