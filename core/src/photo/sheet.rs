//! A white sheet on the plate: four straight sides with the bright inside, found and measured.
//!
//! 1. Where the brightness (its logarithm) is steepest across its slope, on a small picture softened little and much
//!    (the grain of a plate is narrow, a sheet's side is long), is a place of an edge. Each votes for the line
//!    across its slope (Hough 1962; Duda and Hart 1972), with the side it is bright on, so that a sheet's opposite
//!    sides are two directions. The strongest lines are laid anew through the places along them.
//! 2. Of these lines, four that close up with the bright side in, that a camera can see as the sheet, and across which
//!    it is brighter inside nearly all along, near by and a little farther off: a joint or a drawn line is
//!    bright again beyond.
//! 3. Each side is measured in the full picture where the slope across it is steepest, in many places; the
//!    lens's bend is what makes all four straightest ([`super::lens`]).
//!
//! A shadow's edge across the sheet is a line too, but not one with the sheet on its bright side all along.

use super::camera::Camera;
use super::fits::line;
use super::frame::{Frame, SHOWN, in_order, share};
use super::grid::Grid;
use super::lens::bend_of;
use super::picture::Picture;
use super::spots::tone;
use super::view::{Lens, View};
use crate::geom::{Point, Sorted as _, Vec2};
use core::f64::consts::TAU;

/// Directions that are told apart, and pixels between offsets.
const DIRECTIONS: usize = 360;
const OFFSETS: f64 = 1.5;
/// How much the small picture is softened, pixels.
const SOFT: [f64; 2] = [1.2, 3.0];
/// Most lines that are tried of each softness.
const MOST_LINES: usize = 26;
/// Most fours that are measured, the best first.
const MOST_FOURS: usize = 4;
/// Least step of the logarithm of brightness across a side.
const STEP: f32 = 0.03;
/// Least that is seen of one side, and of all four in the mean: 1 is a step all along.
const LEAST_SIDE: f64 = 0.3;
const LEAST_MEAN: f64 = 0.55;
/// Least share of the picture that a sheet takes.
const LEAST_AREA: f64 = 0.03;
/// Form and view as [`super::frame`] has them.
const MISFIT: f64 = 0.006;
const STEEPEST: f64 = 0.96;
/// Places along a side that are measured.
const PLACES: usize = 90;

/// A line with its bright side: `p · normal = offset`, the normal to the bright side.
#[derive(Clone, Copy, Debug)]
struct Side {
    normal: Vec2,
    offset: f64,
    votes: f64,
}

/// A place of an edge: where, which way it is brighter, and how steep.
#[derive(Clone, Copy, Debug)]
struct Place {
    at: Point,
    to: Vec2,
    steep: f32,
}

/// A sheet that may be.
#[derive(Clone, Copy, Debug)]
struct Four {
    cost: f64,
    corners: [Point; 4],
    size: (f64, f64),
}

/// Looks for a sheet of sides `w` and `h`, either way round. What comes out has W nearer to the horizontal.
pub(super) fn find(
    picture: &Picture,
    sides: (f64, f64),
    lens: Lens,
) -> Option<(Frame, (f64, f64))> {
    let by = (picture.width().max(picture.height()) / 700).max(1);
    let tones = picture.grey(by).map(tone);
    let mut lines: Vec<Side> = Vec::new();
    for soft in SOFT {
        for line in strongest(&tones.soft(soft)) {
            let same = |l: &Side| {
                l.normal.dot(line.normal) > 0.9995 && (l.offset - line.offset).abs() < 2.0
            };
            if !lines.iter().any(same) {
                lines.push(line);
            }
        }
    }
    let k = by as f64;
    let full = |p: Point| Point::new((p.x + 0.5) * k - 0.5, (p.y + 0.5) * k - 0.5);
    let seen = tones.soft(1.0);
    let mut all: Vec<Four> = Vec::new();
    for (a, b) in opposite(&lines).filter(|(a, b)| a.normal.x > b.normal.x) {
        for (c, d) in opposite(&lines) {
            // Each four once.
            if a.normal.cross(c.normal) < 0.5 {
                continue;
            }
            let Some(corners) = closed(&seen, [a, c, b, d]) else {
                continue;
            };
            let shown = corners.map(full);
            let sizes = [sides, (sides.1, sides.0)];
            let likely: Vec<Four> = sizes
                .iter()
                .filter_map(|&size| likely(&shown, size, lens))
                .collect();
            if likely.is_empty() {
                continue;
            }
            if let Some(bright) = bright_inside(&seen, [a, c, b, d], &corners) {
                all.extend(likely.iter().map(|f| Four {
                    cost: f.cost + 20.0 * (1.0 - bright),
                    ..*f
                }));
            }
        }
    }
    all.order_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut tried: Vec<[Point; 4]> = Vec::new();
    for four in all {
        let near = |t: &[Point; 4]| {
            let pairs = t.iter().zip(&four.corners);
            pairs.map(|(p, q)| p.distance(*q)).fold(0.0, f64::max) < 6.0 * k
        };
        if tried.iter().any(near) {
            continue;
        }
        if tried.len() == MOST_FOURS {
            break;
        }
        tried.push(four.corners);
        let found = twice(picture, &four, lens, 5.0 * k, 2.0 * k);
        if found.is_some() {
            return found;
        }
    }
    None
}

/// The sheet whose corners a person showed, about.
pub(super) fn near(
    picture: &Picture,
    corners: &[Point; 4],
    size: (f64, f64),
    lens: Lens,
) -> Option<(Frame, (f64, f64))> {
    let four = Four {
        cost: 0.0,
        corners: *corners,
        size,
    };
    let far = SHOWN * lens.reach;
    twice(picture, &four, lens, far, 0.15 * far)
}

/// Measured within one distance, and again within a smaller one: another edge beside the sheet's is left behind.
fn twice(
    picture: &Picture,
    four: &Four,
    lens: Lens,
    far: f64,
    near: f64,
) -> Option<(Frame, (f64, f64))> {
    let (first, _) = measured(picture, four, lens, far)?;
    let four = Four {
        corners: first.corners,
        ..*four
    };
    let found = measured(picture, &four, lens, near)?;
    let (frame, _) = &found;
    let camera = Camera::of(&frame.view, 2.0 * lens.middle.x.max(lens.middle.y));
    // A sheet's side is straight to a pixel or so; what is not was no side.
    let straight = frame.sure < 0.1 + 0.25 * (0.8 + 0.0003 * lens.reach);
    (straight && camera.misfit < 2.5 * MISFIT).then_some(found)
}

/// Pairs of lines that look at one another.
fn opposite(lines: &[Side]) -> impl Iterator<Item = (&Side, &Side)> {
    lines.iter().flat_map(move |a| {
        let facing = lines.iter().filter(|b| a.normal.dot(b.normal) < -0.75);
        facing.map(move |b| (a, b))
    })
}

/// The strongest lines of a picture, no two alike.
fn strongest(tones: &Grid) -> Vec<Side> {
    let places = places(tones);
    let reach = libm::hypot(tones.width as f64, tones.height as f64);
    let rows = (2.0 * reach / OFFSETS) as usize + 2;
    let mut votes = Grid::new(DIRECTIONS, rows);
    let normal = |i: usize| Vec2::from_angle(TAU * (i as f64 + 0.5) / DIRECTIONS as f64);
    for p in &places {
        let turn = p.to.angle().rem_euclid(TAU) / TAU * DIRECTIONS as f64;
        for off in -4..=4 {
            let direction = (turn as isize + off).rem_euclid(DIRECTIONS as isize) as usize;
            let row = ((p.at.to_vec().dot(normal(direction)) + reach) / OFFSETS) as usize;
            if let Some(v) = votes.values.get_mut(row * DIRECTIONS + direction) {
                *v += p.steep;
            }
        }
    }
    let mut peaks: Vec<Side> = Vec::new();
    let most = votes.highest(3);
    for (i, (v, m)) in votes.values.iter().zip(&most.values).enumerate() {
        if v >= m && *v > 6.0 {
            peaks.push(Side {
                normal: normal(i % DIRECTIONS),
                offset: OFFSETS * ((i / DIRECTIONS) as f64 + 0.5) - reach,
                votes: f64::from(*v),
            });
        }
    }
    peaks.order_by(|a, b| b.votes.total_cmp(&a.votes));
    peaks.truncate(MOST_LINES);
    peaks.iter().map(|side| laid(side, &places)).collect()
}

/// Places where a slope is steeper than on both sides of it, along itself.
fn places(t: &Grid) -> Vec<Place> {
    let slope = |x: isize, y: isize| {
        Vec2::new(
            f64::from(t.at(x + 1, y) - t.at(x - 1, y)),
            f64::from(t.at(x, y + 1) - t.at(x, y - 1)),
        ) * 0.5
    };
    let mut steep = Grid::new(t.width, t.height);
    let wide = t.width.max(1);
    for (i, v) in steep.values.iter_mut().enumerate() {
        *v = slope((i % wide) as isize, (i / wide) as isize).length() as f32;
    }
    let usual = steep.quantile(0.75).max(0.002);
    let strong = steep.quantile(0.98).max(4.0 * usual);
    let mut out = Vec::new();
    for y in 2..t.height.saturating_sub(2) {
        for x in 2..t.width.saturating_sub(2) {
            let s = steep.at(x as isize, y as isize);
            if s < usual {
                continue;
            }
            let at = Point::new(x as f64, y as f64);
            let Some(to) = slope(x as isize, y as isize).unit() else {
                continue;
            };
            if s >= steep.between(at + to) && s > steep.between(at + (-to)) {
                let steep = (s / strong).min(1.0);
                out.push(Place { at, to, steep });
            }
        }
    }
    out
}

/// A line laid anew through the places along it.
fn laid(side: &Side, places: &[Place]) -> Side {
    let mut out = *side;
    for reach in [3.0, 2.0] {
        let along: Vec<Point> = places
            .iter()
            .filter(|p| {
                (p.at.to_vec().dot(out.normal) - out.offset).abs() < reach
                    && p.to.dot(out.normal) > 0.96
            })
            .map(|p| p.at)
            .collect();
        let Some((middle, direction)) = line(&along).filter(|_| along.len() > 10) else {
            return out;
        };
        let across = direction.left();
        let normal = match across.dot(out.normal) > 0.0 {
            true => across,
            false => -across,
        };
        if normal.dot(side.normal) < 0.998 {
            return out;
        }
        out = Side {
            normal,
            offset: middle.to_vec().dot(normal),
            ..out
        };
    }
    out
}

/// Where four sides meet, in turn; nothing where that is beyond the picture, or bright outside.
fn closed(tones: &Grid, sides: [&Side; 4]) -> Option<[Point; 4]> {
    let meet = |a: &Side, b: &Side| {
        let below = a.normal.cross(b.normal);
        let v = Vec2::new(
            a.offset * b.normal.y - b.offset * a.normal.y,
            b.offset * a.normal.x - a.offset * b.normal.x,
        ) * (1.0 / below);
        Point::new(v.x, v.y)
    };
    let [a, b, c, d] = sides;
    let corners = [meet(d, a), meet(a, b), meet(b, c), meet(c, d)];
    let (w, h) = (tones.width as f64, tones.height as f64);
    let inside = |p: &Point| p.x > -2.0 && p.y > -2.0 && p.x < w + 2.0 && p.y < h + 2.0;
    let middle = corners
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.to_vec() * 0.25);
    let bright_in = sides.iter().all(|s| middle.dot(s.normal) > s.offset);
    (corners.iter().all(inside) && bright_in).then_some(corners)
}

/// How much of four sides is brighter inside, 0..1; nothing where that is too little.
fn bright_inside(tones: &Grid, sides: [&Side; 4], corners: &[Point; 4]) -> Option<f64> {
    let mut sum = 0.0;
    let [p, q, r, s] = *corners;
    let [a, b, c, d] = sides;
    for (side, from, to) in [(a, p, q), (b, q, r), (c, r, s), (d, s, p)] {
        let n = ((from.distance(to) / 4.0) as usize).clamp(6, 120);
        let seen: f64 = (0..n)
            .map(|i| {
                let p = from.lerp(to, (i as f64 + 0.5) / n as f64);
                let at = |k: f64| tones.between(p + side.normal * k);
                let near = 0.5 * (at(1.5) + at(3.0) - at(-1.5) - at(-3.0));
                let far = at(5.0) - at(-10.0).max(at(-8.0));
                match (near > STEP, near < -STEP, far > 0.7 * STEP) {
                    (true, _, true) => 1.0,
                    (true, _, false) => 0.3,
                    (_, true, _) => -0.5,
                    _ => 0.1,
                }
            })
            .sum();
        let share = seen / n as f64;
        if share < LEAST_SIDE {
            return None;
        }
        sum += 0.25 * share;
    }
    (sum > LEAST_MEAN).then_some(sum)
}

/// What four corners cost as a sheet; nothing where no camera can see one so.
fn likely(corners: &[Point; 4], size: (f64, f64), lens: Lens) -> Option<Four> {
    let corners = in_order(*corners)?;
    let share = share(&corners, lens);
    if share < LEAST_AREA {
        return None;
    }
    let view = View::of_rectangle(size.0, size.1, &corners, lens)?;
    let camera = Camera::of(&view, 2.0 * lens.middle.x.max(lens.middle.y));
    // Lines of the small picture are off by half a pixel of it: a part in two hundred of the sheet.
    let fits = camera.misfit < 5.0 * MISFIT && camera.tilt(&view) < STEEPEST;
    let (m, u) = (camera.misfit / MISFIT, camera.unusual);
    fits.then(|| Four {
        cost: m * m + u * u - 3.0 * libm::log(share),
        corners,
        size,
    })
}

/// The sides in the full picture, the lens they are straightest in, and the frame they make.
fn measured(picture: &Picture, four: &Four, lens: Lens, reach: f64) -> Option<(Frame, (f64, f64))> {
    let Four {
        cost,
        corners,
        size,
    } = *four;
    let [a, b, c, d] = corners;
    let ends = [(a, b), (b, c), (c, d), (d, a)];
    let mut sides: Vec<Vec<Point>> = Vec::new();
    for (from, to) in ends {
        sides.push(edge(picture, from, to, reach)?);
    }
    let (bend, bends) = bend_of(&sides, lens);
    let lens = Lens { bend, ..lens };
    let mut lines = Vec::new();
    let mut rough: f64 = 0.0;
    for side in &sides {
        let flat: Vec<Point> = side.iter().map(|p| lens.unbent(*p)).collect();
        let (p, u) = line(&flat)?;
        let mean = flat.iter().map(|q| (*q - p).cross(u).abs()).sum::<f64>() / flat.len() as f64;
        rough = rough.max(mean);
        lines.push((p, u));
    }
    let corner = |i: usize, j: usize| {
        let ((p, u), (q, v)) = (*lines.get(i)?, *lines.get(j)?);
        Some(lens.bent(p + u * ((q - p).cross(v) / u.cross(v))))
    };
    let corners = [corner(3, 0)?, corner(0, 1)?, corner(1, 2)?, corner(2, 3)?];
    let view = View::of_rectangle(size.0, size.1, &corners, lens)?;
    Some((
        Frame {
            view,
            corners,
            cost,
            sure: 0.1 + 0.25 * rough,
            bends,
        },
        size,
    ))
}

/// Where a side is steepest, in many places of it; those off the line of the others are left out. Nothing
/// where too few are left.
fn edge(picture: &Picture, from: Point, to: Point, reach: f64) -> Option<Vec<Point>> {
    // Bright lies to the left on the plate, which is the right of the picture's own axes: rows run down.
    let along = (to - from).unit()?;
    let inward = Vec2::new(along.y, -along.x);
    let mut out: Vec<Point> = Vec::new();
    for i in 0..PLACES {
        let p = from.lerp(to, 0.03 + 0.94 * (i as f64 + 0.5) / PLACES as f64);
        let n = (2.0 * reach) as usize + 8;
        let mut row = Grid::new(n, 1);
        for (k, v) in row.values.iter_mut().enumerate() {
            let q = p + inward * (k as f64 - 0.5 * n as f64);
            let beside = along * 1.5;
            *v =
                (picture.light(q) + picture.light(q + beside) + picture.light(q + (-beside))) / 3.0;
        }
        if let Some(at) = step_of(&row) {
            out.push(p + inward * (at - 0.5 * n as f64));
        }
    }
    for keep in [4.0, 3.0, 3.0] {
        if out.len() < PLACES / 3 {
            return None;
        }
        let bow = bow(&out, from, along)?;
        let mut offs: Vec<f32> = out.iter().map(|p| bow(*p).abs() as f32).collect();
        let typical = f64::from(super::grid::quantile(&mut offs, 0.5)).max(0.1);
        out.retain(|p| bow(*p).abs() < keep * 1.5 * typical);
    }
    Some(out)
}

/// How far points are off the parabola through all of them.
fn bow(points: &[Point], from: Point, along: Vec2) -> Option<impl Fn(Point) -> f64 + use<>> {
    let across = along.left();
    let long = points
        .iter()
        .map(|p| (*p - from).dot(along))
        .fold(1.0, f64::max);
    let place = move |p: Point| {
        let t = (p - from).dot(along) / long;
        ([1.0, t, t * t], (p - from).dot(across))
    };
    let form = super::fits::least_squares(points.iter().map(|p| place(*p)))?;
    Some(move |p: Point| {
        let (row, value) = place(p);
        value - row.iter().zip(&form).map(|(a, b)| a * b).sum::<f64>()
    })
}

/// Where a row rises most over a few pixels, at half its step there.
fn step_of(row: &Grid) -> Option<f64> {
    let s = row.soft(1.2);
    let n = s.width as isize;
    let rise = |i: isize| s.at(i + 2, 0) - s.at(i - 2, 0);
    let best = (4..n - 4).max_by(|a, b| rise(*a).total_cmp(&rise(*b)))?;
    let (low, high) = (s.at(best - 6, 0), s.at(best + 6, 0));
    if high - low < 0.01 {
        return None;
    }
    let level = 0.5 * (low + high);
    for i in best - 5..best + 5 {
        let (sa, sb) = (s.at(i, 0), s.at(i + 1, 0));
        if sa < level && sb >= level {
            return Some(i as f64 + f64::from((level - sa) / (sb - sa)));
        }
    }
    None
}
