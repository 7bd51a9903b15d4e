//! One mark to a small part of a pixel: the rim of a dot, or the arms of a cross.
//!
//! A dot's rim is found on rays at half the step between ink and ground; a circle seen askew is an ellipse,
//! whose distance from a point near its middle is `r + a cos φ + b sin φ + c cos 2φ + d sin 2φ` to first
//! order: five numbers by least squares, far ones left out, begun again from the better middle. A cross's
//! arms are found on circles about it; the lines through opposite arms meet in the mark.

use super::fits::{least_squares, line};
use super::grid::quantile;
use super::picture::Picture;
use super::spots::Spot;
use crate::geom::{Point, Vec2};
use core::f64::consts::TAU;

/// What kind of mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkKind {
    /// A filled dot, a pit, a hole.
    Dot,
    /// Two strokes across one another.
    Cross,
}

/// A mark as it is seen.
#[derive(Clone, Copy, Debug)]
pub(super) struct Seen {
    pub at: Point,
    pub kind: MarkKind,
    pub dark: bool,
    /// Mean radius (of a cross, of its arms), pixels.
    pub radius: f64,
    /// The rim's second harmonic: how much longer than wide, and which way (twice the angle).
    pub oval: Vec2,
    /// How far the rim (or the arms) are off their form, pixels.
    pub rough: f64,
    /// As [`Spot::contrast`].
    pub contrast: f64,
}

/// Rays about a dot; circles about a cross are looked at in as many places.
const RAYS: usize = 48;
/// Least share of a disc that a dot fills, and the most that a cross does.
const DOT_FILLS: f64 = 0.80;
const CROSS_FILLS: f64 = 0.75;

/// Looks at a spot in the full picture, `by` times as fine as where it was found.
pub(super) fn look(picture: &Picture, spot: &Spot, by: usize) -> Option<Seen> {
    let k = by as f64;
    let at = Point::new((spot.at.x + 0.5) * k - 0.5, (spot.at.y + 0.5) * k - 0.5);
    let radius = spot.radius * k;
    if spot.solid > DOT_FILLS {
        return dot(picture, at, radius, spot);
    }
    (spot.solid < CROSS_FILLS).then(|| cross(picture, at, radius, spot))?
}

/// A dot near `at`.
fn dot(picture: &Picture, mut at: Point, mut radius: f64, spot: &Spot) -> Option<Seen> {
    let mut last = None;
    for _ in 0..4 {
        let rim = rim(picture, at, radius, spot.dark);
        let (form, rough) = five(&rim)?;
        let [r, a, b, c, d] = form;
        at = at + Vec2::new(a, b);
        radius = r;
        if !(r.is_finite() && r > 1.0 && Vec2::new(a, b).length() < r) {
            return None;
        }
        last = Some(Seen {
            at,
            kind: MarkKind::Dot,
            dark: spot.dark,
            radius,
            oval: Vec2::new(c, d),
            rough,
            contrast: spot.contrast,
        });
    }
    last.filter(|s| s.rough < 0.2 * s.radius + 0.5)
}

/// Distances of the rim from a middle, with their directions.
fn rim(picture: &Picture, at: Point, radius: f64, dark: bool) -> Vec<(f64, f64)> {
    let sign = if dark { 1.0 } else { -1.0 };
    let value = |p: Point| sign * picture.light(p);
    let mut core: Vec<f32> = (0..16)
        .map(|i| value(at + Vec2::from_angle(TAU * f64::from(i) / 16.0) * (0.35 * radius)))
        .collect();
    let core = quantile(&mut core, 0.5);
    let step = (radius / 24.0).max(0.25);
    let mut out = Vec::with_capacity(RAYS);
    for i in 0..RAYS {
        let angle = TAU * i as f64 / RAYS as f64;
        let ray = Vec2::from_angle(angle);
        let mut ground: Vec<f32> = (0..5)
            .map(|j| value(at + ray * (radius * (1.35 + 0.1 * f64::from(j)) + 1.0)))
            .collect();
        let level = 0.5 * (core + quantile(&mut ground, 0.5));
        let (mut r, mut before) = (0.35 * radius, core);
        while r < 1.9 * radius + 2.0 {
            let v = value(at + ray * r);
            if v >= level {
                let back = f64::from((v - level) / (v - before).max(1e-6)).clamp(0.0, 1.0);
                out.push((angle, r - step * back));
                break;
            }
            before = v;
            r += step;
        }
    }
    out
}

/// The five numbers of a rim and how far it is off them; far places are left out in two more rounds.
fn five(rim: &[(f64, f64)]) -> Option<([f64; 5], f64)> {
    let row = |angle: f64| {
        let (v, w) = (Vec2::from_angle(angle), Vec2::from_angle(2.0 * angle));
        [1.0, v.x, v.y, w.x, w.y]
    };
    let mut kept: Vec<(f64, f64)> = rim.to_vec();
    let mut out = None;
    for _ in 0..3 {
        if kept.len() < RAYS / 2 {
            return None;
        }
        let rows = kept.iter().map(|&(angle, r)| (row(angle), r));
        let form = least_squares(rows)?;
        let off = |&(angle, r): &(f64, f64)| {
            let fit: f64 = row(angle).iter().zip(&form).map(|(x, f)| x * f).sum();
            (r - fit).abs()
        };
        let mut offs: Vec<f32> = kept.iter().map(|k| off(k) as f32).collect();
        let typical = f64::from(quantile(&mut offs, 0.5)).max(0.02);
        out = Some((form, 1.5 * typical));
        kept = rim
            .iter()
            .copied()
            .filter(|k| off(k) < 4.0 * typical)
            .collect();
    }
    out
}

/// A cross near `at`.
fn cross(picture: &Picture, mut at: Point, radius: f64, spot: &Spot) -> Option<Seen> {
    let sign = if spot.dark { 1.0 } else { -1.0 };
    let mut last = None;
    for _ in 0..3 {
        let mut arms: [Vec<Point>; 4] = Default::default();
        let mut first: Option<f64> = None;
        for circle in 0..8 {
            let r = radius * (0.28 + 0.09 * f64::from(circle));
            let values: Vec<f32> = (0..4 * RAYS)
                .map(|i| {
                    sign * picture
                        .light(at + Vec2::from_angle(TAU * i as f64 / (4 * RAYS) as f64) * r)
                })
                .collect();
            let angles = dips(&values);
            let Ok(angles) = <[f64; 4]>::try_from(angles) else {
                continue;
            };
            let [one, ..] = angles;
            // The same arm comes first on every circle.
            let first = *first.get_or_insert(one);
            let off = |a: &f64| libm::remainder(a - first, TAU).abs();
            let nearest = angles
                .iter()
                .enumerate()
                .min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
            let start = nearest.map_or(0, |n| n.0);
            let turned = angles.iter().cycle().skip(start).take(4).copied();
            for (arm, angle) in arms.iter_mut().zip(turned) {
                arm.push(at + Vec2::from_angle(angle) * r);
            }
        }
        if arms.iter().any(|a| a.len() < 4) {
            return None;
        }
        let [a, b, c, d] = arms;
        let (one, two) = ([a, c].concat(), [b, d].concat());
        let ((p, u), (q, v)) = (line(&one)?, line(&two)?);
        let sine = u.cross(v);
        if sine.abs() < 0.4 {
            return None;
        }
        let off = |pts: &[Point], p: Point, u: Vec2| {
            pts.iter().map(|x| (*x - p).cross(u).abs()).sum::<f64>() / pts.len() as f64
        };
        let rough = off(&one, p, u).max(off(&two, q, v));
        at = p + u * ((q - p).cross(v) / sine);
        last = Some(Seen {
            at,
            kind: MarkKind::Cross,
            dark: spot.dark,
            radius,
            oval: Vec2::new(0.0, 0.0),
            rough,
            contrast: spot.contrast,
        });
    }
    last.filter(|s| s.rough < 0.08 * radius + 0.5)
}

/// Directions in which values about a circle dip to the lower half, each the middle of its dip.
fn dips(values: &[f32]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    let (low, high) = (quantile(&mut sorted, 0.03), quantile(&mut sorted, 0.6));
    let level = 0.5 * (low + high);
    let n = values.len();
    let under = |i: usize| values.get(i % n).is_some_and(|v| *v < level);
    let Some(start) = (0..n).find(|&i| !under(i)) else {
        return Vec::new();
    };
    let mut out: Vec<(f64, f64)> = Vec::new();
    let (mut weight, mut sum) = (0.0, 0.0);
    for i in start..=start + n {
        match values.get(i % n) {
            Some(v) if *v < level => {
                let w = f64::from(level - v);
                weight += w;
                sum += w * i as f64;
            }
            _ if weight > 0.0 => {
                out.push((TAU * (sum / weight) / n as f64, weight));
                (weight, sum) = (0.0, 0.0);
            }
            _ => {}
        }
    }
    // Specks of the ground dip little.
    let most = out.iter().map(|d| d.1).fold(0.0, f64::max);
    let deep = out.into_iter().filter(|d| d.1 > 0.3 * most);
    deep.map(|d| d.0).collect()
}
