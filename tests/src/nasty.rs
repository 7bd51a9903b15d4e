//! Traces nobody means, which must still give an outline or a sentence.
//!
//! The generator prefers the neighbourhood where geometry breaks: repeated and nearly repeated
//! points, nearly straight and nearly tangent runs, tiny arcs, paths that cross themselves, values at
//! the edge of what is accepted.

use crate::rng::Rng;
use trued::{Point, Stroke, Trace, Vec2};

/// A nasty trace of a seed.
#[must_use]
pub fn trace(rng: &mut Rng) -> Trace {
    let strokes = if rng.chance(0.7) { 1 } else { 1 + rng.below(6) };
    let mut all: Vec<Stroke> = (0..strokes).map(|_| stroke(rng)).collect();
    if rng.chance(0.1) {
        // The same again, over itself.
        let again = all[0].clone();
        all.push(again);
    }
    Trace {
        strokes: all,
        drawn: Vec::new(),
    }
}

fn stroke(rng: &mut Rng) -> Stroke {
    let n = match rng.below(4) {
        0 => rng.below(5),
        1 => 3 + rng.below(12),
        _ => 10 + rng.below(300),
    };
    let scale = libm::exp(rng.range(-7.0, 6.0));
    let mut points: Vec<Point> = match rng.below(8) {
        0 => (0..n).map(|_| anywhere(rng, scale)).collect(),
        1 => walk(rng, n, scale),
        2 => spiral(rng, n, scale),
        3 => eight(n, scale),
        4 => there_and_back(n, scale),
        5 => star(rng, n, scale),
        6 => nearly_straight(rng, n, scale),
        _ => nearly_round(rng, n, scale),
    };
    if rng.chance(0.3) {
        repeat_some(rng, &mut points);
    }
    if rng.chance(0.1) && !points.is_empty() {
        let i = rng.below(points.len());
        points[i] = odd_place(rng);
    }
    if rng.chance(0.5) && !points.is_empty() {
        points.push(points[0]);
    }
    Stroke::new(points)
}

fn anywhere(rng: &mut Rng, scale: f64) -> Point {
    Point::new(scale * rng.normal(), scale * rng.normal())
}

fn walk(rng: &mut Rng, n: usize, scale: f64) -> Vec<Point> {
    let mut p = anywhere(rng, scale);
    (0..n)
        .map(|_| {
            p = p + Vec2::new(rng.normal(), rng.normal()) * (0.1 * scale);
            p
        })
        .collect()
}

fn spiral(rng: &mut Rng, n: usize, scale: f64) -> Vec<Point> {
    let turns = rng.range(0.5, 40.0);
    (0..n)
        .map(|i| {
            let t = i as f64 / n as f64;
            Point::default() + Vec2::from_angle(turns * t) * (scale * t)
        })
        .collect()
}

fn eight(n: usize, scale: f64) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let t = core::f64::consts::TAU * i as f64 / n as f64;
            Point::new(scale * libm::sin(t), scale * libm::sin(2.0 * t))
        })
        .collect()
}

fn there_and_back(n: usize, scale: f64) -> Vec<Point> {
    let half = (n / 2).max(1);
    (0..n)
        .map(|i| {
            let k = if i < half { i } else { n - 1 - i };
            Point::new(scale * k as f64 / half as f64, 0.0)
        })
        .collect()
}

fn star(rng: &mut Rng, n: usize, scale: f64) -> Vec<Point> {
    let sharp = rng.range(0.01, 0.99);
    (0..n)
        .map(|i| {
            let r = if i % 2 == 0 { scale } else { scale * sharp };
            let t = core::f64::consts::TAU * i as f64 / n as f64;
            Point::default() + Vec2::from_angle(t) * r
        })
        .collect()
}

fn nearly_straight(rng: &mut Rng, n: usize, scale: f64) -> Vec<Point> {
    let bow = libm::exp(rng.range(-25.0, -1.0));
    (0..n)
        .map(|i| {
            let t = i as f64 / n as f64;
            Point::new(scale * t, scale * bow * t * (1.0 - t))
        })
        .collect()
}

fn nearly_round(rng: &mut Rng, n: usize, scale: f64) -> Vec<Point> {
    let (flat, turn) = (rng.range(0.9, 1.1), rng.range(0.5, 7.0));
    (0..n)
        .map(|i| {
            let d = Vec2::from_angle(turn * i as f64 / n as f64) * scale;
            Point::new(d.x, flat * d.y)
        })
        .collect()
}

fn repeat_some(rng: &mut Rng, points: &mut Vec<Point>) {
    for _ in 0..rng.below(20) {
        if points.is_empty() {
            return;
        }
        let i = rng.below(points.len());
        let mut p = points[i];
        if rng.chance(0.5) {
            p.x += 1e-12 * rng.normal();
        }
        points.insert(i, p);
    }
}

/// Values that readers let through or should have refused.
fn odd_place(rng: &mut Rng) -> Point {
    let odd = [
        0.0,
        -0.0,
        1e-300,
        -1e-300,
        1e-12,
        1e5,
        -1e5,
        1.000_001e5,
        1e300,
        f64::NAN,
        f64::INFINITY,
    ];
    Point::new(odd[rng.below(odd.len())], odd[rng.below(odd.len())])
}
