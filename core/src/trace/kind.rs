//! Whether a stroke is a sampled line, a few touches in order, or a cloud in no order.
//!
//! *Cloud*: the typical step from one point to the next is a large part of the whole span, though
//! there are many points, and other points lie much nearer than the next one. No pen travels so: around a
//! small shape a sparse one takes as large steps, but hardly passes nearer to any other sample.
//!
//! *Touched*: few points, well apart, and hardly one of them where the line just runs on, since a
//! person touches where something happens: a corner, or a place on an arc. A sparse pen (5 mm a
//! sample) has most of its points in the straight, and its steps are alike, which those of a
//! touched outline are only when it is a regular figure of few touches.
//!
//! What cannot be told: a circle of fifteen even touches from a sparse pen's circle. Both read as
//! the same circle.

use super::PathKind;
use super::measure::{self, at};
use crate::geom::{Point, turn_between};
use crate::settings::{Settings, TraceKind};

/// Fewest points of a cloud.
const CLOUD_LEAST: usize = 30;
/// A cloud's typical step is at least this share of its span.
const CLOUD_STEP: f64 = 0.12;
/// And at least so many times as far as to the nearest point.
const CLOUD_FARTHER: f64 = 2.0;
/// So many points are asked for their nearest.
const ASKED: usize = 64;
/// Most touches of a touched outline.
const TOUCHES_MOST: usize = 32;
/// Fewest mm between touches, typically.
const TOUCHES_APART: f64 = 4.0;
/// A line that turns by less than this runs on, radians.
const RUNS_ON: f64 = 0.2;

/// How each stroke was given, as said in the settings or told from the points. Touched outlines and
/// sampled strokes do not come in one trace: where one stroke is sampled, a few points beside it are
/// a short or sparse stroke.
pub(super) fn of<'a>(
    strokes: impl Iterator<Item = &'a [Point]>,
    settings: &Settings,
) -> Vec<PathKind> {
    let said = match settings.kind {
        TraceKind::Sampled => Some(PathKind::Sampled),
        TraceKind::Touched => Some(PathKind::Touched),
        TraceKind::Cloud => Some(PathKind::Cloud),
        TraceKind::Auto => None,
    };
    let mut kinds: Vec<PathKind> = strokes
        .map(|points| said.unwrap_or_else(|| told(points, settings.station)))
        .collect();
    if said.is_none() && kinds.contains(&PathKind::Sampled) {
        for k in &mut kinds {
            if *k == PathKind::Touched {
                *k = PathKind::Sampled;
            }
        }
    }
    kinds
}

fn told(points: &[Point], unit: f64) -> PathKind {
    let n = points.len();
    if n >= CLOUD_LEAST {
        let step = measure::median_step(points);
        let long = step > TOUCHES_APART * unit && step > CLOUD_STEP * measure::span(points);
        if long && step > CLOUD_FARTHER * nearest(points) {
            return PathKind::Cloud;
        }
    }
    if (3..=TOUCHES_MOST).contains(&n) && is_touched(points, unit) {
        return PathKind::Touched;
    }
    PathKind::Sampled
}

/// How far the nearest other point typically is, mm.
fn nearest(points: &[Point]) -> f64 {
    let every = points.len().div_ceil(ASKED).max(1);
    let mut nearest: Vec<f64> = points
        .iter()
        .enumerate()
        .step_by(every)
        .map(|(i, p)| {
            let others = points.iter().enumerate().filter(|(j, _)| *j != i);
            others.fold(f64::INFINITY, |least, (_, q)| least.min(p.distance(*q)))
        })
        .collect();
    measure::quantile(&mut nearest, 0.5)
}

fn is_touched(points: &[Point], unit: f64) -> bool {
    let n = points.len();
    let mut steps: Vec<f64> = points
        .windows(2)
        .map(|w| measure::step_of(w).length())
        .collect();
    // By quantiles, so that a stray sample does not make a sparse pen's steps look uneven.
    let uneven = measure::quantile(&mut steps, 0.8) > 1.6 * measure::quantile(&mut steps, 0.2);
    if measure::quantile(&mut steps, 0.5) < TOUCHES_APART * unit {
        return false;
    }
    let on = (1..n - 1)
        .filter(|&i| {
            let (a, b, c) = (at(points, i - 1), at(points, i), at(points, i + 1));
            turn_between(b - a, c - b).abs() < RUNS_ON
        })
        .count();
    let straight = on as f64 / (n - 2) as f64;
    n <= 5 || (straight < 0.4 && (n <= 15 || uneven))
}
