//! A part that lies on the plate or on paper: its silhouette and its holes.
//!
//! 1. The ground's tone is a smooth surface (light falls off, papers bow): a parabola over the frame, fitted to
//!    what is not the part in a few rounds, what is far from it left out more and more.
//! 2. What differs from it by more than half of what the part does is part; the largest piece is taken, with
//!    holes in which the ground shows.
//! 3. Its rim is measured square to itself where the light passes half-way between either side, to a small
//!    part of a pixel.
//!
//! What its thickness does to it is taken out by [`thick`](super::thick).
//!
//! Fails where a hard shadow lies against the rim and is as dark as the part.

use super::fits::least_squares;
use super::flat::{Area, Flat};
use super::grid::{Grid, quantile};
use super::ink::Pieces;
use super::profile::{even, smooth};
use crate::Refusal;
use crate::geom::{Point, Sorted as _, Vec2};
use std::collections::BTreeMap;

/// Pixels of the grid the part is first seen on, about.
const COARSE: f64 = 4.0e5;
/// Least difference of tone (logarithm of light) of part and ground.
const LEAST: f32 = 0.25;
/// And where what is found runs out of the area, others: a shadow that the part lies in is left under them.
const LEVELS: [f32; 4] = [LEAST, 0.45, 0.8, 1.3];
/// What is narrower than this all along is a drawn line rather than a part, mm.
const THREAD: f64 = 5.0;
/// Holes smaller than this are specks, mm².
const SPECK: f64 = 8.0;
/// Spacing of the rim's points, mm.
pub(super) const STEP: f64 = 0.5;
/// A rim is no rim where the tone's step is less than this share of the usual one; and more than so many of such places are
/// told.
const WEAK: f64 = 0.33;
const MOST_WEAK: f64 = 0.025;

/// A place of a rim as it is seen in the plane of the frame, and the way out of the part there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rim {
    pub at: Point,
    pub outward: Vec2,
    /// By how much the ground is brighter than the part, logarithm of light.
    pub step: f64,
}

/// What was taken for the part.
pub(super) struct Part {
    /// Its rims, the outer one first; closed, the end not on the start.
    pub rims: Vec<Vec<Rim>>,
    /// Where a rim was not seen plainly, if that is more than a little of it.
    pub vague: Option<Point>,
}

/// Finds the part in an area and measures its rims.
pub(super) fn find(
    flat: &Flat,
    light: &Grid,
    area: Area,
    keep: &dyn Fn(Point) -> bool,
) -> Result<Part, Refusal> {
    let (w, h) = flat.size();
    let by = (libm::sqrt(w as f64 * h as f64 / COARSE) as usize).max(1);
    let tones = light
        .reduced(by)
        .map(|v| libm::logf(v.max(0.0) + 0.012))
        .soft(0.8);
    let inside: Vec<bool> = (0..tones.values.len())
        .map(|i| {
            let p = flat.plate((i % tones.width) as f64, (i / tones.width) as f64, by);
            let seen = flat
                .seen
                .get((i / tones.width) * by * w + (i % tones.width) * by);
            seen.is_some_and(|s| *s) && area.holds(p) && keep(p)
        })
        .collect();
    let none = || {
        Refusal::Trace("no part is seen that stands out from what it lies on: lay it on paper brighter or darker than itself, within the frame and clear of the marks".into())
    };
    let mut best: Option<Piece> = None;
    let mut cut_off: Vec<Vec<bool>> = Vec::new();
    for dark in [true, false] {
        let differs = beside_ground(&tones, &inside, dark);
        let (found, left) = largest(&differs, &inside, flat.step * by as f64);
        cut_off.extend(left);
        if let Some(found) = found
            && best.as_ref().is_none_or(|b| found.plain > b.plain)
        {
            best = Some(found);
        }
    }
    let best = best.ok_or_else(none)?;
    if cut_off
        .iter()
        .any(|left| lies_in(&best.mask, left, tones.width))
    {
        return Err(Refusal::Trace("the part, or a shadow that is as dark, reaches the frame's side or a mark, and only a hole in it is whole: lay it clear of them, in light without shadows".into()));
    }
    let mut rims: Vec<(f64, Vec<Rim>)> = Vec::new();
    for rim in rims_of(&best.mask, tones.width) {
        let path: Vec<Point> = rim.iter().map(|p| flat.plate(p.x, p.y, by)).collect();
        let area = area_of(&path).abs();
        if path.len() < 8 || area < SPECK {
            continue;
        }
        if let Some(measured) = measured(flat, light, &path) {
            rims.push((area, measured));
        }
    }
    rims.order_by(|a, b| b.0.total_cmp(&a.0));
    let mut rims: Vec<Vec<Rim>> = rims.into_iter().map(|r| r.1).collect();
    let vague = plain_ones(&mut rims);
    match rims.is_empty() {
        true => Err(none()),
        false => Ok(Part { rims, vague }),
    }
}

/// Leaves out places of rims at which part and ground hardly differ, as they do elsewhere: shadows end there. Where one is,
/// if they are many.
fn plain_ones(rims: &mut [Vec<Rim>]) -> Option<Point> {
    let mut steps: Vec<f32> = rims.iter().flatten().map(|r| r.step as f32).collect();
    let typical = f64::from(quantile(&mut steps, 0.5));
    let is_plain = |r: &Rim| r.step / typical > WEAK;
    let weak = rims.iter().flatten().filter(|r| !is_plain(r)).count();
    let at = rims.iter().flatten().find(|r| !is_plain(r)).map(|r| r.at);
    for rim in rims.iter_mut() {
        rim.retain(is_plain);
    }
    at.filter(|_| weak as f64 > MOST_WEAK * steps.len() as f64)
}

/// Whether a piece lies within the box of another that is larger.
fn lies_in(piece: &[bool], other: &[bool], wide: usize) -> bool {
    let bounds = |mask: &[bool]| {
        let at = (0..mask.len()).filter(|i| mask.get(*i) == Some(&true));
        at.map(|i| (i % wide, i / wide))
            .fold((usize::MAX, 0, usize::MAX, 0), |(a, b, c, d), (x, y)| {
                (a.min(x), b.max(x), c.min(y), d.max(y))
            })
    };
    let count = |mask: &[bool]| mask.iter().filter(|b| **b).count();
    let ((a, b, c, d), (e, f, g, h)) = (bounds(piece), bounds(other));
    count(other) > count(piece) && a >= e && b <= f && c >= g && d <= h
}

/// How far the tone is beyond the ground's, to the dark or to the bright.
fn beside_ground(tones: &Grid, inside: &[bool], dark: bool) -> Grid {
    let sign = if dark { 1.0 } else { -1.0 };
    let place = |i: usize| {
        let x = (i % tones.width) as f64 / tones.width as f64 - 0.5;
        let y = (i / tones.width) as f64 / tones.height as f64 - 0.5;
        [1.0, x, y, x * x, x * y, y * y]
    };
    let sample: Vec<(usize, f64)> = tones
        .values
        .iter()
        .zip(inside)
        .enumerate()
        .step_by(17)
        .filter(|(_, (_, inside))| **inside)
        .map(|(i, (v, _))| (i, f64::from(sign * v)))
        .collect();
    // The ground is the brighter (or darker) side: begun high, what lies under is let go.
    let mut values: Vec<f32> = sample.iter().map(|s| s.1 as f32).collect();
    let start = f64::from(quantile(&mut values, 0.8));
    let mut form = [start, 0.0, 0.0, 0.0, 0.0, 0.0];
    let ground =
        |form: &[f64; 6], i: usize| place(i).iter().zip(form).map(|(a, b)| a * b).sum::<f64>();
    for width in [0.5, 0.35, 0.25, 0.2, 0.2] {
        let near = sample
            .iter()
            .filter(|(i, v)| (v - ground(&form, *i)).abs() < width);
        match least_squares(near.map(|(i, v)| (place(*i), *v))) {
            Some(f) => form = f,
            None => break,
        }
    }
    let mut out = tones.clone();
    for (i, v) in out.values.iter_mut().enumerate() {
        *v = (ground(&form, i) - f64::from(sign * *v)) as f32;
    }
    out
}

/// A piece that stands out.
struct Piece {
    /// How plain it is.
    plain: f64,
    mask: Vec<bool>,
}

/// The largest piece that stands out and does not run out of the area; and a larger one that does over a part of the area's
/// rim, if there is one at every level.
fn largest(differs: &Grid, inside: &[bool], pixel: f64) -> (Option<Piece>, Option<Vec<bool>>) {
    let edge = |i: &u32| {
        let i = *i as usize;
        [1, differs.width].iter().any(|d| {
            let beside = [i.checked_sub(*d), i.checked_add(*d)];
            beside
                .iter()
                .any(|j| j.is_none_or(|j| !inside.get(j).copied().unwrap_or(false)))
        })
    };
    let inner =
        (0..inside.len() as u32).filter(|i| inside.get(*i as usize).copied().unwrap_or(false));
    let around = inner.filter(|i| edge(i)).count();
    let (mut best, mut cut_off): (Option<Piece>, _) = (None, None);
    for level in LEVELS {
        let pieces = Pieces::of(&over(differs, inside, level), differs.width);
        // The ground round a part of the other tone stands out as well, but runs along the area's own rim.
        let (mut whole, mut cut): (Option<&Vec<u32>>, Option<&Vec<u32>>) = (None, None);
        for piece in pieces.pixels.iter().skip(1) {
            let beside = piece.iter().filter(|i| edge(i)).count();
            let to = match beside * 50 < piece.len() && beside * 25 < around {
                true => &mut whole,
                false if beside * 2 < around => &mut cut,
                false => continue,
            };
            *to = to.filter(|p| p.len() >= piece.len()).or(Some(piece));
        }
        let found = whole.and_then(|p| anew(p, differs, inside, pixel, level));
        let larger = cut.filter(|c| whole.is_none_or(|w| c.len() > w.len()));
        best = match (best, found) {
            (Some(a), Some(b)) => Some(if b.plain > a.plain { b } else { a }),
            (a, b) => a.or(b),
        };
        cut_off = larger.map(|c| mask_of(c, inside.len()));
        if cut_off.is_none() {
            break;
        }
    }
    (best, cut_off)
}

fn over(differs: &Grid, inside: &[bool], level: f32) -> Vec<bool> {
    let all = differs.values.iter().zip(inside);
    all.map(|(v, i)| *i && *v > level).collect()
}

fn mask_of(piece: &[u32], size: usize) -> Vec<bool> {
    let mut out = vec![false; size];
    for i in piece {
        if let Some(o) = out.get_mut(*i as usize) {
            *o = true;
        }
    }
    out
}

/// A piece anew at half of what it stands out by, and at a level at least.
fn anew(piece: &[u32], differs: &Grid, inside: &[bool], pixel: f64, least: f32) -> Option<Piece> {
    let area = piece.len() as f64 * pixel * pixel;
    let value = |i: &u32| differs.values.get(*i as usize).copied().unwrap_or(0.0);
    let mut values: Vec<f32> = piece.iter().map(value).collect();
    let typical = quantile(&mut values, 0.5);
    if area < 60.0 {
        return None;
    }
    let least = if least > LEAST { least } else { 0.5 * LEAST };
    let level = (0.5 * typical).max(least);
    let again = Pieces::of(&over(differs, inside, level), differs.width);
    let start = piece.iter().max_by(|a, b| value(a).total_cmp(&value(b)))?;
    let number = again.of.get(*start as usize)?;
    Some(Piece {
        plain: libm::sqrt(area) * f64::from(typical.min(1.5)),
        mask: mask_of(again.pixels.get(*number as usize)?, inside.len()),
    })
}

/// The rims of a mask in pixels: outer ones one way round, those of holes the other.
fn rims_of(mask: &[bool], wide: usize) -> Vec<Vec<Point>> {
    let at = |x: isize, y: isize| {
        let inside = x >= 0 && y >= 0 && x < wide as isize;
        inside
            && mask
                .get(y as usize * wide + x as usize)
                .copied()
                .unwrap_or(false)
    };
    // Sides of pixels with the mask to the left, from corner to corner (corner (x, y) is the pixel's upper left).
    let mut sides: BTreeMap<(isize, isize), Vec<(isize, isize)>> = BTreeMap::new();
    for i in (0..mask.len()).filter(|i| mask.get(*i).copied().unwrap_or(false)) {
        let (x, y) = ((i % wide) as isize, (i / wide) as isize);
        let mut side = |from, to, out: bool| {
            if !out {
                sides.entry(from).or_default().push(to);
            }
        };
        side((x + 1, y), (x, y), at(x, y - 1));
        side((x, y), (x, y + 1), at(x - 1, y));
        side((x, y + 1), (x + 1, y + 1), at(x, y + 1));
        side((x + 1, y + 1), (x + 1, y), at(x + 1, y));
    }
    let mut out = Vec::new();
    while let Some(start) = sides.keys().next().copied() {
        let mut run = Vec::new();
        let mut at = start;
        while let Some(next) = sides.get_mut(&at).and_then(Vec::pop) {
            if sides.get(&at).is_some_and(Vec::is_empty) {
                sides.remove(&at);
            }
            run.push(Point::new(at.0 as f64 - 0.5, at.1 as f64 - 0.5));
            at = next;
        }
        sides.remove(&at);
        out.push(run);
    }
    out
}

fn area_of(path: &[Point]) -> f64 {
    let ends = path.iter().zip(path.iter().cycle().skip(1));
    0.5 * ends.map(|(a, b)| a.to_vec().cross(b.to_vec())).sum::<f64>()
}

/// A rim to a small part of a pixel; `None` where it is no rim.
fn measured(flat: &Flat, light: &Grid, path: &[Point]) -> Option<Vec<Rim>> {
    let path = even(&smooth(path, true, 0.6), true, STEP);
    let n = path.len();
    let value = |p: Point| f64::from(light.between(flat.pixel(p)));
    let reach = (3.0 * flat.step).max(1.2);
    let fine = (0.4 * flat.step).min(0.08);
    let steps = (reach / fine) as i32;
    let mut out = Vec::with_capacity(n + 1);
    for (i, p) in path.iter().enumerate() {
        let at = |k: usize| path.get((i + k) % n).copied().unwrap_or_default();
        let along = (at(2) - at(n - 2)).unit()?;
        // The part lies to the left of its outer rim and of its holes' rims alike.
        let outward = -along.left();
        let aside = along * 0.2;
        let profile = |k: i32| {
            let q = *p + outward * (fine * f64::from(k));
            (value(q) + value(q + aside) + value(q + (-aside))) / 3.0
        };
        let values: Vec<f64> = (-steps..=steps).map(profile).collect();
        let middle = |from: f64, to: f64| {
            let (from, to) = (
                (from * values.len() as f64) as usize,
                (to * values.len() as f64) as usize,
            );
            let mut part: Vec<f32> = values
                .get(from..to)
                .unwrap_or_default()
                .iter()
                .map(|v| *v as f32)
                .collect();
            f64::from(quantile(&mut part, 0.5))
        };
        let (inner, outer) = (middle(0.0, 0.2), middle(0.8, 1.0));
        let level = 0.5 * (inner + outer);
        let crossed = values
            .iter()
            .zip(values.iter().skip(1))
            .enumerate()
            .filter(|(_, (a, b))| (**a < level) != (**b < level));
        let place =
            crossed.map(|(k, (a, b))| fine * (k as f64 - f64::from(steps) + (level - a) / (b - a)));
        let nearest = place.min_by(|a, b| a.abs().total_cmp(&b.abs()));
        if let Some(d) = nearest.filter(|d| d.abs() < reach) {
            out.push(Rim {
                at: *p + outward * d,
                outward,
                step: libm::log((outer.max(0.0) + 0.012) / (inner.max(0.0) + 0.012)),
            });
        }
    }
    (out.len() * 2 > n).then_some(out)
}

/// How wide a part is that is nothing but a narrow band, mm: what would be left of a drawn line.
pub(super) fn is_thread(rims: &[Vec<Rim>]) -> Option<f64> {
    let path = |r: &Vec<Rim>| r.iter().map(|p| p.at).collect::<Vec<Point>>();
    let outer = area_of(&path(rims.first()?)).abs();
    let holes: f64 = rims.iter().skip(1).map(|r| area_of(&path(r)).abs()).sum();
    let round = STEP * rims.iter().map(Vec::len).sum::<usize>() as f64;
    let wide = 2.0 * (outer - holes) / round;
    (wide < THREAD && round > 40.0 * wide).then_some(wide)
}
