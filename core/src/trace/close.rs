//! Where two ends meet, and whether a path closes.
//!
//! Ends never meet exactly. They run past each other, stop short, cross at a corner, or miss by a
//! tenth of the figure; and pens leave hooks where they touch and leave the paper. One search
//! serves all of these, for the two ends of one stroke and for the ends of two strokes: over the
//! *tails* of both ends, find the pair of places with the smallest
//!
//! ```text
//! gap + w · (path cut away),   w = 0.25 where the line runs straight on … 0.6 where it would turn back
//! ```
//!
//! so an overrun is cut off where it lies alongside its start, tails past a corner go where they
//! cross, and a gap stays a gap. The weight grows with the turn because cutting both sides of a
//! sharp tip always shortens the gap: with one small weight the tip itself would go.
//!
//! The path closes when that smallest cost is small beside its span. On drawings by many people the
//! cost is below 0.43 of the span where the drawing was meant closed and above 0.54 where it
//! was meant open; the line is drawn between, and how far a path lies from it is told
//! ([`Joint::sureness`]) so that the reading may weigh the other form.
//!
//! A line that runs round more than once is cut after its first lap before this ([`one_lap`]): the
//! tails would be too short to see it.
//!
//! Fails on: a true opening narrower than about 0.45 of the span (a C nearly shut), which is closed
//! until a hint says otherwise.

use super::measure::{self, at, lengths};
use crate::geom::{Line, Point, Vec2};

/// Most places of a tail that are looked at in the first, coarse search.
const TAIL_POINTS: usize = 160;
/// Cost over span at which a path is as likely open as closed.
const EVEN: f64 = 0.47;

/// Which end of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// Its first point.
    Start,
    /// Its last point.
    Finish,
}

/// A place near the end of a run.
#[derive(Clone, Copy, Debug)]
struct Place {
    index: usize,
    point: Point,
    /// Path from here to the extremity, mm.
    cut: f64,
    /// Unit direction of the path here, toward the extremity.
    outward: Vec2,
}

/// The last stretch of a run, from its extremity inward.
#[derive(Clone, Debug)]
pub(super) struct Tail {
    places: Vec<Place>,
}

impl Tail {
    /// The tail of `points` at `end`, as long as `reach` mm; directions are taken over `lag` mm.
    pub(super) fn new(points: &[Point], end: End, reach: f64, lag: f64) -> Self {
        let n = points.len();
        let index = |k: usize| match end {
            End::Start => k,
            End::Finish => n.saturating_sub(1 + k),
        };
        let mut run: Vec<Point> = Vec::new();
        let (mut sum, mut beyond) = (0.0, 0.0);
        let mut within = 0;
        for k in 0..n {
            let p = at(points, index(k));
            sum += run.last().map_or(0.0, |l: &Point| l.distance(p));
            if sum <= reach {
                within = k + 1;
            } else {
                beyond = sum - reach;
            }
            run.push(p);
            if beyond > lag {
                break;
            }
        }
        let cum = lengths(&run);
        let mut inner = 0;
        let places = (0..within)
            .map(|k| {
                let cut = cum.get(k).copied().unwrap_or_default();
                while inner + 1 < run.len()
                    && cum.get(inner).copied().unwrap_or_default() - cut < lag
                {
                    inner += 1;
                }
                let point = at(&run, k);
                Place {
                    index: index(k),
                    point,
                    cut,
                    outward: (point - at(&run, inner)).unit().unwrap_or_default(),
                }
            })
            .collect();
        Self { places }
    }

    fn slice(&self, from: usize, to: usize) -> &[Place] {
        let to = to.min(self.places.len());
        self.places.get(from.min(to)..to).unwrap_or_default()
    }
}

/// How two ends are joined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Joint {
    /// Index of the last point kept of the first run.
    pub(super) a: usize,
    /// Index of the last point kept of the second run.
    pub(super) b: usize,
    /// Between those two, mm.
    pub(super) gap: f64,
    /// Path cut away at both ends, mm.
    pub(super) cut: f64,
    /// What the joint costs, mm.
    pub(super) cost: f64,
}

impl Joint {
    /// How sure a path of this span closes here: 0 is even, positive is closed, beyond ±1 is plain.
    pub(super) fn sureness(&self, span: f64) -> f64 {
        let ratio = (self.cost / span.max(f64::MIN_POSITIVE)).max(1e-3);
        libm::log(EVEN / ratio) / 0.2
    }
}

fn cost(a: &Place, b: &Place) -> (f64, f64) {
    let gap = a.point.distance(b.point);
    // Out along a, then in along b: 1 runs straight on, −1 turns back.
    let on = -a.outward.dot(b.outward);
    let weight = 0.25 + 0.175 * (1.0 - on);
    (gap, gap + weight * (a.cut + b.cut))
}

fn search(a: &[Place], b: &[Place], stride: (usize, usize), best: &mut Option<Joint>) {
    for p in a.iter().step_by(stride.0.max(1)) {
        let limit = best.map_or(f64::MAX, |j| j.cost);
        if 0.25 * p.cut >= limit {
            break;
        }
        for q in b.iter().step_by(stride.1.max(1)) {
            let limit = best.map_or(f64::MAX, |j| j.cost);
            if 0.25 * (p.cut + q.cut) >= limit {
                break;
            }
            let (gap, cost) = cost(p, q);
            if cost < limit {
                *best = Some(Joint {
                    a: p.index,
                    b: q.index,
                    gap,
                    cut: p.cut + q.cut,
                    cost,
                });
            }
        }
    }
}

/// The cheapest joint of two tails; `None` when one is empty.
pub(super) fn best_joint(a: &Tail, b: &Tail) -> Option<Joint> {
    let stride = |t: &Tail| t.places.len().div_ceil(TAIL_POINTS).max(1);
    let (sa, sb) = (stride(a), stride(b));
    let mut best = None;
    search(&a.places, &b.places, (sa, sb), &mut best);
    if sa > 1 || sb > 1 {
        let coarse = best?;
        let around = |t: &Tail, index: usize, s: usize| {
            let k = t
                .places
                .iter()
                .position(|p| p.index == index)
                .unwrap_or_default();
            (k.saturating_sub(s), k + s + 1)
        };
        let (a0, a1) = around(a, coarse.a, sa);
        let (b0, b1) = around(b, coarse.b, sb);
        search(a.slice(a0, a1), b.slice(b0, b1), (1, 1), &mut best);
    }
    best
}

/// The cheapest way to close one run on itself. `a` of the joint is near the start, `b` near the
/// finish.
pub(super) fn self_joint(
    points: &[Point],
    total: f64,
    span: f64,
    unit: f64,
    step: f64,
) -> Option<Joint> {
    let reach = (0.2 * total).max((30.0 * unit).min(0.3 * total));
    let lag = (2.0 * unit).max(1.5 * step).max(0.02 * span);
    let start = Tail::new(points, End::Start, reach, lag);
    let finish = Tail::new(points, End::Finish, reach, lag);
    best_joint(&start, &finish)
}

/// Where a line that runs round more than once has been round: the index of the last point of the
/// first lap and a little more, when all that follows lies along the first lap. Of something small the laps lie
/// apart by the hand's own error, which the `unit` tells, and by what sparse samples leave out between them.
pub(super) fn one_lap(points: &[Point], unit: f64) -> Option<usize> {
    let cum = lengths(points);
    let total = *cum.last()?;
    let span = measure::span(points);
    let near = (0.06 * span).max((1.5 * unit).min(0.12 * span));
    let index = |share: f64| cum.partition_point(|&c| c < share * total);
    let way = |i: usize| {
        let ahead = cum.partition_point(|&c| c < cum.get(i).copied().unwrap_or_default() + near);
        (at(points, ahead.min(points.len() - 1)) - at(points, i))
            .unit()
            .unwrap_or_default()
    };
    // The start itself may be a hook: a place a little after it is looked for again.
    let home = index(0.05);
    let place = at(points, home);
    // The first time it comes back, in four laps before a third of the way.
    let (from, to) = (index(0.2), index(0.85));
    let step_off = |i: usize, p: Point| {
        let (from, to) = (at(points, i), at(points, (i + 1).min(points.len() - 1)));
        Line { from, to }.nearest(p).0.distance(p)
    };
    let is_back = |&i: &usize| step_off(i, place) < near;
    let back = (from..to).skip_while(|i| !is_back(i)).take_while(is_back);
    let end = back
        .min_by(|&a, &b| {
            let off = |i: usize| step_off(i, place);
            off(a).total_cmp(&off(b))
        })
        .filter(|&i| way(i).dot(way(home)) > 0.5)?;
    let rest = points.get(end..)?;
    let along = (1..=24).all(|k| {
        let p = at(rest, k * (rest.len() - 1) / 24);
        (0..=end).any(|i| step_off(i, p) < near)
    });
    along.then_some(end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::TAU;

    /// So many laps and a little more of a circle of radius 40, its radius wandering slowly by half a mm.
    fn laps(laps: f64, phase: f64) -> Vec<Point> {
        let samples = (240.0 * (laps + 0.03)) as usize;
        (0..=samples)
            .map(|k| {
                let turned = TAU * k as f64 / 240.0;
                let radius = 40.0 + 0.5 * libm::sin(2.7 * turned + phase);
                let (s, c) = libm::sincos(turned);
                Point::new(radius * c, radius * s)
            })
            .collect()
    }

    #[test]
    fn the_first_lap_is_found_however_often_the_line_runs_round() {
        for n in [2.0, 3.0, 4.0] {
            for phase in 0..12 {
                let points = laps(n, f64::from(phase));
                let end = one_lap(&points, 1.0).expect("more than a lap");
                // A lap and the little way from the start to where the line is looked for again.
                let turned = end as f64 / 240.0;
                assert!((0.98..1.30).contains(&turned), "{n} {phase}: {turned}");
            }
        }
    }

    /// A hole of ⌀ 16 gone round twice by a hand that errs by a few tenths of a mm, with samples 2.3 mm apart.
    #[test]
    fn small_circles_gone_round_again_are_found() {
        for n in [2.0, 3.0] {
            for phase in 0..12 {
                let small = laps(n, f64::from(phase)).into_iter().step_by(11);
                let points: Vec<Point> = small.map(|p| Point::new(0.2 * p.x, 0.2 * p.y)).collect();
                // Every other sample lies a little inside.
                let ragged = points.iter().enumerate().map(|(i, p)| {
                    let k = 1.0 - 0.06 * (i % 2) as f64;
                    Point::new(k * p.x, k * p.y)
                });
                assert!(
                    one_lap(&ragged.collect::<Vec<_>>(), 1.0).is_some(),
                    "{n} {phase}"
                );
            }
        }
    }

    #[test]
    fn one_lap_and_an_overrun_is_left_to_the_joint() {
        assert_eq!(one_lap(&laps(1.0, 0.0), 1.0), None);
    }
}
