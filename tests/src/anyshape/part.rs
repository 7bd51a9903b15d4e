//! Things a shop makes out of sheet.

use super::feature::{Feature, shaped};
use crate::rng::Rng;
use core::f64::consts::{FRAC_PI_2, PI, TAU};
use trued::{Chain, Path, Point, Shape, Vec2};

/// One of them.
pub fn part(rng: &mut Rng) -> Option<Path> {
    match rng.below(9) {
        0 => hull(rng, 2),
        1 => hull(rng, 3),
        2 => cut_disc(rng),
        3 => keyhole(rng),
        4 => notched(rng),
        5 => bracket(rng),
        6 => sector(rng),
        7 => trapezoid(rng),
        _ => eared(rng),
    }
}

fn chain(corners: Vec<Point>, shapes: Vec<Shape>) -> Option<Path> {
    Some(Path::Chain(Chain { corners, shapes }))
}

fn arc(sweep: f64) -> Shape {
    Shape::Arc { sweep }
}

/// Circles with a belt round them: links, cams, flanges.
fn hull(rng: &mut Rng, count: usize) -> Option<Path> {
    let size = rng.range(40.0, 90.0);
    let alike = rng.chance(0.3);
    let r = rng.range(10.0, 0.6 * size);
    let circles: Vec<(Point, f64)> = (0..count)
        .map(|i| {
            let a = TAU * i as f64 / count as f64 + rng.range(-0.4, 0.4);
            let c = Vec2::from_angle(a) * size;
            let own = if alike {
                r
            } else {
                rng.range(9.0, 0.65 * size)
            };
            (Point::new(c.x, c.y), own)
        })
        .collect();
    // The outer tangent of each to the next, going round counter-clockwise.
    let tangent = |i: usize| -> Option<f64> {
        let ((a, r), (b, s)) = (circles[i], circles[(i + 1) % count]);
        let d = b - a;
        let part = (r - s) / d.length();
        (part.abs() < 0.95).then(|| d.angle() - FRAC_PI_2 + libm::asin(part))
    };
    let normals: Option<Vec<f64>> = (0..count).map(tangent).collect();
    let normals = normals?;
    let (mut corners, mut shapes) = (Vec::new(), Vec::new());
    for i in 0..count {
        let (c, r) = circles[i];
        let (into, out) = (normals[(i + count - 1) % count], normals[i]);
        let mut sweep = (out - into) % TAU;
        if sweep < 0.0 {
            sweep += TAU;
        }
        if sweep > 1.6 * PI {
            return None;
        }
        corners.push(c + Vec2::from_angle(into) * r);
        shapes.push(arc(sweep));
        corners.push(c + Vec2::from_angle(out) * r);
        shapes.push(Shape::Line);
    }
    chain(corners, shapes)
}

/// A disc with one or two flats.
fn cut_disc(rng: &mut Rng) -> Option<Path> {
    let r = rng.range(35.0, 95.0);
    let half = rng.range(0.4, 1.3);
    let at = |a: f64| {
        let v = Vec2::from_angle(a) * r;
        Point::new(v.x, v.y)
    };
    if rng.chance(0.5) {
        return chain(
            vec![at(half), at(-half)],
            vec![arc(TAU - 2.0 * half), Shape::Line],
        );
    }
    let other = if rng.chance(0.6) {
        half
    } else {
        rng.range(0.4, 1.2)
    };
    let far = PI + rng.range(-0.5, 0.5) * f64::from(u8::from(rng.chance(0.4)));
    let first = far - other - half;
    let second = TAU - half - far - other;
    if first < 0.2 || second < 0.2 {
        return None;
    }
    chain(
        vec![at(half), at(far - other), at(far + other), at(-half)],
        vec![arc(first), Shape::Line, arc(second), Shape::Line],
    )
}

/// A round head with a stem.
fn keyhole(rng: &mut Rng) -> Option<Path> {
    let r = rng.range(22.0, 60.0);
    let half = rng.range(8.0, 0.75 * r);
    let long = r + rng.range(15.0, 90.0);
    let a = libm::asin(half / r);
    let (x, y) = (r * libm::cos(a), half);
    let head = arc(TAU - 2.0 * a);
    if rng.chance(0.4) {
        // A round foot.
        return chain(
            vec![
                Point::new(x, y),
                Point::new(x, -y),
                Point::new(long, -y),
                Point::new(long, y),
            ],
            vec![head, Shape::Line, arc(PI), Shape::Line],
        );
    }
    chain(
        vec![
            Point::new(x, y),
            Point::new(x, -y),
            Point::new(long, -y),
            Point::new(long, y),
        ],
        vec![head, Shape::Line, Shape::Line, Shape::Line],
    )
}

/// A rectangle with a notch in its top: square, round at the bottom, or a V.
fn notched(rng: &mut Rng) -> Option<Path> {
    let (w, h) = (rng.range(70.0, 200.0), rng.range(45.0, 140.0));
    let half = rng.range(8.0, 0.3 * w);
    let x = rng.range(0.3, 0.7) * w;
    let deep = rng.range(10.0, 0.75 * h);
    let outer = [(0.0, 0.0), (w, 0.0), (w, h)].map(|(x, y)| Point::new(x, y));
    let mut corners = outer.to_vec();
    let mut sweeps = vec![0.0; 3];
    match rng.below(3) {
        0 => {
            let notch = [
                (x + half, h),
                (x + half, h - deep),
                (x - half, h - deep),
                (x - half, h),
            ];
            corners.extend(notch.map(|(x, y)| Point::new(x, y)));
            sweeps.extend([0.0; 4]);
        }
        1 => {
            let notch = [
                (x + half, h),
                (x + half, h - deep),
                (x - half, h - deep),
                (x - half, h),
            ];
            corners.extend(notch.map(|(x, y)| Point::new(x, y)));
            sweeps.extend([0.0, -PI, 0.0, 0.0]);
        }
        _ => {
            let notch = [(x + half, h), (x, h - deep), (x - half, h)];
            corners.extend(notch.map(|(x, y)| Point::new(x, y)));
            sweeps.extend([0.0; 3]);
        }
    }
    corners.push(Point::new(0.0, h));
    sweeps.push(0.0);
    let n = corners.len();
    let round = rng.chance(0.5).then(|| rng.range(8.0, 22.0));
    let features: Vec<Feature> = (0..n)
        .map(|i| match round {
            Some(r) if i < 3 || i + 1 == n => Feature::Fillet(r),
            _ => Feature::Sharp,
        })
        .collect();
    shaped(&corners, &features, &sweeps)
}

/// An L, T or U with rounds, some large inside, some small outside.
fn bracket(rng: &mut Rng) -> Option<Path> {
    let (w, h) = (rng.range(80.0, 200.0), rng.range(70.0, 180.0));
    let (s, t) = (rng.range(18.0, 0.45 * w), rng.range(18.0, 0.45 * h));
    let points: Vec<(f64, f64)> = match rng.below(3) {
        0 => vec![(0.0, 0.0), (w, 0.0), (w, t), (s, t), (s, h), (0.0, h)],
        1 => {
            let x = 0.5 * (w - s);
            vec![
                (x, 0.0),
                (x + s, 0.0),
                (x + s, h - t),
                (w, h - t),
                (w, h),
                (0.0, h),
                (0.0, h - t),
                (x, h - t),
            ]
        }
        _ => vec![
            (0.0, 0.0),
            (w, 0.0),
            (w, h),
            (w - s, h),
            (w - s, t),
            (s, t),
            (s, h),
            (0.0, h),
        ],
    };
    let corners: Vec<Point> = points.into_iter().map(|(x, y)| Point::new(x, y)).collect();
    let (inner, outer) = (rng.range(8.0, 25.0), rng.range(8.0, 20.0));
    let n = corners.len();
    let (round_inner, chance) = (rng.chance(0.6), rng.range(0.0, 0.8));
    let features: Vec<Feature> = (0..n)
        .map(|i| {
            let (a, p, b) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
            if (p - a).cross(b - p) < 0.0 {
                if round_inner {
                    Feature::Fillet(inner)
                } else {
                    Feature::Sharp
                }
            } else if rng.chance(chance) {
                Feature::Fillet(outer)
            } else {
                Feature::Sharp
            }
        })
        .collect();
    shaped(&corners, &features, &vec![0.0; n])
}

/// A piece of a ring or of a disc.
fn sector(rng: &mut Rng) -> Option<Path> {
    let r = rng.range(60.0, 150.0);
    let sweep = rng.range(0.5, 2.6);
    let at = |r: f64, a: f64| {
        let v = Vec2::from_angle(a) * r;
        Point::new(v.x, v.y)
    };
    if rng.chance(0.35) {
        return chain(
            vec![Point::new(0.0, 0.0), at(r, 0.0), at(r, sweep)],
            vec![Shape::Line, arc(sweep), Shape::Line],
        );
    }
    let s = r * rng.range(0.35, 0.8);
    chain(
        vec![at(r, 0.0), at(r, sweep), at(s, sweep), at(s, 0.0)],
        vec![arc(sweep), Shape::Line, arc(-sweep), Shape::Line],
    )
}

/// Two parallel sides, some corners rounded or clipped.
fn trapezoid(rng: &mut Rng) -> Option<Path> {
    let (w, h) = (rng.range(80.0, 200.0), rng.range(40.0, 140.0));
    let (l, r) = (rng.range(0.0, 0.3) * w, rng.range(-0.2, 0.3) * w);
    let corners: Vec<Point> = [(0.0, 0.0), (w, 0.0), (w - r, h), (l, h)]
        .map(|(x, y)| Point::new(x, y))
        .to_vec();
    let features: Vec<Feature> = (0..4)
        .map(|_| match rng.below(4) {
            0 => Feature::Fillet(rng.range(8.0, 30.0)),
            1 => {
                let s = rng.range(8.0, 25.0);
                Feature::Chamfer(s, s)
            }
            _ => Feature::Sharp,
        })
        .collect();
    shaped(&corners, &features, &[0.0; 4])
}

/// A plate with one rounded ear: its top runs into an arc, tangent at both ends.
fn eared(rng: &mut Rng) -> Option<Path> {
    let (w, h) = (rng.range(70.0, 180.0), rng.range(30.0, 90.0));
    let r = rng.range(12.0, 30.0);
    let x = rng.range(r, w - r);
    let up = h + rng.range(10.0, 60.0);
    let whole = rng.chance(0.5);
    let top = [
        (w, h),
        (x + r, h),
        (x + r, up),
        (x - r, up),
        (x - r, h),
        (0.0, h),
    ];
    let mut corners: Vec<Point> = vec![Point::new(0.0, 0.0), Point::new(w, 0.0)];
    corners.extend(top.map(|(x, y)| Point::new(x, y)));
    let mut sweeps = vec![0.0; corners.len()];
    sweeps[4] = PI;
    let root = if whole && rng.chance(0.6) {
        Feature::Fillet(rng.range(8.0, 14.0))
    } else {
        Feature::Sharp
    };
    let mut features = vec![Feature::Sharp; corners.len()];
    (features[3], features[6]) = (root, root);
    shaped(&corners, &features, &sweeps)
}
