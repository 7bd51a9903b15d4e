//! Outlines of many edges or of narrow ones: what a reader of plain plates takes for the hand's own error.

use super::feature::{Feature, shaped};
use crate::rng::Rng;
use core::f64::consts::TAU;
use trued::{Path, Point};

/// One of them.
pub fn narrow(rng: &mut Rng) -> Option<Path> {
    let corners = match rng.below(8) {
        0 => slotted(rng, 2.0, 6.0),
        1 => slotted(rng, 6.0, 14.0),
        2 => tabbed(rng),
        3 => comb(rng),
        4 => gear(rng),
        5 => star(rng),
        6 => zigzag(rng),
        _ => broken_frame(rng),
    };
    let n = corners.len();
    shaped(&corners, &vec![Feature::Sharp; n], &vec![0.0; n])
}

fn points(list: &[(f64, f64)]) -> Vec<Point> {
    list.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

fn plate(rng: &mut Rng) -> (f64, f64) {
    (rng.range(110.0, 220.0), rng.range(80.0, 160.0))
}

/// A plate with one to three slots as wide as that in its upper side.
fn slotted(rng: &mut Rng, least: f64, most: f64) -> Vec<Point> {
    let (w, h) = plate(rng);
    let count = 1 + rng.below(3);
    let (wide, deep) = (rng.range(least, most), rng.range(15.0, 0.7 * h));
    let mut list = vec![(0.0, 0.0), (w, 0.0), (w, h)];
    for k in (0..count).rev() {
        let x = w * (k as f64 + rng.range(0.35, 0.65)) / count as f64;
        let (a, b) = (x - 0.5 * wide, x + 0.5 * wide);
        list.extend([(b, h), (b, h - deep), (a, h - deep), (a, h)]);
    }
    list.push((0.0, h));
    points(&list)
}

/// A plate with a narrow tab that stands out.
fn tabbed(rng: &mut Rng) -> Vec<Point> {
    let (w, h) = plate(rng);
    let (wide, out) = (rng.range(2.0, 10.0), rng.range(12.0, 60.0));
    let a = rng.range(0.15, 0.8) * w;
    let b = a + wide;
    points(&[
        (0.0, 0.0),
        (w, 0.0),
        (w, h),
        (b, h),
        (b, h + out),
        (a, h + out),
        (a, h),
        (0.0, h),
    ])
}

/// Three to eight teeth on a back.
fn comb(rng: &mut Rng) -> Vec<Point> {
    let count = 3 + rng.below(6);
    let (tooth, space) = (rng.range(8.0, 16.0), rng.range(8.0, 16.0));
    let top = 30.0 + rng.range(10.0, 50.0);
    let width = count as f64 * (tooth + space) - space;
    let mut list = vec![(0.0, 0.0), (width, 0.0)];
    for i in (0..count).rev() {
        let x = i as f64 * (tooth + space);
        list.extend([(x + tooth, top), (x, top)]);
        if i > 0 {
            list.extend([(x, 30.0), (x - space, 30.0)]);
        }
    }
    points(&list)
}

/// Corners round a centre, at parts of a turn and radii.
fn about(corners: impl Iterator<Item = (f64, f64)>) -> Vec<Point> {
    let at = |(share, r): (f64, f64)| {
        let (s, c) = libm::sincos(TAU * share);
        Point::new(r * c, r * s)
    };
    corners.map(at).collect()
}

/// Six to nineteen teeth round a disc.
fn gear(rng: &mut Rng) -> Vec<Point> {
    let count = 6 + rng.below(14);
    let (r, out) = (rng.range(40.0, 90.0), rng.range(6.0, 14.0));
    let tooth = [(0.0, r), (0.22, r + out), (0.45, r + out), (0.67, r)];
    let all = (0..count).flat_map(|i| tooth.map(|(f, r)| ((i as f64 + f) / count as f64, r)));
    about(all)
}

/// Four to eight points.
fn star(rng: &mut Rng) -> Vec<Point> {
    let count = 4 + rng.below(5);
    let (r, inner) = (rng.range(60.0, 100.0), rng.range(0.35, 0.75));
    let radius = |i: usize| if i.is_multiple_of(2) { r } else { inner * r };
    about((0..2 * count).map(|i| (0.5 * i as f64 / count as f64, radius(i))))
}

/// A plate whose upper side goes up and down.
fn zigzag(rng: &mut Rng) -> Vec<Point> {
    let (w, h) = plate(rng);
    let (teeth, high) = (3 + rng.below(5), rng.range(8.0, 20.0));
    let mut list = vec![(0.0, 0.0), (w, 0.0), (w, h)];
    for i in (1..2 * teeth).rev() {
        let up = if i.is_multiple_of(2) { 0.0 } else { high };
        list.push((w * i as f64 / (2 * teeth) as f64, h + up));
    }
    list.push((0.0, h));
    points(&list)
}

/// A frame cut through at one place.
fn broken_frame(rng: &mut Rng) -> Vec<Point> {
    let (w, h) = plate(rng);
    let (t, half) = (rng.range(8.0, 20.0), 0.5 * rng.range(4.0, 25.0));
    let x = w * rng.range(0.3, 0.7);
    let (a, b) = (x - half, x + half);
    points(&[
        (b, 0.0),
        (w, 0.0),
        (w, h),
        (0.0, h),
        (0.0, 0.0),
        (a, 0.0),
        (a, t),
        (t, t),
        (t, h - t),
        (w - t, h - t),
        (w - t, t),
        (b, t),
    ])
}
