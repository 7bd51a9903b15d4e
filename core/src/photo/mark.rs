//! One mark to a small part of a pixel: the rim of a dot, or the arms of a cross.
//!
//! A dot's rim is found on rays at half the step between ink and ground; a circle seen askew is an ellipse,
//! whose distance from a point near its middle is `r + a cos φ + b sin φ + c cos 2φ + d sin 2φ` to first
//! order: five numbers by least squares, far ones left out, begun again from the better middle. A cross is looked
//! at in its own file ([`super::cross`]).

use super::cross::cross;
use super::fits::least_squares;
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
    /// Two arms of a cross, as long as they are, pixels.
    pub arms: [Vec2; 2],
    /// How far the rim (or the arms) are off their form, pixels.
    pub rough: f64,
    /// How much it differs from its ground, in what the ground about it differs in itself.
    pub stands_out: f64,
    /// By how much it differs from its ground, in light.
    pub step: f64,
}

impl Seen {
    /// How plainly it is a mark, by itself.
    pub(super) fn plain(&self) -> f64 {
        libm::log(self.stands_out.max(0.1)) - 4.0 * self.rough / self.radius
    }
}

/// Rays about a dot.
const RAYS: usize = 48;
/// Least share of a disc that a dot fills, and the most that a cross does: between them both are tried.
const DOT_FILLS: f64 = 0.78;
const CROSS_FILLS: f64 = 0.86;
/// Least share of the places about a dot that must be ground.
const CLEAR: f64 = 0.72;
/// What the ground differs in at least, as a share of its light: noise and the file's own grain.
pub(super) const GRAIN: f32 = 0.015;

/// Looks at a spot in the full picture, `by` times as fine as where it was found.
pub(super) fn look(picture: &Picture, spot: &Spot, by: usize) -> Option<Seen> {
    let k = by as f64;
    let at = Point::new((spot.at.x + 0.5) * k - 0.5, (spot.at.y + 0.5) * k - 0.5);
    let radius = spot.radius * k;
    let dotted = (spot.solid > DOT_FILLS).then(|| dot(picture, at, radius, spot.dark));
    dotted.flatten().or_else(|| {
        (spot.solid < CROSS_FILLS).then(|| cross(picture, at, radius, spot.solid, spot.dark))?
    })
}

/// A dot near `at`.
fn dot(picture: &Picture, mut at: Point, mut radius: f64, dark: bool) -> Option<Seen> {
    let mut last = None;
    for _ in 0..4 {
        let rim = Rim::of(picture, at, radius, dark);
        let (form, rough) = five(&rim.places)?;
        let [r, a, b, c, d] = form;
        at = at + Vec2::new(a, b);
        radius = r;
        if !(r.is_finite() && r > 1.0 && Vec2::new(a, b).length() < r && rim.clear > CLEAR) {
            return None;
        }
        last = Some(Seen {
            at,
            kind: MarkKind::Dot,
            dark,
            radius,
            oval: Vec2::new(c, d),
            arms: [Vec2::new(0.0, 0.0); 2],
            rough,
            stands_out: rim.stands_out,
            step: rim.step,
        });
    }
    last.filter(|s| s.rough < 0.2 * s.radius + 0.5 && s.oval.length() < 0.6 * s.radius)
}

/// What is seen along rays from the middle of a dot.
struct Rim {
    /// Directions, and how far the rim is there.
    places: Vec<(f64, f64)>,
    /// Share of the places round about that are ground.
    clear: f64,
    stands_out: f64,
    step: f64,
}

impl Rim {
    fn of(picture: &Picture, at: Point, radius: f64, dark: bool) -> Self {
        let sign = if dark { 1.0 } else { -1.0 };
        let value = |p: Point| sign * picture.light(p);
        let mut core: Vec<f32> = (0..16)
            .map(|i| value(at + Vec2::from_angle(TAU * f64::from(i) / 16.0) * (0.35 * radius)))
            .collect();
        let core = quantile(&mut core, 0.5);
        let step = (radius / 24.0).max(0.25);
        let mut places = Vec::with_capacity(RAYS);
        let mut around: Vec<f32> = Vec::with_capacity(RAYS);
        for i in 0..RAYS {
            let angle = TAU * i as f64 / RAYS as f64;
            let ray = Vec2::from_angle(angle);
            let mut ground: Vec<f32> = (0..5)
                .map(|j| value(at + ray * (radius * (1.35 + 0.1 * f64::from(j)) + 1.0)))
                .collect();
            let ground = quantile(&mut ground, 0.5);
            around.push(ground);
            let level = 0.5 * (core + ground);
            let (mut r, mut before) = (0.35 * radius, core);
            while r < 1.9 * radius + 2.0 {
                let v = value(at + ray * r);
                if v >= level {
                    let back = f64::from((v - level) / (v - before).max(1e-6)).clamp(0.0, 1.0);
                    places.push((angle, r - step * back));
                    break;
                }
                before = v;
                r += step;
            }
        }
        let ground = quantile(&mut around, 0.5);
        let level = 0.5 * (core + ground);
        let clear = around.iter().filter(|v| **v > level).count() as f64 / RAYS as f64;
        Self {
            places,
            clear: if ground > core { clear } else { 0.0 },
            stands_out: stands_out(core, &mut around),
            step: f64::from(ground - core).max(1e-4),
        }
    }
}

/// How much a core differs from what is around it, in what that differs in itself.
fn stands_out(core: f32, around: &mut [f32]) -> f64 {
    let (low, middle, high) = (
        quantile(around, 0.25),
        quantile(around, 0.5),
        quantile(around, 0.75),
    );
    let own = 0.75 * (high - low) + GRAIN * middle.abs() + 1e-4;
    f64::from((middle - core) / own)
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
