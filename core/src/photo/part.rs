//! A part that lies on the plate or on paper: its silhouette and its holes.
//!
//! 1. The ground's tone is a smooth surface (light falls off, papers bow): a parabola over the frame, fitted to
//!    what is not the part in a few rounds, what is far from it left out more and more.
//! 2. What differs from it by more than half of what the part does is part; the largest piece is taken, with
//!    holes in which the ground shows.
//! 3. Its rim is measured square to itself where the light passes half-way between either side, to a small
//!    part of a pixel.
//! 4. A part has a thickness: what is seen of its upper rim lies farther from the point under the camera than
//!    it should, by thickness over height. Where the rim faces that point its lower edge is seen instead, in the
//!    plane of the frame, and stays.
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
/// Holes smaller than this are specks, mm².
const SPECK: f64 = 8.0;
/// Spacing of the rim's points, mm.
const STEP: f64 = 0.5;

/// The point under the camera, its height, and the part's thickness, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Above {
    pub foot: Point,
    pub height: f64,
    pub thickness: f64,
}

/// A place of a rim as it is seen in the plane of the frame, and the way out of the part there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rim {
    pub at: Point,
    pub outward: Vec2,
}

/// Finds the part in an area and measures its rims, the outer one first; closed runs, end on start.
pub(super) fn find(
    flat: &Flat,
    light: &Grid,
    area: Area,
    keep: &dyn Fn(Point) -> bool,
) -> Result<Vec<Vec<Rim>>, Refusal> {
    let (w, h) = flat.size();
    let by = (libm::sqrt(w as f64 * h as f64 / COARSE) as usize).max(1);
    let tones = light
        .reduced(by)
        .map(|v| libm::logf(v.max(0.0) + 0.012))
        .soft(0.8);
    let inside: Vec<bool> = (0..tones.values.len())
        .map(|i| {
            let p = flat.plate((i % tones.width) as f64, (i / tones.width) as f64, by);
            area.holds(p) && keep(p)
        })
        .collect();
    let none = || {
        Refusal::Trace("no part is seen that stands out from what it lies on: lay it on paper brighter or darker than itself, within the frame and clear of the marks".into())
    };
    let mut best: Option<(f64, Vec<bool>, f32)> = None;
    for dark in [true, false] {
        let differs = beside_ground(&tones, &inside, dark);
        if let Some(found) = largest(&differs, &inside, flat.step * by as f64)
            && best.as_ref().is_none_or(|b| found.0 > b.0)
        {
            best = Some(found);
        }
    }
    let (_, mask, _) = best.ok_or_else(none)?;
    let mut rims: Vec<(f64, Vec<Rim>)> = Vec::new();
    for rim in rims_of(&mask, tones.width) {
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
    match rims.is_empty() {
        true => Err(none()),
        false => Ok(rims.into_iter().map(|r| r.1).collect()),
    }
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

/// The largest piece that stands out and does not run out of the area: how plain it is, the piece, and by how
/// much it stands out.
fn largest(differs: &Grid, inside: &[bool], pixel: f64) -> Option<(f64, Vec<bool>, f32)> {
    let over = |level: f32| -> Vec<bool> {
        differs
            .values
            .iter()
            .zip(inside)
            .map(|(v, i)| *i && *v > level)
            .collect()
    };
    let first = over(LEAST);
    let pieces = Pieces::of(&first, differs.width);
    let edge = |i: &u32| {
        let i = *i as usize;
        [1, differs.width].iter().any(|d| {
            let beside = [i.checked_sub(*d), i.checked_add(*d)];
            beside
                .iter()
                .any(|j| j.is_none_or(|j| !inside.get(j).copied().unwrap_or(false)))
        })
    };
    // The ground round a part of the other tone stands out as well, but runs along the area's own rim.
    let inner =
        (0..inside.len() as u32).filter(|i| inside.get(*i as usize).copied().unwrap_or(false));
    let around = inner.filter(|i| edge(i)).count();
    let whole = |p: &&Vec<u32>| {
        let beside = p.iter().filter(|i| edge(i)).count();
        beside * 50 < p.len() && beside * 25 < around
    };
    let piece = pieces
        .pixels
        .iter()
        .skip(1)
        .filter(whole)
        .max_by_key(|p| p.len())?;
    let area = piece.len() as f64 * pixel * pixel;
    let mut values: Vec<f32> = piece
        .iter()
        .filter_map(|i| differs.values.get(*i as usize).copied())
        .collect();
    let typical = quantile(&mut values, 0.5);
    if area < 60.0 {
        return None;
    }
    // Anew at half of what this piece stands out by.
    let level = (0.5 * typical).max(0.5 * LEAST);
    let mask = over(level);
    let again = Pieces::of(&mask, differs.width);
    let start = piece.iter().max_by(|a, b| {
        let v = |i: &u32| differs.values.get(*i as usize).copied().unwrap_or(0.0);
        v(a).total_cmp(&v(b))
    })?;
    let mut out = vec![false; mask.len()];
    let number = again.of.get(*start as usize)?;
    for i in again.pixels.get(*number as usize)? {
        if let Some(o) = out.get_mut(*i as usize) {
            *o = true;
        }
    }
    Some((libm::sqrt(area) * f64::from(typical.min(1.5)), out, level))
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

/// A rim to a small part of a pixel, closed; `None` where it is no rim.
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
            });
        }
    }
    let first = *out.first()?;
    out.push(first);
    (out.len() * 2 > n).then_some(out)
}

impl Above {
    /// A place of the rim brought down to the plane of the frame.
    pub fn lowered(&self, Rim { at, outward }: Rim) -> Point {
        let from = at - self.foot;
        match from.dot(outward) > 0.0 {
            true => self.foot + from * ((self.height - self.thickness) / self.height),
            false => at,
        }
    }
}
