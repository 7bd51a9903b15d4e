//! Outlines of rectangles, of sides, of arcs and lines, and of none of these.

use super::feature::{Feature, shaped};
use crate::rng::Rng;
use core::f64::consts::TAU;
use trued::{Chain, Path, Point, Shape, Vec2};

/// Cells of a grid whose rows and columns have random widths, with some at the rim taken away.
pub fn orthogonal(rng: &mut Rng) -> Option<Path> {
    let (columns, rows) = (2 + rng.below(3), 2 + rng.below(3));
    let widths = |n: usize, rng: &mut Rng| -> Vec<f64> {
        let mut at = vec![0.0];
        for _ in 0..n {
            at.push(at[at.len() - 1] + rng.range(16.0, 70.0));
        }
        at
    };
    let (xs, ys) = (widths(columns, rng), widths(rows, rng));
    let span = xs[columns].max(ys[rows]);
    let k = rng.range(110.0, 220.0) / span;
    let mut cells = vec![vec![true; rows]; columns];
    for _ in 0..rng.below(5) {
        let (c, r) = (rng.below(columns), rng.below(rows));
        cells[c][r] = false;
    }
    let corners = boundary(&cells, &xs, &ys, k)?;
    let features: Vec<Feature> = corners.iter().map(|_| feature(rng, 0.35)).collect();
    shaped(&corners, &features, &vec![0.0; corners.len()])
}

/// Something at a corner, with this chance.
fn feature(rng: &mut Rng, chance: f64) -> Feature {
    if !rng.chance(chance) {
        return Feature::Sharp;
    }
    match rng.below(4) {
        0 | 1 => Feature::Fillet(rng.range(8.0, 30.0)),
        2 => {
            let s = rng.range(8.0, 25.0);
            Feature::Chamfer(
                s,
                if rng.chance(0.7) {
                    s
                } else {
                    rng.range(8.0, 25.0)
                },
            )
        }
        _ => Feature::Bite(rng.range(8.0, 20.0)),
    }
}

/// The one boundary of the cells that are there, counter-clockwise, corners only. Nothing where there are several,
/// or cells touch at a corner alone.
fn boundary(cells: &[Vec<bool>], xs: &[f64], ys: &[f64], k: f64) -> Option<Vec<Point>> {
    let (columns, rows) = (cells.len(), cells[0].len());
    let there = |c: isize, r: isize| {
        c >= 0
            && r >= 0
            && (c as usize) < columns
            && (r as usize) < rows
            && cells[c as usize][r as usize]
    };
    // Steps between grid points with what is there on their left and nothing on their right.
    let mut steps: Vec<((isize, isize), (isize, isize))> = Vec::new();
    for c in 0..columns as isize {
        for r in 0..rows as isize {
            if !there(c, r) {
                continue;
            }
            let corners = [(c, r), (c + 1, r), (c + 1, r + 1), (c, r + 1)];
            let beyond = [(c, r - 1), (c + 1, r), (c, r + 1), (c - 1, r)];
            for side in 0..4 {
                if !there(beyond[side].0, beyond[side].1) {
                    steps.push((corners[side], corners[(side + 1) % 4]));
                }
            }
        }
    }
    let first = *steps.first()?;
    let mut loop_points = vec![first.0];
    let mut at = first.1;
    while at != first.0 {
        let mut next = steps.iter().filter(|s| s.0 == at);
        let step = next.next()?;
        if next.next().is_some() {
            return None;
        }
        loop_points.push(at);
        at = step.1;
    }
    if loop_points.len() != steps.len() {
        return None;
    }
    let n = loop_points.len();
    let is_corner = |i: usize| {
        let (a, p, b) = (
            loop_points[(i + n - 1) % n],
            loop_points[i],
            loop_points[(i + 1) % n],
        );
        (p.0 - a.0) * (b.1 - p.1) - (p.1 - a.1) * (b.0 - p.0) != 0
    };
    let place = |(c, r): (isize, isize)| Point::new(k * xs[c as usize], k * ys[r as usize]);
    Some(
        (0..n)
            .filter(|&i| is_corner(i))
            .map(|i| place(loop_points[i]))
            .collect(),
    )
}

/// Corners at random angles and distances about a middle.
fn corners_about(rng: &mut Rng, n: usize) -> Vec<Point> {
    let mut angles: Vec<f64> = (0..n).map(|_| rng.range(0.0, TAU)).collect();
    angles.sort_by(f64::total_cmp);
    let size = rng.range(55.0, 110.0);
    angles
        .into_iter()
        .map(|a| Vec2::from_angle(a) * (size * rng.range(0.55, 1.0)))
        .map(|v| Point::new(v.x, v.y))
        .collect()
}

/// A corner turns by so much, radians.
fn turn(corners: &[Point], i: usize) -> f64 {
    let n = corners.len();
    let (a, p, b) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
    trued::geom::turn_between(p - a, b - p)
}

/// Three to eight sides.
pub fn polygon(rng: &mut Rng) -> Option<Path> {
    let n = 3 + rng.below(6);
    let corners = corners_about(rng, n);
    let turns = (0..n).map(|i| turn(&corners, i).abs().to_degrees());
    if !turns.into_iter().all(|t| (15.0..=150.0).contains(&t)) {
        return None;
    }
    let features: Vec<Feature> = (0..n)
        .map(|_| {
            if rng.chance(0.25) {
                Feature::Fillet(rng.range(8.0, 30.0))
            } else {
                Feature::Sharp
            }
        })
        .collect();
    let long = (0..n).all(|i| corners[i].distance(corners[(i + 1) % n]) > 14.0);
    shaped(&corners, &features, &vec![0.0; n]).filter(|_| long)
}

/// Three to six arcs and lines.
pub fn chain(rng: &mut Rng) -> Option<Path> {
    let n = 3 + rng.below(4);
    let corners = corners_about(rng, n);
    let sweeps: Vec<f64> = (0..n)
        .map(|_| {
            if rng.chance(0.6) {
                let way = if rng.chance(0.65) { 1.0 } else { -1.0 };
                way * rng.range(0.5, 2.8)
            } else {
                0.0
            }
        })
        .collect();
    let long = (0..n).all(|i| corners[i].distance(corners[(i + 1) % n]) > 20.0);
    shaped(&corners, &vec![Feature::Sharp; n], &sweeps).filter(|_| long)
}

/// A free curve, as many short lines.
pub fn curve(rng: &mut Rng) -> Option<Path> {
    let size = rng.range(40.0, 100.0);
    let form = rng.below(5);
    let (flat, lobes, depth) = (
        rng.range(0.35, 0.85),
        2 + rng.below(7),
        rng.range(0.08, 0.25),
    );
    let waves: Vec<(f64, f64, f64)> = (2..6)
        .map(|k| {
            let k = f64::from(k);
            (k, rng.range(0.0, 0.35) / k, rng.range(0.0, TAU))
        })
        .collect();
    let at = |t: f64| -> Point {
        let (c, s) = (libm::cos(t), libm::sin(t));
        match form {
            0 => Point::new(size * c, flat * size * s),
            // An oval, blunter at one end.
            1 => Point::new(size * c, flat * size * s * (1.0 + 0.3 * depth * 4.0 * c)),
            // A leaf: two points, smooth sides.
            2 => Point::new(size * c, flat * size * s * s.abs()),
            3 => {
                let r = size * (1.0 + depth * libm::cos(lobes as f64 * t)) / (1.0 + depth);
                Point::new(r * c, r * s)
            }
            _ => {
                let r = waves
                    .iter()
                    .map(|(k, a, p)| a * libm::cos(k * t + p))
                    .sum::<f64>();
                let r = size * (1.0 + r) / 1.3;
                Point::new(r * c, r * s)
            }
        }
    };
    let n = 480;
    let corners = (0..n)
        .map(|i| at(TAU * f64::from(i) / f64::from(n)))
        .collect();
    Some(Path::Chain(Chain {
        corners,
        shapes: vec![Shape::Line; n as usize],
    }))
}
