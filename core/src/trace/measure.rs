//! What a run of points looks like: its typical step, its jitter, its span.
//!
//! All of these are order statistics over at most [`SAMPLE`] places spread evenly along the run, so
//! that a run of ten million points costs no more than one of a few thousand and needs no memory
//! to speak of. None depends on the direction of the axes.

use crate::geom::{Point, Vec2};

/// Most places an order statistic looks at.
const SAMPLE: usize = 2048;

/// The point at `i`, or the origin past the end (never reached by a correct caller).
pub(super) fn at(points: &[Point], i: usize) -> Point {
    points.get(i).copied().unwrap_or_default()
}

/// The value a share `q` (0..1) of the values lie below; 0 for none.
pub(super) fn quantile(values: &mut [f64], q: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let last = values.len() - 1;
    let k = ((last as f64) * q.clamp(0.0, 1.0)) as usize;
    let (_, v, _) = values.select_nth_unstable_by(k.min(last), f64::total_cmp);
    *v
}

/// Places `0, s, 2s, …` below `n`, at most [`SAMPLE`] of them.
fn spread(n: usize) -> impl Iterator<Item = usize> {
    (0..n).step_by(n.div_ceil(SAMPLE).max(1))
}

/// Typical step between neighbouring samples, mm: the median, or 0.3 of the 90 % quantile where a
/// dwell makes the median tiny.
pub(super) fn typical_step(points: &[Point]) -> f64 {
    let mut steps = steps(points);
    let p90 = quantile(&mut steps, 0.9);
    quantile(&mut steps, 0.5).max(0.3 * p90)
}

/// The median step between neighbouring samples, mm: no stray sample makes it longer.
pub(super) fn median_step(points: &[Point]) -> f64 {
    quantile(&mut steps(points), 0.5)
}

/// Steps between neighbouring samples, of a long trace some of them, mm.
fn steps(points: &[Point]) -> Vec<f64> {
    let n = points.len().saturating_sub(1);
    let step = |i: usize| at(points, i).distance(at(points, i + 1));
    spread(n).map(step).collect()
}

/// Size of the deviation of each sample from the middle of its neighbours `lag` samples away, mm
/// (the median). On a straight run with independent noise of standard deviation s across and along
/// it is 1.44 s.
pub(super) fn deviation(points: &[Point], lag: usize) -> f64 {
    let n = points.len().saturating_sub(2 * lag);
    let mut off: Vec<f64> = spread(n)
        .map(|i| {
            let middle = at(points, i).midpoint(at(points, i + 2 * lag));
            at(points, i + lag).distance(middle)
        })
        .collect();
    quantile(&mut off, 0.5)
}

/// Length along the points, mm.
pub(super) fn length(points: &[Point]) -> f64 {
    points.windows(2).map(|w| step_of(w).length()).sum()
}

/// The step of a window of two points.
pub(super) fn step_of(window: &[Point]) -> Vec2 {
    match window {
        [a, b, ..] => *b - *a,
        _ => Vec2::default(),
    }
}

/// Length along the points up to each of them, mm; as many entries as points.
pub(super) fn lengths(points: &[Point]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut out = Vec::with_capacity(points.len());
    let mut last: Option<Point> = None;
    for &p in points {
        sum += last.map_or(0.0, |l| l.distance(p));
        out.push(sum);
        last = Some(p);
    }
    out
}

/// Largest distance between two of the points, mm, found by walking from the far end to the far
/// end a few times (exact for all but contrived shapes, never more than the true span and never
/// less than 0.8 of it).
pub(super) fn span(points: &[Point]) -> f64 {
    let Some(&first) = points.first() else {
        return 0.0;
    };
    let farthest = |from: Point| {
        let further = |best: (f64, Point), &p: &Point| {
            let d = (p - from).length_squared();
            if d > best.0 { (d, p) } else { best }
        };
        points.iter().fold((0.0, from), further)
    };
    let (mut best, mut from) = (0.0, first);
    for _ in 0..4 {
        let (d, p) = farthest(from);
        if d <= best {
            break;
        }
        (best, from) = (d, p);
    }
    best.max(0.0).sqrt()
}

/// Signed area of the polygon through the points, mm²; positive counter-clockwise.
pub(super) fn area(points: &[Point]) -> f64 {
    let origin = points.first().copied().unwrap_or_default();
    let twice: f64 = points
        .windows(2)
        .map(|w| match w {
            [a, b] => (*a - origin).cross(*b - origin),
            _ => 0.0,
        })
        .sum();
    0.5 * twice
}
