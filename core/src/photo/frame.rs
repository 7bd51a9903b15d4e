//! The four marks at the corners of the frame, chosen among all spots.
//!
//! Beside real marks lie holes and blots about as large. Four spots are the frame when a camera that people carry, held
//! as they hold it, can see a rectangle of these sides so ([`super::camera`]), when they are alike *in mm on the plate*
//! (what is far looks smaller), round there or square to themselves, and stand out of their ground. Each of it costs by
//! how unusual it is, in squares of standard deviations; marks are made by hands, so that one odd size costs only a
//! little more than a half odd one. Too dear a frame is refused, and so is one with another nearly as good:
//! the person then shows the corners.

use super::camera::Camera;
use super::mark::{MarkKind, Seen};
use super::view::{Lens, View};
use crate::geom::{Point, Vec2};

/// Most spots of one kind that are tried.
const MOST: usize = 36;
/// Most spots of one size that are tried, and how many times as large as the least of them the largest is.
const MOST_SIZED: usize = 24;
const SIZED: f64 = 3.0;
/// Least share of the picture's area that a frame takes.
const LEAST_AREA: f64 = 0.06;
/// Standard deviations of what marks of one hand and one camera differ by.
const MISFIT: f64 = 0.004;
const SIZE: f64 = 0.09;
const OVAL: f64 = 0.05;
const SQUARE: f64 = 0.12;
/// Natural logarithm of how long arms are.
const ARMS: f64 = 0.14;
/// Natural logarithm of the step of light at a mark's rim: what glares adds to both sides of it, shadows take of both.
const STEP: f64 = 0.4;
/// What stands out by less of its ground's own differences is an unlikely mark.
const STANDS_OUT: f64 = 6.0;
/// Radii of dots and lengths of arms that people make, mm.
const DOTS: (f64, f64) = (0.5, 12.0);
const CROSSES: (f64, f64) = (2.0, 30.0);
/// Among many spots some four fit by chance: it costs by how many are about as plain as the last of them, beyond this.
const CROWD: f64 = 6.0;
/// Most spots about a corner that was shown.
const ABOUT: usize = 6;
/// A frame dearer than this is none.
const DEAREST: f64 = 13.5;
/// A frame dearer than this is taken, and it is said that it may be another's: a blot may stand where a mark is missing, as
/// a camera would see that one.
const UNLIKE: f64 = 9.0;
/// Another within this of the cheapest makes it doubtful.
const APART: f64 = 2.0;
/// How far from a corner that a person shows the mark may be, as a share of the picture's half diagonal.
pub(super) const SHOWN: f64 = 0.035;
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
    /// How well the lens's bend is known, standard deviation.
    pub bends: f64,
}

impl Frame {
    /// Whether it is so dear that it is none.
    pub(super) const fn is_dear(&self) -> bool {
        self.cost >= DEAREST
    }

    /// Whether its marks are less alike, or stand less well, than those of most frames.
    pub(super) const fn is_doubtful(&self) -> bool {
        self.cost > UNLIKE
    }
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
            let alike: Vec<&Seen> = alike.collect();
            of_list(&alike, MOST, (w, h), lens, &mut frames);
            // Texture makes small spots by the hundred: those of about one size are tried by themselves too.
            let mut least = 1.0;
            while alike.len() > MOST && least < lens.reach {
                let sized = |s: &&&Seen| s.radius >= least && s.radius < SIZED * least;
                let sized: Vec<&Seen> = alike.iter().filter(sized).copied().collect();
                of_list(&sized, MOST_SIZED, (w, h), lens, &mut frames);
                least *= 2.0;
            }
        }
    }
    frames
}

/// The fours of a list, the plainest first.
fn of_list(list: &[&Seen], most: usize, (w, h): (f64, f64), lens: Lens, frames: &mut Vec<Frame>) {
    fours(list.get(..most).unwrap_or(list), &mut |four, last| {
        if let Some(mut frame) = judged(four, w, h, lens) {
            let crowd = last.max(as_plain(list, last)) as f64 / CROWD;
            frame.cost += 3.0 * libm::log(crowd.max(1.0));
            frames.push(frame);
        }
    });
}

/// How many spots of a list, the plainest first, are about as plain as one of it.
fn as_plain(list: &[&Seen], one: usize) -> usize {
    let Some(least) = list.get(one).map(|s| s.plain() - 0.4) else {
        return 0;
    };
    list.partition_point(|s| s.plain() > least)
}

/// Finds the frame of sides `w` and `h`.
pub(super) fn find(seen: &[Seen], w: f64, h: f64, lens: Lens) -> Found {
    let frames = candidates(seen, w, h, lens);
    let best = frames
        .iter()
        .copied()
        .reduce(|a, b| if b.cost < a.cost { b } else { a });
    let Some(best) = best.filter(|f| !f.is_dear()) else {
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

/// The frame whose marks stand near the corners that a person showed.
pub(super) fn near(
    seen: &[Seen],
    shown: &[Point; 4],
    (w, h): (f64, f64),
    lens: Lens,
) -> Option<Frame> {
    let far = SHOWN * lens.reach;
    let mut best: Option<Frame> = None;
    for kind in [MarkKind::Dot, MarkKind::Cross] {
        for dark in [true, false] {
            let about = shown.map(|p| {
                let alike = seen.iter().filter(|s| s.kind == kind && s.dark == dark);
                let near = alike.filter(|s| s.at.distance(p) < far);
                near.take(ABOUT).collect::<Vec<&Seen>>()
            });
            let [a, b, c, d] = &about;
            let fours = a.iter().flat_map(|p| {
                let rest = b.iter().flat_map(move |q| c.iter().map(move |r| (*q, *r)));
                rest.flat_map(move |(q, r)| d.iter().map(move |s| [*p, q, r, *s]))
            });
            for four in fours {
                let Some(mut frame) = judged(four, w, h, lens) else {
                    continue;
                };
                let off = frame.corners.iter().zip(shown);
                frame.cost += off
                    .map(|(p, q)| 3.0 * p.distance(*q) / far)
                    .map(|v| v * v)
                    .sum::<f64>();
                if best.is_none_or(|b| frame.cost < b.cost) {
                    best = Some(frame);
                }
            }
        }
    }
    best.filter(|f| f.cost < 2.0 * DEAREST)
}

/// Calls with every four of a list, and the place of the last of them.
fn fours<'a>(list: &[&'a Seen], call: &mut dyn FnMut([&'a Seen; 4], usize)) {
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
                for (last, d) in list.iter().enumerate().skip(k + 1) {
                    if alike(a, d) && alike(b, d) && alike(c, d) {
                        call([a, b, c, d], last);
                    }
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

/// What something costs that is so many squared standard deviations off, where hands made it: far ones cost less than
/// their square.
fn tail(square: f64) -> f64 {
    4.0 * libm::log(1.0 + 0.25 * square)
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
    let tilt = camera.tilt(&view);
    if camera.misfit > 6.0 * MISFIT || tilt > STEEPEST {
        return None;
    }
    let square = |v: f64| v * v;
    let mut cost = square(camera.misfit / MISFIT) + square(camera.unusual);
    cost += square(tilt / STEEPEST) - 4.0 * libm::log(share);
    let sizes = four.map(|s| on_plate(&view, s));
    let mean = sizes.iter().map(|s| libm::log(s.size)).sum::<f64>() / 4.0;
    for (seen, form) in four.iter().zip(sizes) {
        let off = square(libm::log(form.size) - mean);
        // What a mark's rim is rough by says how well its size can be told.
        let vague = square(seen.rough / seen.radius) + square(1.0 / seen.radius);
        let (usual, size, odd) = match seen.kind {
            MarkKind::Dot => (DOTS, SIZE, square(OVAL) + vague),
            MarkKind::Cross => (CROSSES, ARMS, square(SQUARE) + vague),
        };
        if form.size < usual.0 || form.size > usual.1 {
            return None;
        }
        cost += tail(off / (square(size) + vague)) + tail(square(form.odd) / odd);
        cost += square((0.5 * (STANDS_OUT - seen.stands_out)).max(0.0));
    }
    let dark = four.iter().map(|s| libm::log(s.step)).sum::<f64>() / 4.0;
    for seen in four {
        cost += tail(square((libm::log(seen.step) - dark) / STEP));
    }
    let rough = four.iter().map(|s| s.rough).fold(0.0, f64::max);
    Some(Frame {
        view,
        corners,
        cost,
        sure: 0.05 + 0.25 * rough,
        bends: super::lens::USUAL,
    })
}

/// A mark on the plate.
#[derive(Clone, Copy)]
struct Form {
    /// Radius of a dot, length of an arm, mm.
    size: f64,
    /// How far a dot is from round there, as a share of its radius; how far arms are off the square, radians.
    odd: f64,
}

fn on_plate(view: &View, seen: &Seen) -> Form {
    let middle = view.plate(seen.at);
    if seen.kind == MarkKind::Cross {
        let [u, v] = seen.arms.map(|a| view.plate(seen.at + a) - middle);
        let turn = libm::atan2(u.cross(v).abs(), u.dot(v));
        return Form {
            size: 0.5 * (u.length() + v.length()),
            odd: (turn - core::f64::consts::FRAC_PI_2).abs(),
        };
    }
    let rim = |angle: f64| {
        let (v, w) = (Vec2::from_angle(angle), Vec2::from_angle(2.0 * angle));
        let p = view.plate(seen.at + v * (seen.radius + seen.oval.dot(w)));
        p - middle
    };
    const PLACES: i32 = 12;
    let places = (0..PLACES)
        .map(|i| rim(core::f64::consts::TAU * f64::from(i) / f64::from(PLACES)).length());
    let (mut sum, mut most, mut least) = (0.0, 0.0, f64::INFINITY);
    for r in places {
        sum += r;
        most = f64::max(most, r);
        least = f64::min(least, r);
    }
    let mean = sum / f64::from(PLACES);
    Form {
        size: mean,
        odd: 0.5 * (most - least) / mean,
    }
}
