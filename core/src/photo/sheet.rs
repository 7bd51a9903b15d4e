//! A white sheet on the plate: four straight sides with the bright inside, found and measured.
//!
//! 1. Slopes of brightness (its logarithm) on a small picture; each steep place votes for the line across its
//!    slope (Hough 1962; Duda and Hart 1972), with the side it is bright on, so that a sheet's opposite sides
//!    are two directions.
//! 2. Of the strongest lines, four that close up with the bright side in, are steep along nearly all their
//!    length, and that a camera can see as the sheet.
//! 3. Each side is measured in the full picture where the slope across it is steepest, in many places; the
//!    lens's bend is what makes all four straightest ([`super::lens`]).
//!
//! A shadow's edge across the sheet is a line too, but not one with the sheet on its bright side all along.

use super::camera::Camera;
use super::fits::line;
use super::frame::{Frame, in_order, share};
use super::grid::Grid;
use super::lens::bend_of;
use super::picture::Picture;
use super::spots::tone;
use super::view::{Lens, View};
use crate::geom::{Point, Sorted as _, Vec2};
use core::f64::consts::TAU;

/// Directions that are told apart.
const DIRECTIONS: usize = 240;
/// Most lines that are tried.
const MOST_LINES: usize = 18;
/// Least step of the logarithm of brightness a pixel that counts as steep.
const STEEP: f64 = 0.035;
/// Share of a side that must be steep.
const LEAST_STEEP: f64 = 0.72;
/// Least share of the picture that a sheet takes.
const LEAST_AREA: f64 = 0.03;
/// Places along a side that are measured.
const PLACES: usize = 90;

/// A line with its bright side: `p · normal = offset`, the normal to the bright side.
#[derive(Clone, Copy, Debug)]
struct Side {
    normal: Vec2,
    offset: f64,
    votes: f64,
}

/// Where the brightness changes and how.
struct Slopes {
    x: Grid,
    y: Grid,
}

impl Slopes {
    fn of(grey: &Grid) -> Self {
        let t = grey.map(tone).soft(1.0);
        let mut out = Self {
            x: Grid::new(t.width, t.height),
            y: Grid::new(t.width, t.height),
        };
        let wide = t.width.max(1);
        for (i, (gx, gy)) in out.x.values.iter_mut().zip(&mut out.y.values).enumerate() {
            let (x, y) = ((i % wide) as isize, (i / wide) as isize);
            *gx = 0.5 * (t.at(x + 1, y) - t.at(x - 1, y));
            *gy = 0.5 * (t.at(x, y + 1) - t.at(x, y - 1));
        }
        out
    }

    fn at(&self, p: Point) -> Vec2 {
        Vec2::new(f64::from(self.x.between(p)), f64::from(self.y.between(p)))
    }
}

/// Looks for a sheet of sides `w` and `h`, either way round. What comes out has W nearer to the horizontal.
pub(super) fn find(
    picture: &Picture,
    sides: (f64, f64),
    lens: Lens,
) -> Option<(Frame, (f64, f64))> {
    let by = (picture.width().max(picture.height()) / 700).max(1);
    let grey = picture.grey(by);
    let slopes = Slopes::of(&grey);
    let lines = strongest(&slopes);
    let mut best: Option<(f64, [Point; 4], (f64, f64))> = None;
    let k = by as f64;
    let full = |p: Point| Point::new((p.x + 0.5) * k - 0.5, (p.y + 0.5) * k - 0.5);
    for (i, a) in lines.iter().enumerate() {
        for b in lines.iter().skip(i + 1) {
            // Opposite sides look at one another.
            if a.normal.dot(b.normal) > -0.75 {
                continue;
            }
            for (m, c) in lines.iter().enumerate() {
                for d in lines.iter().skip(m + 1) {
                    if c.normal.dot(d.normal) > -0.75 || a.normal.cross(c.normal).abs() < 0.5 {
                        continue;
                    }
                    let Some((corners, steep)) = closed(&slopes, [a, c, b, d]) else {
                        continue;
                    };
                    for size in [sides, (sides.1, sides.0)] {
                        let corners = corners.map(full);
                        if let Some(cost) = cost(&corners, steep, size, lens)
                            && best.as_ref().is_none_or(|x| cost < x.0)
                        {
                            best = Some((cost, corners, size));
                        }
                    }
                }
            }
        }
    }
    let (cost, corners, size) = best?;
    measured(picture, &in_order(corners)?, size, lens, cost, k)
}

/// The strongest lines, no two alike.
fn strongest(slopes: &Slopes) -> Vec<Side> {
    let (w, h) = (slopes.x.width, slopes.x.height);
    let reach = libm::hypot(w as f64, h as f64);
    let rows = (2.0 * reach) as usize / 2 + 2;
    let mut votes = Grid::new(DIRECTIONS, rows);
    for y in 2..h.saturating_sub(2) {
        for x in 2..w.saturating_sub(2) {
            let p = Point::new(x as f64, y as f64);
            let g = slopes.at(p);
            let steep = g.length();
            if steep < STEEP {
                continue;
            }
            let turn = g.angle().rem_euclid(TAU) / TAU * DIRECTIONS as f64;
            for off in -2..=2 {
                let direction = (turn as isize + off).rem_euclid(DIRECTIONS as isize) as usize;
                let normal = Vec2::from_angle(TAU * (direction as f64 + 0.5) / DIRECTIONS as f64);
                let row = ((p.to_vec().dot(normal) + reach) * 0.5) as usize;
                if let Some(v) = votes.values.get_mut(row * DIRECTIONS + direction) {
                    *v += steep.min(0.15) as f32;
                }
            }
        }
    }
    let mut peaks: Vec<Side> = Vec::new();
    let most = votes.highest(3);
    for (i, (v, m)) in votes.values.iter().zip(&most.values).enumerate() {
        if v >= m && *v > 0.5 {
            peaks.push(Side {
                normal: Vec2::from_angle(TAU * ((i % DIRECTIONS) as f64 + 0.5) / DIRECTIONS as f64),
                offset: 2.0 * ((i / DIRECTIONS) as f64 + 0.5) - reach,
                votes: f64::from(*v),
            });
        }
    }
    peaks.order_by(|a, b| b.votes.total_cmp(&a.votes));
    peaks.truncate(MOST_LINES);
    peaks
}

/// Where four sides meet, and which share of them is steep the right way; nothing where that is too little.
fn closed(slopes: &Slopes, sides: [&Side; 4]) -> Option<([Point; 4], f64)> {
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
    let (w, h) = (slopes.x.width as f64, slopes.x.height as f64);
    let inside = |p: &Point| p.x > -2.0 && p.y > -2.0 && p.x < w + 2.0 && p.y < h + 2.0;
    let middle = corners
        .iter()
        .fold(Vec2::new(0.0, 0.0), |s, p| s + p.to_vec() * 0.25);
    let bright_in = sides.iter().all(|s| middle.dot(s.normal) > s.offset);
    if !(corners.iter().all(inside) && bright_in) {
        return None;
    }
    let mut least: f64 = 1.0;
    let mut sum = 0.0;
    let [p, q, r, s] = corners;
    for (side, from, to) in [(a, p, q), (b, q, r), (c, r, s), (d, s, p)] {
        let n = ((from.distance(to) / 3.0) as usize).clamp(4, 200);
        let steep = (0..n).filter(|i| {
            let p = from.lerp(to, (*i as f64 + 0.5) / n as f64);
            (-2..=2)
                .any(|k| slopes.at(p + side.normal * f64::from(k)).dot(side.normal) > 0.7 * STEEP)
        });
        let share = steep.count() as f64 / n as f64;
        least = least.min(share);
        sum += 0.25 * share;
    }
    (least > LEAST_STEEP).then_some((corners, sum))
}

fn cost(corners: &[Point; 4], steep: f64, (w, h): (f64, f64), lens: Lens) -> Option<f64> {
    let corners = in_order(*corners)?;
    let share = share(&corners, lens);
    let view = View::of_rectangle(w, h, &corners, lens)?;
    let camera = Camera::of(&view, 2.0 * lens.middle.x.max(lens.middle.y));
    // Lines of the small picture are off by a pixel of it: a hundredth of the sheet.
    let fits = share > LEAST_AREA && camera.misfit < 0.05;
    fits.then(|| camera.misfit / 0.01 + 20.0 * (1.0 - steep) - 3.0 * libm::log(share))
}

/// The sides in the full picture, the lens they are straightest in, and the frame they make.
fn measured(
    picture: &Picture,
    corners: &[Point; 4],
    size: (f64, f64),
    lens: Lens,
    cost: f64,
    coarse: f64,
) -> Option<(Frame, (f64, f64))> {
    let [a, b, c, d] = *corners;
    let ends = [(a, b), (b, c), (c, d), (d, a)];
    let mut sides: Vec<Vec<Point>> = Vec::new();
    for (from, to) in ends {
        sides.push(edge(picture, from, to, 3.0 * coarse)?);
    }
    let (bend, _) = bend_of(&sides, lens);
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
    let camera = Camera::of(&view, 2.0 * lens.middle.x.max(lens.middle.y));
    (camera.misfit < 0.02).then_some((
        Frame {
            view,
            corners,
            cost,
            sure: 0.1 + 0.25 * rough,
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
        if out.len() < PLACES / 2 {
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
