//! Shapes that are drawn on the plate: those of the list, free curves and sharp stars; and writing.

use super::raster::Raster;
use crate::rng::Rng;
use crate::shapes::{Case, FAMILIES};
use core::f64::consts::TAU;
use trued::{Point, Vec2};

/// Depth of a point inside a closed run of points, mm; negative outside.
#[must_use]
pub fn depth(line: &[Point], p: Point) -> f64 {
    let mut inside = false;
    let mut near = f64::INFINITY;
    for w in line.windows(2) {
        let (a, b) = (w[0], w[1]);
        if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
        let d = b - a;
        let t = ((p - a).dot(d) / d.length_squared().max(1e-12)).clamp(0.0, 1.0);
        near = near.min(p.distance(a + d * t));
    }
    if inside { near } else { -near }
}

fn bounds(points: &[Point]) -> (Point, Point) {
    let fold = |f: fn(f64, f64) -> f64, start: f64| {
        points.iter().fold(Point::new(start, start), |m, p| {
            Point::new(f(m.x, p.x), f(m.y, p.y))
        })
    };
    (
        fold(f64::min, f64::INFINITY),
        fold(f64::max, f64::NEG_INFINITY),
    )
}

/// Loops that fit into a frame with room to its sides: an outline, and perhaps a round hole in it. The
/// case too, where the outline is of the list.
#[must_use]
pub fn in_frame(frame: (f64, f64), rng: &mut Rng) -> (Vec<Vec<Point>>, Vec<Case>) {
    let room = 17.0;
    loop {
        let (mut line, case) = match rng.below(6) {
            0 => (star(rng), None),
            1 => (free(rng), None),
            _ => {
                let family = &FAMILIES[rng.below(FAMILIES.len())];
                let case = Case::draw(family, rng);
                let mut line = case.path.flatten(0.01);
                if let Some(&first) = line.first()
                    && line.last() != Some(&first)
                {
                    line.push(first);
                }
                (line, Some((family, case)))
            }
        };
        let (lo, hi) = bounds(&line);
        let spare = Vec2::new(
            frame.0 - 2.0 * room - (hi.x - lo.x),
            frame.1 - 2.0 * room - (hi.y - lo.y),
        );
        if spare.x < 0.0 || spare.y < 0.0 {
            continue;
        }
        let shift = Vec2::new(
            room - lo.x + spare.x * rng.unit(),
            room - lo.y + spare.y * rng.unit(),
        );
        for p in &mut line {
            *p = *p + shift;
        }
        let case = case.map(|(family, case)| {
            let mut numbers = case.numbers;
            let n = numbers.len();
            numbers[n - 3] += shift.x;
            numbers[n - 2] += shift.y;
            Case::new(family, numbers)
        });
        let mut lines = vec![line];
        if rng.chance(0.25) {
            let r = rng.range(7.0, 20.0);
            for _ in 0..20 {
                let p = Point::new(rng.range(0.0, frame.0), rng.range(0.0, frame.1));
                if depth(&lines[0], p) > r + 9.0 {
                    lines.push(round(p, r));
                    break;
                }
            }
        }
        return (lines, case.into_iter().collect());
    }
}

fn round(c: Point, r: f64) -> Vec<Point> {
    (0..=200)
        .map(|i| c + Vec2::from_angle(TAU * f64::from(i % 200) / 200.0) * r)
        .collect()
}

/// A star or a slim triangle with sharp tips.
fn star(rng: &mut Rng) -> Vec<Point> {
    let turn = rng.range(0.0, TAU);
    let corner = |a: f64, r: f64| Point::new(0.0, 0.0) + Vec2::from_angle(turn + a) * r;
    let mut points: Vec<Point> = if rng.chance(0.5) {
        let n = 4 + rng.below(3);
        let (out, inner) = (rng.range(45.0, 75.0), rng.range(0.4, 0.65));
        (0..2 * n)
            .map(|i| {
                corner(
                    TAU * i as f64 / (2 * n) as f64,
                    if i % 2 == 0 { out } else { inner * out },
                )
            })
            .collect()
    } else {
        let half = rng.range(0.22, 0.45);
        let long = rng.range(60.0, 130.0);
        vec![corner(0.0, 0.0), corner(half, long), corner(-half, long)]
    };
    points.push(points[0]);
    // Chords of half a millimetre, as flattened arcs have.
    let mut line = vec![points[0]];
    for w in points.windows(2) {
        let n = (w[0].distance(w[1]) / 0.5) as usize + 1;
        line.extend((1..=n).map(|i| w[0].lerp(w[1], i as f64 / n as f64)));
    }
    line
}

/// A smooth closed curve of a few waves.
fn free(rng: &mut Rng) -> Vec<Point> {
    let base = rng.range(35.0, 65.0);
    let waves: Vec<(f64, f64, f64)> = (1..5)
        .map(|k| {
            (
                f64::from(k),
                base * rng.range(0.0, 0.28) / f64::from(k),
                rng.range(0.0, TAU),
            )
        })
        .collect();
    let at = |i: usize| {
        let a = TAU * (i % 600) as f64 / 600.0;
        let r = base
            + waves
                .iter()
                .map(|w| w.1 * libm::cos(w.0 * a + w.2))
                .sum::<f64>();
        Point::new(0.0, 0.0) + Vec2::from_angle(a) * r
    };
    (0..=600).map(at).collect()
}

/// A row of letters that nobody can read, clear of the lines.
pub fn writing(
    cover: &mut Raster,
    frame: (f64, f64),
    lines: &[Vec<Point>],
    radius: f64,
    rng: &mut Rng,
) {
    let tall = rng.range(6.0, 13.0);
    let letters = 3 + rng.below(7);
    for _ in 0..40 {
        let start = Point::new(
            rng.range(12.0, frame.0 - 12.0),
            rng.range(12.0, frame.1 - 12.0),
        );
        let along = Vec2::from_angle(rng.range(-0.4, 0.4));
        let at = |i: f64, y: f64| start + along * (i * 0.75 * tall) + along.left() * y;
        let clear = (0..=2 * letters).all(|i| {
            let p = at(0.5 * i as f64, 0.5 * tall);
            lines.iter().all(|l| depth(l, p).abs() > 0.5 * tall + 6.0)
                && p.x > 12.0
                && p.y > 12.0
                && p.x < frame.0 - 12.0
                && p.y < frame.1 - 12.0
        });
        if !clear {
            continue;
        }
        for i in 0..letters {
            let corner = |rng: &mut Rng| {
                at(
                    i as f64 + 0.6 * rng.below(2) as f64,
                    tall * 0.5 * rng.below(3) as f64,
                )
            };
            let mut pen: Vec<Point> = vec![corner(rng)];
            for _ in 0..2 + rng.below(3) {
                let next = corner(rng);
                pen.push(next);
            }
            if rng.chance(0.25) {
                pen = round(at(i as f64 + 0.3, 0.4 * tall), 0.3 * tall);
            }
            cover.line(&pen, radius, 1.0);
        }
        return;
    }
}

/// A hole or a blot: round, or not quite.
pub fn blot(cover: &mut Raster, p: Point, r: f64, rng: &mut Rng) {
    if rng.chance(0.5) {
        cover.draw(p, p + Vec2::new(0.01, 0.0), r, 0.97);
        return;
    }
    for _ in 0..4 {
        let q = p + Vec2::from_angle(rng.range(0.0, TAU)) * (0.5 * r * rng.unit());
        cover.draw(p, q, r * rng.range(0.4, 0.8), 0.9);
    }
}
