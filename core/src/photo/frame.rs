//! The four marks at the corners of the frame, chosen among all spots.
//!
//! Beside real marks lie holes and blots about as large. Four spots are the frame when a camera can see a
//! rectangle of these sides so ([`super::camera`]), when they are alike *in mm on the plate* (what is far
//! looks smaller), round there, and of one contrast; each of it costs by how unusual it is, in squares of
//! standard deviations. Too dear a frame is refused, and so is one with another nearly as good:
//! the person then shows the corners.

use super::camera::Camera;
use super::mark::{MarkKind, Seen};
use super::view::{Lens, View};
use crate::geom::{Point, Vec2};

/// Most spots of one kind that are tried.
const MOST: usize = 26;
/// Least share of the picture's area that a frame takes.
const LEAST_AREA: f64 = 0.06;
/// Standard deviations of what marks of one hand and one camera differ by.
const MISFIT: f64 = 0.003;
const SIZE: f64 = 0.07;
const OVAL: f64 = 0.05;
const CONTRAST: f64 = 0.25;
/// A frame dearer than this is none.
const DEAREST: f64 = 15.0;
/// Another within this of the cheapest makes it doubtful.
const APART: f64 = 6.0;
/// Steepest view, radians (55°).
const STEEPEST: f64 = 0.96;

/// Four places that are the frame's corners: lower left, lower right, upper right, upper left.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    pub view: View,
    pub corners: [Point; 4],
    pub cost: f64,
    /// How well a corner is known, pixels.
    pub sure: f64,
}

/// What came of looking.
#[derive(Clone, Debug)]
pub(super) enum Found {
    One(Box<Frame>),
    /// Two that are about as good.
    Two,
    /// No four stand so.
    None,
}

/// All fours that could be a frame of sides `w` and `h`.
pub(super) fn candidates(seen: &[Seen], w: f64, h: f64, lens: Lens) -> Vec<Frame> {
    let mut frames: Vec<Frame> = Vec::new();
    for kind in [MarkKind::Dot, MarkKind::Cross] {
        for dark in [true, false] {
            let alike = seen.iter().filter(|s| s.kind == kind && s.dark == dark);
            let alike: Vec<&Seen> = alike.take(MOST).collect();
            fours(&alike, &mut |four| frames.extend(judged(four, w, h, lens)));
        }
    }
    frames
}

/// Finds the frame of sides `w` and `h`.
pub(super) fn find(seen: &[Seen], w: f64, h: f64, lens: Lens) -> Found {
    let frames = candidates(seen, w, h, lens);
    let best = frames
        .iter()
        .copied()
        .reduce(|a, b| if b.cost < a.cost { b } else { a });
    let Some(best) = best.filter(|f| f.cost < DEAREST) else {
        return Found::None;
    };
    let near = 0.02 * lens.reach;
    let other = frames.iter().any(|f| {
        let apart = f
            .corners
            .iter()
            .zip(&best.corners)
            .map(|(a, b)| a.distance(*b))
            .fold(0.0, f64::max);
        apart > near && f.cost < best.cost + APART
    });
    if other {
        Found::Two
    } else {
        Found::One(Box::new(best))
    }
}

/// Calls with every four of a list.
fn fours<'a>(list: &[&'a Seen], call: &mut dyn FnMut([&'a Seen; 4])) {
    for (i, a) in list.iter().enumerate() {
        for (j, b) in list.iter().enumerate().skip(i + 1) {
            // Marks seen askew differ in size, but not threefold.
            if !alike(a, b) {
                continue;
            }
            for (k, c) in list.iter().enumerate().skip(j + 1) {
                if !(alike(a, c) && alike(b, c)) {
                    continue;
                }
                for d in list
                    .iter()
                    .skip(k + 1)
                    .filter(|d| alike(a, d) && alike(b, d) && alike(c, d))
                {
                    call([a, b, c, d]);
                }
            }
        }
    }
}

fn alike(a: &Seen, b: &Seen) -> bool {
    a.radius < 3.0 * b.radius && b.radius < 3.0 * a.radius
}

/// Four corners in order about their middle, the lower left first: W lies along the sides that are nearer
/// to the picture's horizontal. Nothing where they are not convex.
pub(super) fn in_order(mut corners: [Point; 4]) -> Option<[Point; 4]> {
    let sum = corners
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.to_vec());
    let middle = Point::new(0.25 * sum.x, 0.25 * sum.y);
    // The picture's y runs down: by falling angle they run counter-clockwise on the plate.
    corners.sort_by(|a, b| (*b - middle).angle().total_cmp(&(*a - middle).angle()));
    let turn = |[a, b, c, d]: [Point; 4]| [b, c, d, a];
    let convex = |[a, b, c, d]: [Point; 4]| {
        let cross = |p: Point, q: Point, r: Point| (q - p).cross(r - q);
        [
            cross(a, b, c),
            cross(b, c, d),
            cross(c, d, a),
            cross(d, a, b),
        ]
        .iter()
        .all(|v| *v < 0.0)
    };
    for _ in 0..4 {
        let [a, b, c, d] = corners;
        let along = (b - a) + (c - d);
        if along.x > along.y.abs() {
            return convex(corners).then_some(corners);
        }
        corners = turn(corners);
    }
    None
}

/// Share of the picture that four corners take.
pub(super) fn share(corners: &[Point; 4], lens: Lens) -> f64 {
    let [a, b, c, d] = *corners;
    let area = 0.5 * (c - a).cross(d - b).abs();
    area / (4.0 * (lens.middle.x + 0.5) * (lens.middle.y + 0.5))
}

/// A frame with what it costs; nothing where it cannot be one.
fn judged(four: [&Seen; 4], w: f64, h: f64, lens: Lens) -> Option<Frame> {
    let corners = in_order(four.map(|s| s.at))?;
    let share = share(&corners, lens);
    if share < LEAST_AREA {
        return None;
    }
    let view = View::of_rectangle(w, h, &corners, lens)?;
    let long = 2.0 * lens.middle.x.max(lens.middle.y);
    let camera = Camera::of(&view, long);
    if camera.misfit > 6.0 * MISFIT || camera.tilt(&view) > STEEPEST {
        return None;
    }
    let square = |v: f64| v * v;
    let mut cost = square(camera.misfit / MISFIT) - 4.0 * libm::log(share);
    let sizes = four.map(|s| on_plate(&view, s));
    // What a mark's rim is rough by says how well its size can be told.
    let mean = sizes.iter().map(|s| libm::log(s.0)).sum::<f64>() / 4.0;
    for (seen, (radius, oval)) in four.iter().zip(sizes) {
        let vague = square(seen.rough / seen.radius) + square(1.0 / seen.radius);
        if seen.kind == MarkKind::Dot {
            cost += square(libm::log(radius) - mean) / (square(SIZE) + vague);
            cost += square(oval) / (square(OVAL) + vague);
        } else {
            cost += square(libm::log(radius) - mean) / square(3.0 * SIZE);
        }
    }
    let dark = four.iter().map(|s| s.contrast).sum::<f64>() / 4.0;
    let contrasts = four.iter().map(|s| {
        square(libm::log(s.contrast / dark)) / (square(CONTRAST) + square(2.0 / s.radius))
    });
    cost += contrasts.sum::<f64>();
    let rough = four.iter().map(|s| s.rough).fold(0.0, f64::max);
    Some(Frame {
        view,
        corners,
        cost,
        sure: 0.05 + 0.25 * rough,
    })
}

/// Radius of a mark on the plate, mm, and how far it is from round there (share of the radius).
fn on_plate(view: &View, seen: &Seen) -> (f64, f64) {
    let middle = view.plate(seen.at);
    if seen.kind == MarkKind::Cross {
        let (across, up) = view.rates(middle);
        return (seen.radius / libm::sqrt(across.cross(up).abs()), 0.0);
    }
    let rim = |angle: f64| {
        let (v, w) = (Vec2::from_angle(angle), Vec2::from_angle(2.0 * angle));
        let p = view.plate(seen.at + v * (seen.radius + seen.oval.dot(w)));
        p - middle
    };
    const PLACES: i32 = 12;
    let places: Vec<Vec2> = (0..PLACES)
        .map(|i| rim(core::f64::consts::TAU * f64::from(i) / f64::from(PLACES)))
        .collect();
    let mean = places.iter().map(|v| v.length()).sum::<f64>() / f64::from(PLACES);
    let most = places.iter().map(|v| v.length()).fold(0.0, f64::max);
    let least = places
        .iter()
        .map(|v| v.length())
        .fold(f64::INFINITY, f64::min);
    (mean, 0.5 * (most - least) / mean)
}
