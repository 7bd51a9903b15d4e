//! The figure a partition starts from: every edge fitted alone, neighbours brought together.
//!
//! A joint solve that starts near its optimum takes three steps instead of ten. So each stretch of
//! stations is given its own line (total least squares) or circle (Taubin), the ends left out where
//! the hand rounds corners; and each corner is put where its two neighbours meet, found by Newton's
//! steps from the joint. Where they do not meet near the joint (lines nearly parallel, a line
//! that runs into an arc), the corner is the place between the two that is nearest to the joint.
//!
//! **Fails** where an edge has too few stations for a fit of its own: it then takes the chord between
//! the joints, as a start no worse than any.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the partition; stations are taken modulo their number"
)]

use super::equations::stretch;
use super::figure::Figure;
use crate::fit::partition::{Kind, Partition, block};
use crate::fit::{principal_direction, taubin};
use crate::geom::{Point, Vec2};
use crate::trace::Stations;

/// What an edge alone would be.
#[derive(Clone, Copy)]
enum Alone {
    Line { through: Point, normal: Vec2 },
    Circle { center: Point, radius: f64 },
}

impl Alone {
    /// Signed distance of a point and the unit direction it grows in.
    fn see(&self, p: Point) -> Option<(f64, Vec2)> {
        match self {
            Self::Line { through, normal } => Some(((p - *through).dot(*normal), *normal)),
            Self::Circle { center, radius } => {
                let d = p - *center;
                Some((d.length() - radius, d.unit()?))
            }
        }
    }
}

/// Part of a stretch left out at either end: corners are rounded by the hand.
const ENDS: f64 = 0.1;
/// Neighbours that meet at a smaller sine than this have no corner of their own.
const MEETING_SINE: f64 = 0.15;
/// A corner further from its joint than this part of the shorter neighbour is not believed.
const REACH: f64 = 0.4;
/// Newton's steps to a corner.
const STEPS: usize = 5;

/// The figure a partition starts from. `None` for an empty partition, or fewer than three stations.
#[must_use]
pub fn start_figure(stations: &Stations, partition: &Partition) -> Option<Figure> {
    let n = stations.len();
    let m = partition.len();
    if m == 0 || n < 3 {
        return None;
    }
    let closed = stations.closed;
    let spans: Vec<(usize, usize)> = (0..m).map(|e| stretch(&partition.starts, e, n)).collect();
    let alone: Vec<Option<Alone>> = spans
        .iter()
        .zip(&partition.kinds)
        .map(|(&span, &kind)| fit(stations, span, kind))
        .collect();
    let count = |e: usize| spans[e].1 - spans[e].0;
    let mut corners = Vec::with_capacity(m + 1);
    for e in 0..m {
        let s = partition.starts[e];
        if e == 0 && !closed {
            corners.push(stations.points[0]);
            continue;
        }
        let joint = stations.points[(s + n - 1) % n].midpoint(stations.points[s % n]);
        let before = (e + m - 1) % m;
        let reach = REACH * stations.step * count(before).min(count(e)) as f64;
        let meeting = match (alone[before], alone[e]) {
            (Some(a), Some(b)) => meet(&a, &b, joint),
            _ => None,
        };
        corners.push(
            meeting
                .filter(|p| p.distance(joint) < reach)
                .unwrap_or(joint),
        );
    }
    if !closed {
        corners.push(stations.points[n - 1]);
    }
    let mut figure = Figure {
        corners,
        bulges: vec![0.0; m],
        kinds: partition.kinds.clone(),
        closed,
    };
    for e in (0..m).filter(|&e| partition.kinds[e] == Kind::Arc) {
        figure.bulges[e] = bulge(&figure, e, stations, spans[e])?;
    }
    Some(figure)
}

/// The line or circle of one stretch, its ends left out.
fn fit(stations: &Stations, (from, to): (usize, usize), kind: Kind) -> Option<Alone> {
    let n = stations.len();
    let out = ((to - from) as f64 * ENDS) as usize;
    let (from, to) = (from + out, to - out);
    let origin = stations.points[from % n];
    let run = block(stations, from, to);
    if to < from + 3 || run.w <= 0.0 {
        return None;
    }
    match kind {
        Kind::Line => {
            let c = run.second();
            Some(Alone::Line {
                through: origin + c.mean,
                normal: principal_direction(&c).left(),
            })
        }
        Kind::Arc => {
            let (center, radius, _) = taubin(&run.central())?;
            Some(Alone::Circle {
                center: origin + center,
                radius,
            })
        }
    }
}

/// Where two edges meet near `joint`, or the place between them nearest to it.
fn meet(a: &Alone, b: &Alone, joint: Point) -> Option<Point> {
    let mut p = joint;
    for _ in 0..STEPS {
        let ((f, u), (g, v)) = (a.see(p)?, b.see(p)?);
        let sine = u.cross(v);
        if sine.abs() < MEETING_SINE {
            // Half of what is left to either.
            return Some(joint + between(a, b, joint)?);
        }
        // u·d = −f, v·d = −g.
        let d = (v.left() * f - u.left() * g) / sine;
        p = p + d;
    }
    p.is_finite().then_some(p)
}

fn between(a: &Alone, b: &Alone, joint: Point) -> Option<Vec2> {
    let ((f, u), (g, v)) = (a.see(joint)?, b.see(joint)?);
    Some((u * f + v * g) * -0.5)
}

/// The bulge at which the arc passes through the middle of its stretch.
fn bulge(
    figure: &Figure,
    e: usize,
    stations: &Stations,
    (from, to): (usize, usize),
) -> Option<f64> {
    let n = stations.len();
    let count = to - from;
    let view = figure.view(e)?;
    let (lo, hi) = (from + (2 * count) / 5, from + (3 * count) / 5 + 1);
    let sum: f64 = (lo..hi)
        .map(|k| view.chord_distance(stations.points[k % n]))
        .sum();
    let sagitta = sum / (hi - lo) as f64;
    let bulge = 2.0 * sagitta / view.chord();
    Some(if bulge.abs() < 1e-3 {
        1e-3_f64.copysign(bulge)
    } else {
        bulge
    })
}
